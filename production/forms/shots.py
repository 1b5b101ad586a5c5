"""Forms for shots: which mold in which pattern, and what the molds gave."""

from django import forms

from inventory import forms_base
from inventory.models import Lot
from production.forms import bench_choices
from production.models import Batch, Mold, Pattern
from production.services import shots

MOST_SHOTS = 500


class ShotPlanForm(forms_base.PlainForm):
    """Which mold in which pattern; sent with GET, so that the next page knows the baits."""

    def __init__(self, *args, batches: list[Batch], **kwargs) -> None:
        super().__init__(*args, **kwargs)
        molds = list(Mold.objects.filter(archived=False).prefetch_related("cavities__bait"))
        fitting, others = bench_choices.patterns(batches)
        found = {str(pattern.pk): pattern for pattern in [*fitting, *others]}
        self.fields["pattern"] = forms.TypedChoiceField(
            choices=bench_choices.pattern_groups(fitting, others), coerce=found.__getitem__
        )
        self.fields["mold"] = forms.TypedChoiceField(
            choices=[("", "Choose a mold"), *((str(m.pk), m.name) for m in molds)],
            coerce={str(mold.pk): mold for mold in molds}.__getitem__,
        )
        if len(fitting) == 1:
            self.initial.setdefault("pattern", str(fitting[0].pk))
        if len(molds) == 1:
            self.initial.setdefault("mold", str(molds[0].pk))


class ShotsForm(forms_base.PostingForm):
    """So many fills of one mold in one pattern: the batch of each layer, and what each bait gave."""

    count = forms_base.NumberField(
        label="Shots", whole=True, at_least=1, at_most=MOST_SHOTS, initial=1
    )
    trim = forms.ChoiceField(
        label="Sprues and rejects",
        choices=[("keep", "Kept as trim"), ("throw", "Thrown away")],
        initial="keep",
        widget=forms.RadioSelect,
    )

    def __init__(self, *args, mold: Mold, pattern: Pattern, batches: list[Batch], **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.mold, self.pattern = mold, pattern
        self.layers = list(pattern.layers.all())
        self.cavities = list(mold.cavities.all())
        for layer in self.layers:
            fitting = [b for b in batches if _pours(b, layer)]
            self.fields[f"batch_{layer.position}"] = forms.TypedChoiceField(
                label="Batch"
                if len(self.layers) == 1
                else f"Batch for the {layer.get_side_display()}",
                choices=[(str(b.pk), bench_choices.batch_text(b)) for b in batches],
                coerce={str(batch.pk): batch for batch in batches}.__getitem__,
                initial=str(_first_full(fitting or batches).pk) if batches else None,
            )
        for cavity in self.cavities:
            for kind, required in (("good", True), ("seconds", False)):
                self.fields[f"{kind}_{cavity.bait_id}"] = forms_base.NumberField(
                    label=f"{kind.capitalize()}",
                    whole=True,
                    at_most=100_000,
                    required=required,
                )

    @property
    def batch_fields(self) -> list:
        return [self[f"batch_{layer.position}"] for layer in self.layers]

    @property
    def bait_rows(self) -> list[tuple]:
        """Each bait's cavities, and its fields."""
        return [
            (cavity, self[f"good_{cavity.bait_id}"], self[f"seconds_{cavity.bait_id}"])
            for cavity in self.cavities
        ]

    def chosen_batches(self) -> list[Batch]:
        """One for each layer, in the layers' order."""
        return [self.cleaned_data[f"batch_{layer.position}"] for layer in self.layers]

    def results(self) -> list[shots.Result]:
        """What each bait gave; whatever is neither good nor second is a reject."""
        return [
            shots.Result(
                cavity.bait,
                self.cleaned_data[f"good_{cavity.bait_id}"],
                self.cleaned_data[f"seconds_{cavity.bait_id}"] or 0,
            )
            for cavity in self.cavities
        ]

    def clean(self) -> dict:
        cleaned = super().clean()
        if self.errors:
            return cleaned
        too_many = []
        for cavity in self.cavities:
            slots = cavity.count * cleaned["count"]
            kept = cleaned[f"good_{cavity.bait_id}"] + (cleaned[f"seconds_{cavity.bait_id}"] or 0)
            if kept > slots:
                too_many.append(f"{kept} {cavity.bait} from {slots} cavities")
        if too_many:
            text = f"That's more baits than cavities: {', '.join(too_many)}."
            if self.question(f"{text} Yes, really?"):
                cleaned["look_at"] = text
        return cleaned


def _pours(batch: Batch, layer) -> bool:
    return bool(batch.version and batch.version.recipe_id == layer.version.recipe_id)


def _first_full(batches: list[Batch]) -> Batch:
    return next(
        (b for b in batches if b.lot.on_hand and b.lot.form == Lot.Form.LIQUID), batches[-1]
    )
