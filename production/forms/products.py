"""The form of a product: what goes into one bag."""

from django import forms
from django.db.models import Q

from inventory import forms_base, units
from inventory.models import Item
from production import gtin
from production.forms import rows as lines
from production.forms.molds import PutAwayMixin
from production.models import Bait, Pattern, Product
from production.services import products

CONTENT_ROWS = 6
PACKAGING_ROWS = 4
CONTENT_ROWS_SHOWN = 2
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
    field_order = ["name", "price_minor", "barcode", "least_bags", "archived"]

    def clean_least_bags(self) -> int:
        return self.cleaned_data["least_bags"] or 0


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
        item, amount = self.cleaned_data.get("item"), self.cleaned_data.get("amount")
        if item and amount:
            try:
                self.cleaned_data["typed"] = forms_base.in_stock_unit(amount, item)
                self["amount"].help_text = f"Understood: {self.cleaned_data['typed']}."
            except units.UnitsError as error:
                self.add_error("amount", f"{item}: {error}")
        return self.cleaned_data

    def spec(self) -> tuple[Item, int]:
        return self.cleaned_data["item"], self.cleaned_data["typed"].millionths


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
                "amount": f"{forms_base.number_text(units.from_micro(line.quantity))} "
                f"{line.item.stock_unit}",
            }
            for line in packed
        ],
    )
