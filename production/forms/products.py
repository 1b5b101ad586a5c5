"""The form of a product: what goes into one bag."""

from decimal import Decimal

from django import forms
from django.db.models import Q

from inventory import forms_base, units
from inventory.models import Item
from production import gtin
from production.forms import rows as lines
from production.forms.measures import FrontField
from production.forms.molds import PutAwayMixin
from production.models import Bait, Pattern, Product
from production.services import products

CONTENT_ROWS = 6
PACKAGING_ROWS = 4
STEP_ROWS = 5
CONTENT_ROWS_SHOWN = 2
STEP_ROWS_SHOWN = 1
PACKAGING_ROWS_SHOWN = 2


class BarcodeField(forms.CharField):
    """A GTIN-8, -12, -13 or -14 → its digits; a wrong check digit is named with the right one."""

    def clean(self, value):
        text = super().clean(value)
        if not text:
            return ""
        try:
            return gtin.validate(text)
        except gtin.GtinError as error:
            raise forms.ValidationError(str(error)) from error


class ProductForm(PutAwayMixin, forms_base.PlainForm):
    name = forms.CharField(
        max_length=120, help_text="As on the label, with length and count if you like."
    )
    price_minor = forms_base.MoneyField(label="Price of one bag")
    barcode = BarcodeField(
        label="Barcode number",
        required=False,
        max_length=30,
        help_text="8, 12, 13 or 14 digits, from your own GS1 certificate. Leave empty if you have none.",
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
    )
    least_bags = forms_base.NumberField(
        label="Bags that should stand ready",
        whole=True,
        at_most=1000,
        required=False,
        help_text="With fewer, it is offered when you plan an evening. Empty: never.",
    )
    second = forms.BooleanField(
        required=False,
        label="Filled from seconds",
        help_text="Baits that are not quite right, in bags of their own at their own price.",
    )
    identity = forms.CharField(
        label="What it is",
        required=False,
        max_length=80,
        help_text="In a shopper's words: soft plastic fishing baits.",
    )
    origin = forms.CharField(
        label="Country of origin",
        required=False,
        max_length=60,
        help_text="As it should be printed: Made in the USA. Such claims have rules of their own.",
    )
    child_directed = forms.BooleanField(
        required=False,
        label="Made or sold for children",
        help_text="Such goods fall under strict rules of their own. Ask before you sell them.",
    )
    warning = forms.CharField(
        required=False,
        max_length=600,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Your own wording, from your own advice. Nothing is printed unless you write it.",
    )
    warning_on = forms_base.DayField(
        label="Wording of",
        required=False,
        help_text="The day on which you checked these words.",
    )
    field_order = ["name", "price_minor", "barcode", "least_bags", "archived"]
    front_w_mm = FrontField(
        label="Width of its front",
        required=False,
        help_text="The bag's, or its header card's: 4 in, 100 mm. It says how large the count must be.",
    )
    front_h_mm = FrontField(label="Height of its front", required=False)
    WORDS = (
        "identity",
        "origin",
        "child_directed",
        "warning",
        "warning_on",
        "front_w_mm",
        "front_h_mm",
    )

    def __init__(self, data=None, *args, **kwargs) -> None:
        # The whole number was offered beside the field, and ticked.
        if data and (whole := data.get("barcode_whole")):
            data = data.copy()
            data["barcode"] = whole
        super().__init__(data, *args, **kwargs)

    @property
    def barcode_whole(self) -> str | None:
        """What the number typed would be with its check digit, where that is all it lacks."""
        refused = self.is_bound and "barcode" in self.errors
        return gtin.completed(str(self.data.get("barcode", ""))) if refused else None

    def clean_least_bags(self) -> int:
        return self.cleaned_data["least_bags"] or 0

    def facts(self) -> dict[str, object]:
        """What `services.products` takes, its words put together."""
        typed = dict(self.cleaned_data)
        words = {name: typed.pop(name) for name in self.WORDS}
        return {**typed, "words": products.Words(**words)}


class ContentForm(lines.RowForm):
    bait = lines.PickField()
    pattern = lines.PickField(label="Color")
    count = forms_base.NumberField(label="Baits", at_least=1, at_most=1000, whole=True)

    def __init__(self, *args, baits: lines.Offer, patterns: lines.Offer, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.fields["bait"].offer(baits)
        self.fields["pattern"].offer(patterns)

    def spec(self) -> tuple[Bait, Pattern, int]:
        facts = self.cleaned_data
        return facts["bait"], facts["pattern"], facts["count"]


class PackagingForm(lines.RowForm):
    item = lines.PickField()
    amount = forms_base.AmountField(label="For one bag")

    def __init__(self, *args, offer: lines.Offer, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.fields["item"].offer(offer)
        self.fields["amount"].widget.attrs["placeholder"] = "1, 8 drops"

    def clean(self):
        understand(self)
        return self.cleaned_data

    def spec(self) -> tuple[Item, int]:
        return self.cleaned_data["item"], self.cleaned_data["typed"].millionths


class StepForm(lines.RowForm):
    """One step of finishing; what it uses up may be nothing."""

    name = forms.CharField(label="What is done", max_length=60)
    minutes = forms_base.NumberField(label="Minutes a bag", required=False, at_most=1440, places=2)
    item = lines.PickField(label="Uses up", required=False)
    amount = forms_base.AmountField(label="For one bag", required=False)

    def __init__(self, *args, offer: lines.Offer, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.fields["item"].offer(offer)
        self.fields["name"].widget.attrs["placeholder"] = "glue on eyes"
        self.fields["amount"].widget.attrs["placeholder"] = "16, 5 drops"

    def clean(self):
        item, amount = self.cleaned_data.get("item"), self.cleaned_data.get("amount")
        if item and not amount and "amount" not in self.errors:
            self.add_error("amount", f"How much {item} does one bag take?")
        if amount and not item:
            self.add_error("item", "Which item is used up?")
        understand(self)
        return self.cleaned_data

    def spec(self) -> products.Step:
        facts = self.cleaned_data
        typed = facts.get("typed")
        return products.Step(
            name=facts["name"],
            minutes=facts["minutes"] or Decimal(0),
            item=facts["item"],
            quantity=typed.millionths if typed else 0,
        )


def understand(row: lines.RowForm) -> None:
    """Reads a line's amount in its item's unit, as `typed`; what can't be read is said at the amount."""
    item, amount = row.cleaned_data.get("item"), row.cleaned_data.get("amount")
    if not item or not amount:
        return
    try:
        row.cleaned_data["typed"] = forms_base.in_stock_unit(amount, item)
        row["amount"].help_text = f"Understood: {row.cleaned_data['typed']}."
    except units.UnitsError as error:
        row.add_error("amount", f"{item}: {error}")


def step_rows(data, product: Product | None = None) -> lines.Rows:
    """The lines of finishing, filled with those of `product`."""
    steps = list(product.finishing.select_related("item")) if product else []
    items = Item.objects.filter(
        Q(archived=False) | Q(pk__in=[step.item_id for step in steps if step.item_id]),
        kind__in=[*products.PACKED, Item.Kind.COLORANT, Item.Kind.FLAKE, Item.Kind.PLASTISOL],
    )
    return lines.Rows(
        StepForm,
        data,
        prefix="step",
        count=STEP_ROWS,
        shown=STEP_ROWS_SHOWN,
        offer=lines.Offer(lines.by_kind(items), empty="nothing"),
        initial=[
            {
                "name": step.name,
                "minutes": forms_base.number_text(step.minutes) if step.minutes else "",
                "item": str(step.item_id or ""),
                "amount": _amount_text(step.quantity, step.item) if step.item else "",
            }
            for step in steps
        ],
    )


def _amount_text(quantity: int, item: Item) -> str:
    return f"{forms_base.number_text(units.from_micro(quantity))} {item.stock_unit}"


def content_rows(data, product: Product | None = None) -> lines.Rows:
    """The lines of baits, filled with those of `product`."""
    contents = list(product.contents.all()) if product else []
    baits = Bait.objects.filter(
        Q(archived=False) | Q(pk__in=[content.bait_id for content in contents])
    )
    patterns = Pattern.objects.filter(
        Q(archived=False) | Q(pk__in=[content.pattern_id for content in contents])
    )
    return lines.Rows(
        ContentForm,
        data,
        prefix="content",
        count=CONTENT_ROWS,
        shown=CONTENT_ROWS_SHOWN,
        baits=lines.Offer({"": list(baits)}),
        patterns=lines.Offer({"": list(patterns)}),
        initial=[
            {"bait": str(line.bait_id), "pattern": str(line.pattern_id), "count": line.count}
            for line in contents
        ],
    )


def packaging_rows(data, product: Product | None = None) -> lines.Rows:
    """The lines of packaging, filled with those of `product`."""
    packed = list(product.packaging.select_related("item")) if product else []
    items = Item.objects.filter(
        Q(archived=False) | Q(pk__in=[line.item_id for line in packed]), kind__in=products.PACKED
    )
    return lines.Rows(
        PackagingForm,
        data,
        prefix="packaging",
        count=PACKAGING_ROWS,
        shown=PACKAGING_ROWS_SHOWN,
        offer=lines.Offer(lines.by_kind(items)),
        initial=[
            {
                "item": str(line.item_id),
                "amount": _amount_text(line.quantity, line.item),
            }
            for line in packed
        ],
    )
