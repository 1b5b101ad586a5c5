"""The form in which an order is typed, pasted, repeated and changed."""

from collections.abc import Collection, Mapping
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.http import QueryDict
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format

from inventory.forms_base import DayField, MoneyField, NumberField, PlainForm
from inventory.templatetags.shelf import price
from production.models import Product
from shop import catalog, order_text
from shop.finding import MOST_OFFERED, Answer
from shop.models import Customer, Order
from shop.prices import Prices
from shop.services.orders import Wanted

MOST_LINES = order_text.MOST_LINES
#: Empty lines at the end of the form.
BLANK = 4
MOST_BAGS = 100_000
MOST_PASTED = 20_000
#: A due day further ahead is asked about.
FAR_DAYS = 731

#: With htmx the lines are shown again alone, and what fits is offered while one types.
AGAIN = {
    "hx-post": "",
    "hx-target": "#order-lines",
    "hx-select": "#order-lines",
    "hx-swap": "outerHTML",
}
OFFER = {
    "hx-trigger": "input changed delay:150ms",
    "hx-target": "next .picks-place",
    "hx-include": "[name='customer']",
    "hx-sync": "this:replace",
}

DISCOUNT = {"at_most": 100, "places": 2, "required": False}


class OrderForm(PlainForm):
    """Who orders, when and where to, and what comes off or on top."""

    customer = forms.ModelChoiceField(Customer.objects.all(), required=False, empty_label="Choose…")
    new_customer = forms.CharField(label="Or a new customer's name", required=False, max_length=120)
    due_on = DayField(label="Due", required=False)
    ship_to = forms.CharField(
        label="Ship to",
        required=False,
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Empty: the customer's own address.",
    )
    discount_percent = NumberField(label="Off the whole order (%)", **DISCOUNT)
    shipping_minor = MoneyField(label="Shipping charged", required=False)
    deposit = MoneyField(label="Deposit paid", required=False, help_text="Money already here.")
    notes = forms.CharField(
        required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 3})
    )

    def __init__(self, *args, order: Order | None = None, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.order = order
        # Another customer may pay other prices.
        self.fields["customer"].widget.attrs |= AGAIN | {
            "hx-trigger": "change",
            "hx-vals": '{"more": "1"}',
        }
        if order:
            del self.fields["deposit"]

    def clean(self) -> dict:
        typed = super().clean()
        new = typed.get("new_customer")
        if not new and not typed.get("customer") and "customer" not in self.errors:
            self.add_error("customer", "Choose a customer, or write a new one's name.")
        if new and typed.get("customer"):
            self.add_error(
                "new_customer", "Either a customer from the list or a new one, not both."
            )
        elif new and Customer.objects.filter(name__iexact=new).exists():
            self.add_error("new_customer", "This customer is in the list. Choose the name there.")
        self._look_at_day(typed.get("due_on"))
        return typed

    def _look_at_day(self, day) -> None:
        if not day or (self.order and self.order.due_on == day):
            return
        said, ahead = date_format(day, "j M Y"), (day - timezone.localdate()).days
        if ahead < 0:
            self._ask("late", f"{said} has passed. Mend the day, or tick the box if it is meant.")
        elif ahead > FAR_DAYS:
            self._ask(
                "late", f"{said} is years ahead. Mend the day, or tick the box if it is meant."
            )

    def _ask(self, name: str, text: str) -> None:
        self.fields[name] = forms.BooleanField(required=False, label="Yes, this day")
        if not self.data.get(name):
            self.add_error("due_on", text)

    def ask_again(self, twin: Order) -> None:
        """The same order was taken today already: is it meant?"""
        self.fields["really"] = forms.BooleanField(required=False, label="Yes, take it again")
        self.add_error(None, f"The same order was taken today: it is order {twin.pk}. Once more?")

    def facts(self) -> dict[str, Any]:
        """What the services take; call it once the form is clean."""
        typed = self.cleaned_data
        return {
            "customer": typed["customer"] or Customer(name=typed["new_customer"]),
            "due_on": typed["due_on"],
            "ship_to": typed["ship_to"],
            "discount_percent": typed["discount_percent"] or 0,
            "shipping_minor": typed["shipping_minor"] or 0,
            "notes": typed["notes"],
        }


class LineForm(PlainForm):
    """One line: a product in any words that mean just one, bags, and what a bag costs."""

    said = forms.CharField(required=False, max_length=300, widget=forms.HiddenInput)
    product = forms.CharField(
        required=False,
        max_length=200,
        widget=forms.TextInput(attrs={"list": "products", "autocomplete": "off"}),
    )
    bags = NumberField(whole=True, at_least=1, at_most=MOST_BAGS, required=False)
    price = MoneyField(label="Price a bag", required=False)
    discount = NumberField(label="Off (%)", **DISCOUNT)

    def __init__(
        self,
        *args,
        shelf: catalog.Shelf,
        prices: Prices,
        kept: Collection[int] = (),
        least: Mapping[int, int] | None = None,
        **kwargs,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.shelf, self.prices, self.kept, self.least = shelf, prices, kept, least or {}
        self.fields["product"].widget.attrs |= OFFER | {"hx-get": reverse("order_products")}

    def clean(self) -> dict:
        typed = super().clean()
        rest = [typed.get(name) for name in ("bags", "price", "discount")]
        if not typed.get("product"):
            if "product" not in self.errors and (rest != [None] * 3 or self._wrong()):
                self.add_error("product", "Which product?")
            return typed
        typed["found"] = self._found(typed["product"])
        # What is no product needs no number: it may be a greeting, to be emptied.
        open_name = "product" in self.errors and "choice" not in self.fields
        if typed.get("bags") is None and "bags" not in self.errors and not open_name:
            self.add_error("bags", "How many bags?")
        if typed["found"]:
            self._check(typed["found"], typed.get("bags"))
        return typed

    def _wrong(self) -> bool:
        return any(name in self.errors for name in ("bags", "price", "discount"))

    def _found(self, text: str) -> Product | None:
        answer = self.shelf.find(text)
        known = answer.found or self._chosen(answer)
        if known is None:
            return None
        self.data = self.data.copy()
        self.data[self.add_prefix("product")] = known.name
        return self.shelf.products[known.key]

    def _chosen(self, answer: Answer):
        if not answer.offered:
            self.add_error(
                "product",
                "No product fits this. Write words of its bait, color or pack, or empty the line.",
            )
            return None
        if len(answer.offered) > MOST_OFFERED:
            many = len(answer.offered)
            self.add_error("product", f"This fits {many} products. Write more words of its name.")
            return None
        chosen = self.data.get(self.add_prefix("choice"), "")
        if known := next((each for each in answer.offered if str(each.key) == chosen), None):
            return known
        self.fields["choice"] = forms.ChoiceField(
            label="Which one?",
            required=False,
            choices=[(each.key, each.name) for each in answer.offered],
            widget=forms.RadioSelect,
        )
        asked = "This fits several products." if answer.sure else "No product is named so."
        self.add_error("product", f"{asked} Choose one below, or write another name.")
        return None

    def _check(self, product: Product, bags: int | None) -> None:
        self.fields["price"].widget.attrs["placeholder"] = price(self.prices.of(product))
        if product.pk not in self.kept and (reason := catalog.retired(product)):
            self.add_error("product", reason)
        least = self.least.get(product.pk, 0)
        if bags is not None and bags < least:
            self.add_error("bags", f"{least} have left already: write {least} or more.")

    def wanted(self) -> Wanted | None:
        """What the line asks for; None while it is empty or something in it is open."""
        typed = getattr(self, "cleaned_data", {})
        if self.errors or not typed.get("found"):
            return None
        return Wanted(typed["found"], typed["bags"], typed["price"], typed["discount"] or 0)


class LinesBase(forms.BaseFormSet):
    #: Looked at while it is being typed: an empty order is no mistake yet.
    looking = False

    def clean(self) -> None:
        wanted = self.wanted()
        if not any(self.errors) and not wanted and not self.looking:
            raise ValidationError("Write at least one line: a product and how many bags.")
        self._ask_about(wanted)
        products = [line.product for line in wanted]
        twice = sorted({str(product) for product in products if products.count(product) > 1})
        if twice:
            raise ValidationError(f"One line for each product: {', '.join(twice)} stands twice.")
        missing = set(self.form_kwargs.get("least") or {}) - {p.pk for p in products}
        if missing and not any(self.errors) and not self.looking:
            names = [str(self.form_kwargs["shelf"].products[pk]) for pk in sorted(missing)]
            raise ValidationError(f"Bags have left for {', '.join(names)}: the line must stay.")

    def _ask_about(self, wanted: list[Wanted]) -> None:
        kept = self.form_kwargs.get("kept", ())
        doubts = catalog.doubts({n.product: n.bags for n in wanted if n.product.pk not in kept})
        for form in self.forms:
            line = form.wanted()
            if line and line.product in doubts:
                form.question(doubts[line.product], at="product")

    def wanted(self) -> list[Wanted]:
        """The lines that are filled and clear."""
        return [line for form in self.forms if (line := form.wanted())]


LinesFormSet = forms.formset_factory(
    LineForm,
    formset=LinesBase,
    extra=BLANK,
    max_num=MOST_LINES,
    validate_max=True,
    absolute_max=MOST_LINES,
)

PREFIX = "lines"
_NAMES = ("said", "product", "choice", "bags", "price", "discount", "really")


def lines_data(rows: list[dict[str, str]]) -> QueryDict:
    """The rows as the form would send them, with empty lines behind as far as there is room."""
    total = min(MOST_LINES, max(len(rows) + BLANK, 2 * BLANK))
    data = QueryDict(mutable=True)
    data.update({f"{PREFIX}-TOTAL_FORMS": str(total), f"{PREFIX}-INITIAL_FORMS": "0"})
    for number, row in enumerate(rows[:MOST_LINES]):
        data.update({f"{PREFIX}-{number}-{name}": text for name, text in row.items() if text})
    return data


def typed_rows(data: QueryDict) -> list[dict[str, str]]:
    """The lines that hold anything, as they were typed."""
    rows = [
        {name: data.get(f"{PREFIX}-{number}-{name}", "") for name in _NAMES}
        for number in range(MOST_LINES)
    ]
    # What was pasted is no line any more once its fields were emptied.
    return [
        row for row in rows if any(text.strip() for name, text in row.items() if name != "said")
    ]


def pasted_rows(text: str, shelf: catalog.Shelf, room: int) -> tuple[list[dict[str, str]], str]:
    """Rows for the lines of a pasted text, and what of it found no room."""
    lines = order_text.split(text)
    read = order_text.read("\n".join(lines[:room]), shelf.catalog)
    rows = [
        {
            "said": line.text[:300],
            "product": line.name[:200],
            "bags": "" if line.bags is None else str(line.bags),
            "price": "" if line.price_minor is None else price(line.price_minor),
        }
        for line in read
    ]
    return rows, "\n".join(lines[room:])
