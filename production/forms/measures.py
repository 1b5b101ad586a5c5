"""Fields for a volume, a weight or a length, in any usual unit."""

from decimal import Decimal

from django import forms

from inventory import forms_base
from production import measured


class _MeasuredField(forms.CharField):
    """A measure as text → Decimal in `unit`."""

    unit, longest = "", 60

    def __init__(self, **kwargs) -> None:
        kwargs.setdefault("max_length", self.longest)
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
            return self.read(text)
        except ValueError as error:
            raise forms.ValidationError(str(error)) from error

    def read(self, text: str) -> Decimal:
        return measured.amount(text, self.unit)


class VolumeField(_MeasuredField):
    """A volume in any unit → Decimal mL; a bare number is mL."""

    unit = "mL"

    def __init__(self, *, allow_zero: bool = False, **kwargs) -> None:
        self.allow_zero = allow_zero
        super().__init__(**kwargs)

    def read(self, text: str) -> Decimal:
        return measured.amount(text, self.unit, allow_zero=self.allow_zero)


class WeightField(_MeasuredField):
    """A weight in any unit → Decimal g; a bare number is g."""

    unit = "g"


class LengthField(_MeasuredField):
    """A bait's length in inches or millimetres → Decimal mm; the unit must be said."""

    unit, longest = "mm", 30

    def read(self, text: str) -> Decimal:
        return measured.bait_length(text)


class BoreField(LengthField):
    """The inner width of a barrel, like a LengthField."""

    def read(self, text: str) -> Decimal:
        return measured.bore(text)


class FrontField(LengthField):
    """One side of a package's front, like a LengthField."""

    def read(self, text: str) -> Decimal:
        return measured.front(text)
