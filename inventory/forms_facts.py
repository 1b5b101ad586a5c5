"""Fields for the facts of an item: density, heat limit, size of a flake. Written as people write them."""

from decimal import Decimal

from django import forms

from inventory import density, flake_sizes, temperature, units
from inventory import forms_base as base

LEAST = units.from_micro(1)


class DensityField(base.NumberField):
    """g/mL → Decimal; what can't be one is told how to turn into it."""

    def __init__(self, **kwargs) -> None:
        super().__init__(at_least=LEAST, places=6, **kwargs)

    def _check(self, number: Decimal) -> None:
        if number > density.MOST:
            raise forms.ValidationError(density.too_dense(number))
        super()._check(number)


class _SaidField(forms.CharField):
    """Text with its unit → Decimal, as a module of `parse` and `as_typed` reads and writes it."""

    reads = None

    def __init__(self, **kwargs) -> None:
        kwargs.setdefault("max_length", 40)
        super().__init__(**kwargs)
        self.widget.attrs.setdefault("autocomplete", "off")
        self.widget.attrs.pop("maxlength", None)

    def prepare_value(self, value):
        return self.reads.as_typed(value) if isinstance(value, Decimal) else value

    def clean(self, value):
        text = super().clean(value)
        if not text:
            return None
        try:
            return self.reads.parse(text)
        except ValueError as error:
            raise forms.ValidationError(str(error)) from error


class TemperatureField(_SaidField):
    """“350 F” or “177 °C” → Decimal °C, to a tenth."""

    reads = temperature


class FlakeSizeField(_SaidField):
    """“0.035 in” or “0.9 mm” → Decimal inches, to four decimals."""

    reads = flake_sizes
