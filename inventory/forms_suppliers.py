"""Forms for who sells what."""

from typing import Any

from django import forms

from inventory import forms_base as base
from inventory import price_breaks
from inventory.models import Item, Supplier

PACK_FACTS = ("supplier", "name", "quantity", "price_minor", "breaks", "least")


class SupplierForm(base.PlainForm):
    name = forms.CharField(max_length=120)
    email = forms.EmailField(required=False)
    phone = forms.CharField(max_length=40, required=False)
    lead_time_days = base.NumberField(
        label="Days until it comes", whole=True, at_most=365, initial=7
    )
    order_minimum_minor = base.MoneyField(
        label="Least order", required=False, help_text="Money: 50 or 50.00. Empty: none."
    )
    shipping_minor = base.MoneyField(
        label="Shipping", required=False, help_text="For one order. Empty: none or not known."
    )
    free_shipping_minor = base.MoneyField(
        label="Ships free from",
        required=False,
        help_text="Goods for this sum ship free. Empty: never.",
    )
    notes = forms.CharField(widget=forms.Textarea(attrs={"rows": 3}), required=False)

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if data.get("free_shipping_minor") and not (data.get("shipping_minor") or self.errors):
            self.add_error("shipping_minor", "What does shipping cost below that sum?")
        return data

    def facts(self) -> dict[str, Any]:
        facts = dict(self.cleaned_data)
        for name in ("order_minimum_minor", "shipping_minor", "free_shipping_minor"):
            facts[name] = facts[name] or 0
        return facts


class PackForm(base.PlainForm):
    supplier = forms.ModelChoiceField(Supplier.objects.none(), empty_label="choose")
    name = forms.CharField(max_length=60, help_text="As you would order it: 4 fl oz bottle.")
    quantity = base.AmountField(label="Holds")
    price_minor = base.MoneyField(label="Price of one")
    breaks = forms.CharField(
        label="Cheaper from",
        max_length=200,
        required=False,
        help_text=f"Price breaks, as packs and the price of each: {price_breaks.EXAMPLE}.",
    )
    least = base.NumberField(
        label="Fewest at once",
        whole=True,
        at_least=1,
        at_most=price_breaks.MOST_PACKS,
        initial=1,
        required=False,
        help_text="Where the supplier sells no single ones. Empty: 1.",
    )

    def __init__(self, *args, item: Item, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.fields["supplier"].queryset = Supplier.objects.all()
        self.fields["quantity"].item = item
        self.fields["quantity"].help_text = f"In {item.stock_unit} or a unit that turns into it."

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        try:
            data["breaks"] = price_breaks.parse(
                data.get("breaks") or "", price_minor=data.get("price_minor")
            )
        except price_breaks.PriceBreakError as error:
            self.add_error("breaks", str(error))
        if data.get("price_minor") == 0 and not self.errors:
            self.question(
                "Nothing to pay? A free pack is always the cheapest, so the list would take no other.",
                at="price_minor",
            )
        return data

    def facts(self) -> dict[str, Any]:
        facts = {name: self.cleaned_data[name] for name in PACK_FACTS}
        facts["least"] = facts["least"] or 1
        return {**facts, "quantity": self.cleaned_data["quantity"].millionths}
