"""The form that measures a drop."""

from typing import Any

from django import forms

from inventory import drops, units
from inventory import forms_base as base
from inventory.models import Item

LEAST = units.from_micro(1)
WAYS = [
    ("weigh", "weigh a number of drops"),
    ("count", "count drops into so many mL"),
]


class DropSizeForm(base.PlainForm):
    """Once valid, `ml_per_drop` is the size found and `lot` the bottle it belongs to, if one."""

    way = forms.ChoiceField(label="How", choices=WAYS, initial="weigh")
    drops = base.NumberField(
        label="Drops",
        whole=True,
        at_least=1,
        at_most=10_000,
        initial=str(drops.USUAL_COUNT),
        help_text="Fifty make the scale's step small. Hold the bottle the same way throughout.",
    )
    grams = base.NumberField(
        label="They weigh (g)",
        at_least=LEAST,
        at_most=10_000,
        required=False,
        help_text="When you weigh. The cup's own weight taken off.",
    )
    ml = base.NumberField(
        label="They fill (mL)",
        at_least=LEAST,
        at_most=10_000,
        required=False,
        help_text="When you count drops into a syringe or cylinder.",
    )
    keep_on = forms.ChoiceField(label="Keep it on")

    def __init__(self, *args, item: Item, lots: list, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.item, self.lots = item, {str(lot.pk): lot for lot in lots}
        one = [(pk, f"only lot {lot.number}") for pk, lot in self.lots.items()]
        self.fields["keep_on"].choices = [("", f"{item.name}, every bottle"), *one]
        self.fields["keep_on"].required = False

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if self.errors:
            return data
        self.lot = self.lots.get(data["keep_on"])
        field = "grams" if data["way"] == "weigh" else "ml"
        trouble = self._trouble(field, data)
        if trouble:
            self.add_error(field, trouble)
            return data
        try:
            self.ml_per_drop = (
                drops.from_weight(data["grams"], data["drops"], self.item.density_g_per_ml)
                if field == "grams"
                else drops.from_volume(data["ml"], data["drops"])
            )
        except drops.DropError as error:
            self.add_error(field, str(error))
        return data

    def _trouble(self, field: str, data: dict[str, Any]) -> str:
        if data[field] is None:
            return "How much do they weigh?" if field == "grams" else "How many mL do they fill?"
        if field == "ml":
            return ""
        if self.item.density_g_per_ml is None:
            return (
                f"To weigh drops the density of {self.item.name} is needed. Write it down with "
                "the item's facts, or count drops into mL."
            )
        if self.lot and self.lot.strength != 1:
            return (
                "This bottle is thinned, so its density is no longer the item's. Count drops "
                "into mL."
            )
        return ""
