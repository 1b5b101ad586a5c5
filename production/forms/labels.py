"""Printing bag labels. Sent with GET: printing changes nothing."""

from django import forms

from inventory import forms_base, units
from inventory.models import Lot
from production import label_stock

MOST_LABELS = 1000


class LabelsForm(forms_base.PlainForm):
    """Which bag lots, how many labels of each, on which sheet, from which place."""

    lot = forms.TypedMultipleChoiceField(
        label="Bags", widget=forms.CheckboxSelectMultiple, required=True
    )
    number = forms_base.NumberField(
        label="Labels of each",
        whole=True,
        at_least=1,
        at_most=MOST_LABELS,
        required=False,
        help_text="Empty: one for every bag on hand.",
    )
    stock = forms.ChoiceField(
        label="Label sheet",
        choices=[(key, stock.name) for key, stock in label_stock.STOCKS.items()],
    )
    start = forms_base.NumberField(
        label="First free place on the sheet", whole=True, at_least=1, at_most=200, initial=1
    )

    def __init__(self, *args, lots: list[Lot], metric: bool = False, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        kept = {str(lot.pk): lot for lot in lots}
        self.fields["lot"].choices = [(pk, _text(lot)) for pk, lot in kept.items()]
        self.fields["lot"].coerce = kept.__getitem__
        self.initial.setdefault("stock", "a4-3x7" if metric else "letter-2x7")

    def wanted(self) -> list[tuple[Lot, int]]:
        """Each chosen lot with its number of labels."""
        number = self.cleaned_data["number"]
        return [(lot, number or bags_on_hand(lot)) for lot in self.cleaned_data["lot"]]

    def clean(self) -> dict:
        cleaned = super().clean()
        if not self.errors and sum(count for _lot, count in self.wanted()) > MOST_LABELS:
            self.add_error("number", f"At most {MOST_LABELS} labels can be printed at once.")
        return cleaned


def bags_on_hand(lot: Lot) -> int:
    return lot.on_hand // units.MICRO


def _text(lot: Lot) -> str:
    count = bags_on_hand(lot)
    return f"{lot.item.name} · {lot.number} · {count} bag" + "s" * (count != 1)
