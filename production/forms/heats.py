"""A warming: minutes and peak temperature, in °C or °F."""

from decimal import Decimal

from django import forms

from inventory import forms_base, temperature
from production import peaks
from production.models import Heat
from production.services import heats


class HeatForm(forms_base.PostingForm):
    """`system`: the shop's units; a number without its scale is taken by them, and asked about when
    only the other scale makes sense of it."""

    minutes = forms_base.NumberField(
        label="Minutes", at_least=Decimal("0.1"), at_most=heats.MOST_MINUTES, places=1
    )
    peak = forms.CharField(label="Hottest", max_length=30, required=False)
    note = forms.CharField(max_length=200, required=False)

    def __init__(self, *args, system: str, timed: bool = False, heat: Heat | None = None, **kwargs):
        """`timed`: the timer says the minutes where none are written."""
        super().__init__(*args, **kwargs)
        self.system = system
        self.fields["minutes"].required = not timed
        scale = peaks.HABIT[system]
        self.fields["peak"].help_text = f"350 F or 177 C; a bare number is °{scale}."
        self.fields["peak"].widget.attrs |= {"autocomplete": "off", "inputmode": "text"}
        if timed:
            self.fields["minutes"].help_text = "Empty: as the timer says."
        if heat:
            self.initial |= {"minutes": heat.minutes, "note": heat.note}
            if heat.peak_c is not None:
                self.initial["peak"] = temperature.as_typed(heat.peak_c)

    def clean(self) -> dict:
        cleaned = super().clean()
        cleaned["peak_c"], cleaned["look_at"] = None, ""
        if text := cleaned.get("peak"):
            try:
                peak = peaks.read(text, self.system)
            except temperature.TemperatureError as error:
                self.add_error("peak", str(error))
                return cleaned
            cleaned["peak_c"] = peak.celsius
            if peak.doubt and not self.errors and self.question(f"{peak.doubt} Yes, really?"):
                cleaned["look_at"] = peak.doubt
        return cleaned

    def facts(self) -> dict:
        """What the services take."""
        return {name: self.cleaned_data[name] for name in ("minutes", "peak_c", "note", "look_at")}
