"""The forms for a color that a customer wants."""

from django import forms

from inventory.forms_base import NumberField, PlainForm
from inventory.forms_files import PICTURES, UploadField
from production.models import Recipe
from shop.models import ColorRequest, Customer, Order

MOST_PK = 2**63 - 1


class _WishForm(PlainForm):
    note = forms.CharField(
        label="What is wanted",
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text="In the customer's words: like weak tea, with a little red in the sun.",
    )
    target = forms.RegexField(
        r"^#[0-9a-fA-F]{6}$",
        label="Target color",
        required=False,
        help_text="As # and six hex digits, such as #7a4b21.",
        error_messages={"invalid": "Write the color as # and six hex digits: #7a4b21."},
    )
    picture = UploadField(
        accept=PICTURES,
        required=False,
        help_text="JPEG, PNG or WebP. It is kept smaller, without the place and time it was taken.",
    )
    order = NumberField(
        label="For order",
        whole=True,
        at_least=1,
        at_most=MOST_PK,
        required=False,
        help_text="Its number, if it belongs to one.",
    )

    def wanted_by(self) -> Customer | None:
        return self.cleaned_data.get("customer")

    def clean(self) -> dict:
        typed = super().clean()
        number, customer = typed.get("order"), self.wanted_by()
        typed["found"] = None
        if number:
            order = Order.objects.filter(pk=number).select_related("customer").first()
            if order is None:
                self.add_error("order", f"There is no order {number}. Look at the list of orders.")
            elif customer and order.customer_id != customer.pk:
                self.add_error("order", f"Order {number} is {order.customer}'s. Mend the number.")
            typed["found"] = order
        return typed

    def facts(self) -> dict:
        typed = self.cleaned_data
        return {
            "note": typed["note"],
            "target": typed["target"].lower(),
            "picture": typed["picture"],
            "order": typed["found"],
        }


class NewWishForm(_WishForm):
    customer = forms.ModelChoiceField(Customer.objects.all(), empty_label="Choose…")
    field_order = ["customer", "note", "target", "picture", "order"]

    def facts(self) -> dict:
        return super().facts() | {"customer": self.cleaned_data["customer"]}


class WishForm(_WishForm):
    """A wish that is known: also the recipe tried for it, and how far it is."""

    trial = forms.ModelChoiceField(
        Recipe.objects.none(),
        label="Trial recipe",
        required=False,
        empty_label="none yet",
        help_text="The newest recipes come first.",
    )
    state = forms.ChoiceField(choices=ColorRequest.State.choices, widget=forms.RadioSelect)
    field_order = ["note", "target", "picture", "order", "trial", "state"]

    def __init__(self, *args, wish: ColorRequest, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.wish = wish
        self.fields["trial"].queryset = Recipe.objects.order_by("-pk")
        if wish.picture_id:
            self.fields["picture"].help_text += " A new one takes the place of the one above."

    def wanted_by(self) -> Customer:
        return self.wish.customer

    def facts(self) -> dict:
        typed = self.cleaned_data
        return super().facts() | {"trial": typed["trial"], "state": typed["state"]}
