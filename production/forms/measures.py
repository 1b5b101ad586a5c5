"""Fields for a volume, a weight or a length, in any usual unit."""

import re
from decimal import Decimal

from django import forms

from inventory import amounts, forms_base, units

MM_PER_INCH = Decimal("25.4")
_LENGTH = re.compile(
    r"(?P<number>.*?)\s*(?P<unit>in\.?|inch|inches|\"|”|″|mm|cm)", re.IGNORECASE | re.DOTALL
)


class _MeasureField(forms.CharField):
    kind, unit, most = "volume", "mL", Decimal(100_000)

    def __init__(self, *, allow_zero: bool = False, **kwargs) -> None:
        self.allow_zero = allow_zero
        kwargs.setdefault("max_length", 60)
        super().__init__(**kwargs)
        self.widget.attrs.setdefault("autocomplete", "off")
        self.widget.attrs.pop("maxlength", None)

    def prepare_value(self, value):
        if isinstance(value, Decimal):
            return f"{forms_base.number_text(value)} {self.unit}"
        return value

    def clean(self, value):
        text = super().clean(value)
        if not text:
            return None
        try:
            amount = amounts.parse(text, default_unit=self.unit)
            if amount.unit == "drop" or units.kind(amount.unit) != self.kind:
                raise amounts.AmountError(f"Write a {self.noun}, for example {self.example}.")
            measured = units.convert(amount.value, amount.unit, self.unit)
        except (amounts.AmountError, units.UnitsError) as error:
            raise forms.ValidationError(str(error)) from error
        if self.allow_zero and not measured:
            return measured
        if not Decimal("0.001") <= measured <= self.most:
            most = amounts.show(self.most, self.unit)
            raise forms.ValidationError(f"This must be above 0 and at most {most}.")
        return measured


class VolumeField(_MeasureField):
    """A volume in any unit → Decimal mL; a bare number is mL."""

    noun, example = "volume", "25 mL or 1 fl oz"


class WeightField(_MeasureField):
    """A weight in any unit → Decimal g; a bare number is g."""

    kind, unit, noun, example = "mass", "g", "weight", "28.3 g or 1 oz"


class LengthField(forms.CharField):
    """A length in inches or millimetres → Decimal mm; the unit must be said."""

    least, most, what = (
        Decimal(1),
        Decimal(2000),
        "A bait is between 1 mm and 2000 mm (79 in) long.",
    )

    def __init__(self, **kwargs) -> None:
        kwargs.setdefault("max_length", 30)
        super().__init__(**kwargs)
        self.widget.attrs.setdefault("autocomplete", "off")

    def prepare_value(self, value):
        return f"{forms_base.number_text(value)} mm" if isinstance(value, Decimal) else value

    def clean(self, value):
        text = super().clean(value)
        if not text:
            return None
        parts = _LENGTH.fullmatch(text.strip())
        if not parts:
            raise forms.ValidationError(
                "Write the length with in or mm, for example 4 in or 100 mm."
            )
        try:
            number = amounts.number(parts["number"])
        except amounts.AmountError as error:
            raise forms.ValidationError(str(error)) from error
        unit = parts["unit"].casefold()
        millimetres = number * {"mm": Decimal(1), "cm": Decimal(10)}.get(unit, MM_PER_INCH)
        if not self.least <= millimetres <= self.most:
            raise forms.ValidationError(self.what)
        return millimetres


class BoreField(LengthField):
    """The inner width of a barrel, like a LengthField."""

    most, what = Decimal(200), "A bore is between 1 mm and 200 mm (8 in) wide."
