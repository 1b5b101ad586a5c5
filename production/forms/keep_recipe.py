"""Keeping a free-hand batch as a recipe: its name, and the base that its doses are written for."""

from django import forms

from inventory import forms_base
from production.forms.recipes import ReferenceField


class KeepRecipeForm(forms_base.PlainForm):
    name = forms.CharField(max_length=80, help_text="Your own name for this color.")
    reference = ReferenceField(
        label="Doses are for",
        max_length=30,
        initial="1 US cup",
        help_text="So much base plastisol, such as 1 US cup or 100 mL.",
    )

    def facts(self) -> dict:
        """What the service takes."""
        reference = self.cleaned_data["reference"]
        return {
            "name": self.cleaned_data["name"],
            "reference_amount": reference.value,
            "reference_unit": reference.unit,
        }
