"""The forms of the guides that weigh a spoon or a liquid, and of an item's own measures."""

from decimal import Decimal
from typing import Any

from django import forms

from inventory import amounts, density, measuring, units
from inventory import forms_base as base
from inventory.models import Item

LEAST = units.from_micro(1)
READINGS = 3
#: A spoon larger than this is a bucket: 1 L.
MOST_SPOON_ML = Decimal(1000)


class VolumeField(forms.CharField):
    """A volume in any unit with its own size → Decimal mL; a bare number is mL."""

    def __init__(self, *, at_most: Decimal, **kwargs) -> None:
        self.at_most = at_most
        super().__init__(max_length=40, **kwargs)
        self.widget.attrs.setdefault("autocomplete", "off")
        self.widget.attrs.pop("maxlength", None)

    def clean(self, value):
        text = super().clean(value)
        if not text:
            return None
        try:
            amount = amounts.parse(text, default_unit="mL")
            if amount.unit == "drop" or units.kind(amount.unit) != "volume":
                raise amounts.AmountError("Write a volume: 1 tsp, ¼ tsp, 10 mL.")
            millilitres = units.convert(amount.value, amount.unit, "mL")
        except (amounts.AmountError, units.UnitsError) as error:
            raise forms.ValidationError(str(error)) from error
        if not LEAST <= millilitres <= self.at_most:
            most = amounts.show(self.at_most, "mL")
            raise forms.ValidationError(f"This must be above 0 and at most {most}.")
        return millilitres


class GramsField(base.NumberField):
    def __init__(self, **kwargs) -> None:
        kwargs = {"at_least": LEAST, "at_most": 100_000} | kwargs
        super().__init__(**kwargs)


class SpoonForm(base.PlainForm):
    """Once valid, `weighed` is a `measuring.SpoonWeight`."""

    spoon = VolumeField(
        label="Your spoon",
        initial="1 tsp",
        at_most=MOST_SPOON_ML,
        help_text="Any you own: 1 tsp, ¼ tsp, 1 tbsp, 2.5 mL.",
    )
    reading_1 = GramsField(label="First spoon (g)", help_text="What one level spoon weighs.")
    reading_2 = GramsField(label="Second spoon (g)", required=False)
    reading_3 = GramsField(label="Third spoon (g)", required=False)

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if self.errors:
            return data
        names = [f"reading_{number}" for number in range(1, READINGS + 1)]
        grams = [data[name] for name in names if data[name] is not None]
        try:
            self.weighed = measuring.spoon_weight(grams, data["spoon"])
        except measuring.MeasuringError as error:
            self.add_error("reading_1", str(error))
            return data
        if self.weighed.doubtful:
            self.question(
                f"Your spoons weigh {base.number_text(min(grams))} to "
                f"{base.number_text(max(grams))} g, {percent(self.weighed.spread)} apart. "
                "Weigh them again, or tick “Yes, really” below."
            )
        return data


class PieceForm(base.PlainForm):
    """Once valid, `weight_g` is what one piece weighs, to the milligram."""

    count = base.NumberField(
        label="How many on the scale", whole=True, at_least=1, at_most=10_000, initial="10"
    )
    together_g = GramsField(label="Together they weigh (g)", help_text="Without the cup.")

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if not self.errors:
            self.weight_g = round(data["together_g"] / data["count"], 3)
            if not self.weight_g:
                self.add_error(
                    "together_g", "Put more of them on the scale: one weighs too little."
                )
        return data


class DensityForm(base.PlainForm):
    """Once valid, `density` is g/mL."""

    ml = VolumeField(
        label="Volume", at_most=Decimal(100_000), help_text="As read off: 10 mL, 50 mL, ¼ cup."
    )
    empty_g = GramsField(
        label="Empty, it weighs (g)",
        at_least=0,
        initial="0",
        help_text="The syringe or cup alone. 0 if the scale was set to zero with it.",
    )
    full_g = GramsField(label="Full, it weighs (g)")

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if self.errors:
            return data
        try:
            self.density = measuring.density(data["full_g"], data["empty_g"], data["ml"])
        except measuring.MeasuringError as error:
            self.add_error("full_g", str(error))
            return data
        if self.density > density.MOST:
            self.add_error("full_g", density.too_dense(self.density))
        elif self.density > density.MOST_USUAL:
            self.question(f"{self.density:.2f} g/mL is as dense as metal.", at="full_g")
        return data


class MeasureForm(base.PlainForm):
    """A new measure of an item's own; `facts()` is what the service takes."""

    name = forms.CharField(
        max_length=30, help_text="As one says one of them: pinch, squirt, scoop."
    )
    quantity = base.AmountField(
        label="One of them holds",
        help_text="Measure ten of them and divide: 0.3 g, 1/8 tsp, 6 drops.",
    )

    def __init__(self, *args, item: Item, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.fields["quantity"].item = item

    def facts(self) -> dict[str, Any]:
        return {
            "name": self.cleaned_data["name"],
            "quantity": self.cleaned_data["quantity"].millionths,
        }


def percent(share: Decimal) -> str:
    """A share as people say it: “7 %”."""
    return f"{share * 100:.0f} %"
