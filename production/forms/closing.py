"""Closing an evening: what becomes of every cup, and whether the gear was put away clean. It asks, and
never refuses what can be."""

from collections.abc import Sequence

from django import forms

from inventory import forms_base
from inventory.models import Entry
from inventory.wording import quantity_text
from production.forms import plastic
from production.forms.leftover import MORE_THAN_POURED
from production.models import Batch
from production.services import leftovers
from production.services.pours import Settling

CHECKS = ("purged", "seals_checked", "molds_dry")


class CloseForm(forms_base.PostingForm):
    """One form for all cups, and the evening's checks."""

    purged = forms.BooleanField(label="Injector purged", required=False)
    seals_checked = forms.BooleanField(label="Seals checked", required=False)
    molds_dry = forms.BooleanField(label="Molds dry, inside and out", required=False)
    note = forms.CharField(
        label="Note of the evening",
        max_length=1000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
    )

    def __init__(self, *args, batches: Sequence[Batch], **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.cups = list(batches)
        for batch in self.cups:
            self._cup_fields(batch)

    def _cup_fields(self, batch: Batch) -> None:
        self.fields[f"then_{batch.pk}"] = forms.ChoiceField(
            label=f"What becomes of {batch}",
            choices=[
                (leftovers.KEEP, "Stays in the cup"),
                (leftovers.PUCK, "Set aside as a puck"),
                (leftovers.THROW, "Thrown away"),
            ],
            initial=batch.settled or leftovers.PUCK,
            error_messages={"required": "Say what becomes of it."},
            widget=forms.RadioSelect,
        )
        book = quantity_text(batch.total_left, "mL")
        self.fields[f"left_{batch.pk}"] = forms.CharField(
            label="How much is left",
            max_length=60,
            required=False,
            help_text=f"Empty: {book}, as the shots say. Volume, or weight without the cup.",
            widget=forms.TextInput(attrs={"autocomplete": "off"}),
        )
        self.fields[f"hot_{batch.pk}"] = forms.BooleanField(label="Read hot", required=False)
        self.fields[f"reason_{batch.pk}"] = forms.CharField(
            label="Why it is thrown away", max_length=200, required=False
        )

    @property
    def cup_rows(self) -> list[dict]:
        """Each cup and its fields, for the page."""
        return [
            {
                "batch": batch,
                **{n: self[f"{n}_{batch.pk}"] for n in ("then", "left", "hot", "reason")},
            }
            for batch in self.cups
        ]

    @property
    def checks(self) -> list:
        return [self[name] for name in CHECKS]

    def clean(self) -> dict:
        cleaned = super().clean()
        too_much = []
        for batch in self.cups:
            self._read(batch, cleaned)
            if cleaned.get(f"then_{batch.pk}") == leftovers.THROW and not cleaned.get(
                f"reason_{batch.pk}"
            ):
                self.add_error(f"reason_{batch.pk}", "Say why it is thrown away.")
            measured = cleaned.get(f"measured_{batch.pk}")
            if measured is not None and measured > leftovers.most_left(batch):
                too_much.append(batch)
        if too_much and not self.errors and not self._posted(cleaned):
            names = ", ".join(str(batch) for batch in too_much)
            if self.question(f"{names}: {MORE_THAN_POURED} Yes, really?"):
                cleaned["doubted"] = {batch.pk for batch in too_much}
        return cleaned

    def _read(self, batch: Batch, cleaned: dict) -> None:
        text = cleaned.get(f"left_{batch.pk}")
        if not text:
            return
        try:
            cleaned[f"measured_{batch.pk}"] = plastic.base_in_cup(
                plastic.read(text), batch, in_cup=False, hot=bool(cleaned.get(f"hot_{batch.pk}"))
            )
        except forms.ValidationError as error:
            self.add_error(f"left_{batch.pk}", error)

    def _posted(self, cleaned: dict) -> bool:
        keys = [f"{cleaned.get('key', '')}#cup{batch.pk}" for batch in self.cups]
        return Entry.objects.filter(key__in=keys).exists()

    def settlings(self) -> list[Settling]:
        """What becomes of each cup. Call it on a valid form."""
        cleaned, doubted = self.cleaned_data, self.cleaned_data.get("doubted", set())
        return [
            Settling(
                batch,
                cleaned[f"then_{batch.pk}"],
                cleaned.get(f"measured_{batch.pk}"),
                cleaned[f"reason_{batch.pk}"],
                MORE_THAN_POURED if batch.pk in doubted else "",
            )
            for batch in self.cups
        ]
