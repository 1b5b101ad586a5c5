"""The form of a price list: per cent off, and a price of its own for any product."""

from django import forms
from django.forms import BoundField

from inventory.forms_base import MoneyField, NumberField, PlainForm
from inventory.templatetags.shelf import price
from production.models import Product
from shop import money
from shop.price_table import Group, Row


class PriceListForm(PlainForm):
    name = forms.CharField(max_length=60, help_text="Wholesale, stall, club …")
    percent_off = NumberField(
        label="Per cent off the products' own prices",
        at_most=100,
        places=2,
        help_text="0 if the list only names prices of its own.",
    )

    def __init__(self, *args, groups: list[Group], **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.groups = groups
        for row in self._rows():
            self.fields[_name(row.product)] = MoneyField(
                label=f"Own price of {row.product}", required=False
            )
            self.fields[_name(row.product)].widget.attrs.update(
                {"aria-label": f"Own price of {row.product}", "size": 7}
            )
            if row.own:
                self.initial[_name(row.product)] = row.price_minor

    def _rows(self) -> list[Row]:
        return [row for group in self.groups for row in group.rows]

    def head(self) -> list[BoundField]:
        return [self["name"], self["percent_off"]]

    def by_bait(self) -> list[tuple[str, list[tuple[Row, BoundField, str]]]]:
        """Each bait with its rows, their fields, and what the per cent off makes of the product's price."""
        typed = getattr(self, "cleaned_data", {}).get("percent_off")
        percent = self.initial.get("percent_off", 0) if typed is None else typed
        return [
            (
                group.name,
                [
                    (
                        row,
                        self[_name(row.product)],
                        price(money.less(row.product.price_minor, percent)),
                    )
                    for row in group.rows
                ],
            )
            for group in self.groups
        ]

    def own(self) -> dict[Product, int | None]:
        return {row.product: self.cleaned_data[_name(row.product)] for row in self._rows()}


def _name(product: Product) -> str:
    return f"own-{product.pk}"
