"""The forms of cups, baits and molds."""

from decimal import Decimal

from django import forms
from django.db.models import Q

from inventory import forms_base
from inventory.models import Item
from production import queries_colors, said
from production.forms import measures
from production.forms import rows as lines
from production.models import Bait, Mold
from production.services import molds

CAVITY_ROWS = 4


class PutAwayMixin(forms.Form):
    """A thing that exists can be put away: it leaves the lists and keeps its history."""

    archived = forms.BooleanField(
        label="Put away", required=False, help_text="Leaves the lists; its history stays."
    )

    def __init__(self, *args, exists: bool = False, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        if not exists:
            del self.fields["archived"]


class CupForm(PutAwayMixin, forms_base.PlainForm):
    number = forms_base.NumberField(
        at_least=1, at_most=999, whole=True, help_text="The number written on the cup."
    )
    tare_g = measures.WeightField(
        label="Empty weight",
        required=False,
        help_text="With its stick, as it stands on the scale: 112 g. Lets you weigh what is left.",
    )
    least_ml = measures.VolumeField(label="Least fill", initial=Decimal(30))
    most_ml = measures.VolumeField(
        label="Largest fill",
        initial=Decimal(400),
        help_text="Leave room to stir and for bubbles to rise.",
    )
    field_order = ["number", "tare_g", "least_ml", "most_ml", "archived"]


class BaitForm(PutAwayMixin, forms_base.PlainForm):
    name = forms.CharField(max_length=80)
    length_mm = measures.LengthField(label="Length", help_text="In inches or mm: 4 in, 100 mm.")
    flat = forms.BooleanField(
        label="Flat: one side must be up",
        required=False,
        help_text="A laminate's back and belly then have to lie the right way in the mold.",
    )
    field_order = ["name", "length_mm", "flat", "archived"]


class MoldForm(PutAwayMixin, forms_base.PlainForm):
    """A mold by known volumes or by one weighed shot; `weighed` says which was filled in."""

    name = forms.CharField(max_length=80)
    copies = forms_base.NumberField(
        at_least=1, at_most=99, whole=True, initial=1, help_text="How many of this mold you own."
    )
    minutes_per_cycle = forms_base.NumberField(
        label="Minutes per cycle",
        at_least=Decimal("0.1"),
        at_most=600,
        places=1,
        initial=Decimal(6),
        help_text="From one shot to the next: shoot, set, open, close.",
    )
    shot_ml = measures.VolumeField(
        label="Volume of one shot",
        required=False,
        help_text="Baits and sprue together: 26 mL, 1 fl oz.",
    )
    shot_g = measures.WeightField(
        label="One shot weighs", required=False, help_text="Everything that came out, untrimmed."
    )
    grade = lines.PickField(
        label="Shot of this plastisol", required=False, help_text="Its density is used."
    )
    density = forms_base.NumberField(
        label="or density (g/mL)",
        required=False,
        at_least=Decimal("0.1"),
        at_most=5,
        help_text="Of the cold plastic, where you measured it.",
    )
    notes = forms.CharField(
        widget=forms.Textarea(attrs={"rows": 3}),
        required=False,
        help_text="What the next person at it should know: vents, screws, where it sticks.",
    )
    field_order = ["name", "copies", "minutes_per_cycle", "shot_ml", "shot_g", "grade", "density"]

    def __init__(self, *args, grades: list[Item], **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.fields["grade"].offer(lines.Offer({"": grades}, empty="Choose, or write a density"))

    @property
    def weight_is_used(self) -> bool:
        """Whether any figure of the weighed shot was typed or is at fault."""
        fields = ("shot_g", "grade", "density")
        return any(self[field].errors or (self.is_bound and self[field].data) for field in fields)

    @property
    def weighed(self) -> bool:
        return self.cleaned_data.get("shot_g") is not None

    def clean(self):
        facts = self.cleaned_data
        if "shot_ml" in facts and "shot_g" in facts:
            if facts["shot_ml"] and facts["shot_g"]:
                self.add_error("shot_g", "Give the volume of a shot or its weight, not both.")
            elif not facts["shot_ml"] and not facts["shot_g"]:
                self.add_error("shot_ml", "Give the volume of one shot, or weigh one.")
            elif facts["shot_g"]:
                self._find_density()
        return facts

    def _find_density(self) -> None:
        grade, density = self.cleaned_data.get("grade"), self.cleaned_data.get("density")
        if density is None and grade is not None:
            density = grade.density_g_per_ml
            if density is None:
                self.add_error("grade", f"The density of {grade} is not known. Write it below.")
        elif density is None and not self.errors:
            self.add_error("density", "Choose the plastisol of the shot, or write its density.")
        self.cleaned_data["density"] = density

    def facts(self) -> dict:
        """What both mold services take."""
        names = ("name", "copies", "minutes_per_cycle", "notes", "archived")
        return {name: self.cleaned_data[name] for name in names if name in self.cleaned_data}


class CavityForm(lines.RowForm):
    bait = lines.PickField()
    count = forms_base.NumberField(label="Cavities", at_least=1, at_most=500, whole=True)
    bait_ml = measures.VolumeField(label="One bait holds", required=False)
    grams = measures.WeightField(label="or all of them weigh", required=False)
    part = lines.PickField(label="In each cavity", required=False)
    parts_each = forms_base.NumberField(
        label="How many of it", at_least=1, at_most=20, whole=True, required=False
    )

    def __init__(self, *args, offer: lines.Offer, parts: lines.Offer, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.fields["bait"].offer(offer)
        if len(parts.choices) > 1:
            self.fields["part"].offer(parts)
        else:
            del self.fields["part"], self.fields["parts_each"]

    def spec(self, *, weighed: bool) -> molds.CavitySpec | molds.WeighedSpec | None:
        """The line as the service takes it; None, with an error at the field, when a figure lacks."""
        facts = self.cleaned_data
        field, other = ("grams", "bait_ml") if weighed else ("bait_ml", "grams")
        if facts[other] is not None:
            self.add_error(other, f"The shot is given by {'weight' if weighed else 'volume'}.")
        if facts[field] is None:
            needed = "what these baits weigh together" if weighed else "how much one bait holds"
            self.add_error(field, f"Say {needed}.")
        part, each = facts.get("part"), facts.get("parts_each")
        if each and part is None:
            self.add_error("part", "Which part lies in each cavity?")
        if self.errors:
            return None
        kind = molds.WeighedSpec if weighed else molds.CavitySpec
        inlay = molds.Inlay(part, each or 1)
        return kind(facts["bait"], facts["count"], facts[field], inlay)


def cavity_rows(data, mold: Mold | None = None) -> lines.Rows:
    """The lines of cavities, filled with those of `mold`."""
    cavities = list(mold.cavities.all()) if mold else []
    kept = [cavity.bait_id for cavity in cavities]
    baits = list(Bait.objects.filter(Q(archived=False) | Q(pk__in=kept)))
    inside = [cavity.part_id for cavity in cavities if cavity.part_id]
    parts = Item.objects.filter(kind=Item.Kind.PART, stock_unit="each")
    parts = parts.filter(Q(archived=False) | Q(pk__in=inside))
    return lines.Rows(
        CavityForm,
        data,
        prefix="cavity",
        count=CAVITY_ROWS,
        shown=2,
        offer=lines.Offer({"": baits}),
        parts=lines.Offer({"": list(parts)}, empty="nothing"),
        initial=[
            {
                "bait": str(cavity.bait_id),
                "count": cavity.count,
                "bait_ml": said.said(cavity.bait_ml, "mL"),
                "part": str(cavity.part_id or ""),
                "parts_each": cavity.parts_each if cavity.part_id else None,
            }
            for cavity in cavities
        ],
    )


def grades_offered() -> list[Item]:
    return list(queries_colors.grades())
