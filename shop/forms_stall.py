"""Forms for selling without an order: a stall's day, its count and its cash, and consignment."""

from collections.abc import Iterable
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from inventory import at_place, forms_moving
from inventory.forms_base import MoneyField, NumberField, PlainForm, PostingForm
from inventory.models import Place
from production.models import Product
from shop import money, stall
from shop.models import Consignee, Customer, PriceList, Sale, StallDay
from shop.services import selling
from shop.services.selling import LOST, SOLD

MOST_BAGS = 10_000
HOW = [(Sale.How.CASH, "cash"), (Sale.How.CARD, "card or transfer")]
SELL, UNDO = "sell", "undo"


class StartForm(PlainForm):
    """A new day at a stall that is known, or at one that is named here."""

    place = forms.ModelChoiceField(
        Place.objects.filter(kind=Place.Kind.STALL), label="Stall", required=False
    )
    new_place = forms.CharField(
        label="Or a new stall", max_length=80, required=False, help_text="Harbor market, club swap."
    )
    cash = MoneyField(label="Cash to begin with", help_text="The change in the box. 0 for none.")
    price_list = forms.ModelChoiceField(
        PriceList.objects.all(),
        label="Prices",
        required=False,
        empty_label="the products' own prices",
    )

    def __init__(self, *args, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        if not self.fields["place"].queryset.exists():
            del self.fields["place"]
            self.fields["new_place"].label = "Name of the stall"
            self.fields["new_place"].required = True
        else:
            self.fields["place"].empty_label = "a new one, named below"
            if last := StallDay.objects.first():
                self.initial.setdefault("place", last.place_id)
        if not self.fields["price_list"].queryset.exists():
            del self.fields["price_list"]

    def clean_new_place(self) -> str:
        name = self.cleaned_data["new_place"].strip()
        if Place.objects.filter(name=name).exists():
            raise ValidationError("There is a place of that name. Choose it, or name another.")
        return name

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if data.get("new_place"):
            data["place"] = None
        if not self.errors and not data.get("place") and not data.get("new_place"):
            self.add_error("new_place", "Choose a stall, or name a new one.")
        return data


class PressForm(PostingForm):
    """One tap: a bag sold, or the last tap taken back."""

    do = forms.ChoiceField(choices=[(SELL, SELL), (UNDO, UNDO)])
    product = forms.ModelChoiceField(
        Product.objects.select_related("item"), required=False, label="Product"
    )
    how = forms.ChoiceField(choices=HOW, required=False)
    sale = forms.ModelChoiceField(Sale.objects.none(), required=False)

    def __init__(self, *args, day: StallDay, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.fields["sale"].queryset = Sale.objects.filter(day=day).select_related("entry")

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        wanted = "product" if data.get("do") == SELL else "sale"
        if not self.errors and not data.get(wanted):
            raise ValidationError("This tap says nothing. Load the page again.")
        return data


class SeveralForm(PostingForm):
    """Several bags at once, or at another price: one sale."""

    how = forms.ChoiceField(
        label="Paid by", choices=HOW, initial=HOW[0][0], widget=forms.RadioSelect
    )
    other = forms.ModelChoiceField(
        Product.objects.none(), label="Another product", required=False, empty_label="none"
    )
    other_bags = NumberField(
        label="Bags of it", whole=True, at_least=1, at_most=MOST_BAGS, required=False
    )
    other_price = MoneyField(label="Price a bag", required=False, help_text="Empty: the stall's.")

    def __init__(self, *args, rows: list[stall.Row], others: Iterable[Product], price, **kwargs):
        super().__init__(*args, **kwargs)
        self.listed, self.price = rows, price
        self.fields["other"].queryset = others
        for row in rows:
            self.fields[f"bags-{row.product.pk}"] = NumberField(
                label=f"Bags of {row.product}",
                whole=True,
                at_least=1,
                at_most=MOST_BAGS,
                required=False,
            )
            self.fields[f"price-{row.product.pk}"] = MoneyField(
                label=f"Price of a bag of {row.product}", required=False
            )

    @property
    def rows(self) -> list[tuple[stall.Row, forms.BoundField, forms.BoundField]]:
        return [
            (row, self[f"bags-{row.product.pk}"], self[f"price-{row.product.pk}"])
            for row in self.listed
        ]

    @property
    def rest(self) -> list[forms.BoundField]:
        return [self[name] for name in ("other", "other_bags", "other_price", "how")]

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        self.lines: list[selling.Sold] = []
        for row in self.listed:
            self._add(row.product, f"bags-{row.product.pk}", f"price-{row.product.pk}")
        if data.get("other"):
            if data.get("other_bags") is None and "other_bags" not in self.errors:
                self.add_error("other_bags", "How many bags of it?")
            self._add(data["other"], "other_bags", "other_price")
        if not self.errors and not self.lines:
            raise ValidationError("Nothing was chosen. Write how many bags of what.")
        return data

    def _add(self, product: Product, bags: str, price: str) -> None:
        data = self.cleaned_data
        if data.get(bags):
            paid = data.get(price)
            paid = self.price(product) if paid is None else paid
            self.lines.append(selling.Sold(product, data[bags], paid))
        elif data.get(price) is not None and bags not in self.errors:
            self.add_error(bags, "A price without bags: how many were sold?")


class CountRow:
    """One product of a count: what the books expect, what was typed, and what became of the rest."""

    def __init__(self, form: "CountForm", row: stall.Row) -> None:
        self.row, self.product = row, row.product
        pk = row.product.pk
        self.left, self.books, self.fate = (
            form[f"left-{pk}"],
            form[f"books-{pk}"],
            form[f"fate-{pk}"],
        )
        typed = getattr(form, "cleaned_data", {}).get(f"left-{pk}")
        self.missing = max(0, row.left - typed) if typed is not None else 0


class CountForm(PostingForm):
    """What is left of each product; empty lines were not counted.

    `asks`: whether it asks what became of what is missing; otherwise it was sold."""

    def __init__(self, *args, rows: list[stall.Row], asks: bool, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.listed, self.asks = rows, asks
        for row in rows:
            pk = row.product.pk
            self.fields[f"left-{pk}"] = NumberField(
                label=f"{row.product}", whole=True, at_most=MOST_BAGS, required=False
            )
            self.fields[f"books-{pk}"] = forms.IntegerField(
                widget=forms.HiddenInput, required=False, min_value=0
            )
            self.initial[f"books-{pk}"] = row.left
            self.fields[f"fate-{pk}"] = forms.ChoiceField(
                label=f"What became of the missing {row.product}",
                choices=[(SOLD, "sold"), (LOST, "lost")],
                widget=forms.RadioSelect,
                required=False,
            )

    @property
    def rows(self) -> list[CountRow]:
        return [CountRow(self, row) for row in self.listed]

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        self.counted: list[selling.Left] = []
        more = []
        for row in self.listed:
            pk = row.product.pk
            left = data.get(f"left-{pk}")
            if left is None:
                continue
            if data.get(f"books-{pk}") != row.left:
                self._show_books(row)
                self.add_error(
                    f"left-{pk}",
                    f"The books say {row.left} now: someone sold or moved some. Look again.",
                )
                continue
            fate = data.get(f"fate-{pk}") or ("" if self.asks else SOLD)
            if left < row.left and not fate:
                self.add_error(f"fate-{pk}", f"{row.left - left} missing: sold, or lost?")
            if left > row.left:
                more.append(f"{row.product}: {left} counted, {row.left} by the books.")
            self.counted.append(
                selling.Left(row.product, row.left, left, row.price_minor, fate or SOLD)
            )
        if not self.errors and not self.counted:
            raise ValidationError("Nothing was counted. Write what is left, 0 for none.")
        if not self.errors and more and self.asks:
            self.question(f"{' '.join(more)} Book it as counted?")
        self.more = more
        return data

    def _show_books(self, row: stall.Row) -> None:
        self.data = self.data.copy()
        self.data[self.add_prefix(f"books-{row.product.pk}")] = row.left

    @property
    def sold(self) -> list[selling.Left]:
        return [one for one in self.counted if one.left < one.books and one.fate == SOLD]


class SettleForm(CountForm):
    """A consignee's count: what is missing was sold, and the sums are looked at before they are posted."""

    def __init__(self, *args, consignee: Consignee, **kwargs) -> None:
        super().__init__(*args, asks=False, **kwargs)
        self.consignee = consignee

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if self.errors:
            return data
        bags = sum(one.books - one.left for one in self.sold)
        total = sum((one.books - one.left) * one.price_minor for one in self.sold)
        kept = money.share(total, self.consignee.commission_percent)
        told = f"{bags} bag{'' if bags == 1 else 's'} sold for {_cents(total)}"
        if not bags:
            told = "Nothing was sold"
        elif kept:
            told += (
                f"; {self.consignee.customer} keeps {_cents(kept)}, {_cents(total - kept)} is due"
            )
        self.question(f"{' '.join([*self.more, told])}. Is that right?")
        return data


def _cents(minor: int) -> str:
    return f"{minor // 100:,}.{minor % 100:02d}"


class BringForm(forms_moving.HeapsForm):
    """What comes home again, and where to."""

    place = forms_moving.PlaceField(
        Place.objects.exclude(kind__in=Place.AWAY),
        label="To",
        required=False,
        empty_label="home, no place named",
    )

    def __init__(self, *args, heaps: list[at_place.Heap], **kwargs) -> None:
        super().__init__(*args, heaps=heaps, **kwargs)
        self.take_all()


class CloseForm(PlainForm):
    """The cash in the box at the end."""

    counted = MoneyField(label="Cash counted in the box")
    note = forms.CharField(
        max_length=1000, required=False, widget=forms.Textarea(attrs={"rows": 3})
    )

    def __init__(self, *args, cash: stall.Cash, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.cash = cash

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if data.get("counted") is None:
            return data
        off = data["counted"] - self.cash.expected_minor
        if off:
            self.question(
                f"The box should hold {_cents(self.cash.expected_minor)}: "
                f"{_cents(abs(off))} {'too much' if off > 0 else 'is missing'}. "
                "Close the day with that?",
                at="counted",
            )
        return data


class ConsigneeForm(PlainForm):
    """Who sells for us, where, and what they keep."""

    customer = forms.ModelChoiceField(
        Customer.objects.all(), required=False, empty_label="a new customer"
    )
    new_customer = forms.CharField(label="Or a new customer", max_length=120, required=False)
    place_name = forms.CharField(
        label="Place", max_length=80, help_text="Where the bags hang: the shop's name will do."
    )
    commission = NumberField(
        label="Keeps of each sale (%)", at_most=100, places=2, help_text="30 for thirty per cent."
    )
    price_list = forms.ModelChoiceField(
        PriceList.objects.all(),
        label="Sells at",
        required=False,
        empty_label="the products' own prices",
    )

    def __init__(self, *args, consignee: Consignee | None = None, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.consignee = consignee
        if consignee:
            del self.fields["new_customer"]
            self.fields["customer"].required = True
            self.fields["customer"].empty_label = None

    def clean_place_name(self) -> str:
        name = self.cleaned_data["place_name"].strip()
        own = self.consignee.place_id if self.consignee else None
        if Place.objects.filter(name=name).exclude(pk=own).exists():
            raise ValidationError("There is a place of that name already. Name it differently.")
        return name

    def clean_new_customer(self) -> str:
        name = self.cleaned_data["new_customer"].strip()
        if name and Customer.objects.filter(name=name).exists():
            raise ValidationError("There is a customer of that name. Choose them from the list.")
        return name

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if self.errors or self.consignee:
            return data
        if data["customer"] and data["new_customer"]:
            self.add_error("new_customer", "Choose a customer or name a new one, not both.")
        elif not data["customer"] and not data["new_customer"]:
            self.add_error("customer", "Choose a customer, or name a new one.")
        return data

    def facts(self) -> dict[str, Any]:
        data = self.cleaned_data
        return {
            "customer": data["customer"] or Customer(name=data["new_customer"]),
            "place_name": data["place_name"],
            "commission_percent": data["commission"],
            "price_list": data["price_list"],
        }
