"""Plastic without papers: how much, what it looks like, and what is known of it."""

from django import forms

from inventory import forms_base, units
from inventory.models import Item, Lot
from production import cup_reading, queries_colors
from production.forms import plastic
from production.forms.bench_amounts import MOST
from production.forms.rows import Offer, PickField


class UnrecordedForm(forms_base.PostingForm):
    """A leftover whose color nobody wrote down."""

    amount = forms.CharField(
        label="How much", max_length=60, help_text="Volume or weight: 120 mL, 4 oz."
    )
    shape = forms.ChoiceField(
        label="It is",
        choices=[
            (Lot.Form.PUCK, "a puck or a jar"),
            (Lot.Form.TRIM, "trim and old baits"),
            (Lot.Form.LIQUID, "liquid in a cup"),
        ],
        initial=Lot.Form.PUCK,
        widget=forms.RadioSelect,
    )
    grade = PickField(label="Base", required=False, help_text="If anybody knows.")
    melts = forms_base.NumberField(
        label="Melts so far", whole=True, at_least=1, at_most=50, initial=1
    )
    note = forms.CharField(
        label="What it looks like",
        max_length=200,
        help_text="Brown with gold flake, from the shed.",
    )

    def __init__(self, *args, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.fields["amount"].widget.attrs["autocomplete"] = "off"
        self.fields["grade"].offer(Offer({"": queries_colors.grades()}, empty="Nobody knows"))

    def clean(self) -> dict:
        cleaned = super().clean()
        if not cleaned.get("amount"):
            return cleaned
        grade = cleaned.get("grade")
        try:
            amount = plastic.read(cleaned["amount"])
            millilitres = cup_reading.cold_ml(amount, density_g_per_ml=_density(grade))
            if not 0 < millilitres <= MOST:
                raise forms.ValidationError("Write more than nothing and at most 100 L.")
        except (units.UnitsError, forms.ValidationError) as error:
            self.add_error(
                "amount", error if isinstance(error, forms.ValidationError) else str(error)
            )
        else:
            cleaned["quantity"], cleaned["said"] = units.to_micro(millilitres), amount.said
        return cleaned


def _density(grade: Item | None):
    """Its base's; for an unknown base that of the bases on the shelf, which are all much alike."""
    if grade:
        return grade.density_g_per_ml
    known = [one.density_g_per_ml for one in queries_colors.grades() if one.density_g_per_ml]
    return sum(known) / len(known) if known else None
