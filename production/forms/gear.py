"""The forms of the bench itself: its scale, the hot reading, an empty cup, injectors."""

import calendar
from decimal import Decimal
from typing import Any

from django import forms

from inventory import forms_base
from production import hot_cold, queries_colors
from production.forms import measures
from production.forms import rows as lines
from production.forms.molds import PutAwayMixin
from production.models import Cup, Injector


class BenchForm(forms_base.PlainForm):
    hot_factor = forms_base.NumberField(
        label="Hot reading × this = cold volume",
        at_least=hot_cold.LEAST,
        at_most=hot_cold.MOST,
        places=3,
        help_text="0.91 from memory; the guide above measures yours.",
    )
    scale_step_g = measures.WeightField(
        label="Smallest step of the scale",
        help_text="0.1 g for most; 0.01 g for a pocket scale. Doses are rounded to it.",
    )

    def clean_scale_step_g(self) -> Decimal:
        step = self.cleaned_data["scale_step_g"]
        if step > 10:
            raise forms.ValidationError("A scale that steps by more than 10 g can't weigh a dose.")
        return step


#: ISO weekdays, as `Bench.pour_weekdays` keeps them.
WEEKDAYS = [(str(number), name) for number, name in enumerate(calendar.day_name, 1)]


class PlanningForm(forms_base.PlainForm):
    """What the plan of an evening counts with."""

    evening_minutes = forms_base.NumberField(
        label="Minutes in an evening",
        whole=True,
        at_least=10,
        at_most=1440,
        help_text="The plan of an evening is held against them.",
    )
    mixing_minutes = forms_base.NumberField(
        label="Minutes to heat and dose a batch", at_most=240, places=1
    )
    heel_ml = measures.VolumeField(
        label="Stays in cup and injector",
        allow_zero=True,
        help_text="Until three leftovers were measured after planned shots.",
    )
    wash_cost_minor = forms_base.MoneyField(
        label="Washing a cup costs",
        at_most=10_000,
        help_text="Your time and what you wipe with. The plan weighs plastic against it.",
    )
    cold_cost_minor = forms_base.MoneyField(
        label="Heating cold plastic costs",
        at_most=10_000,
        help_text="For each batch that takes fresh or set-aside plastic.",
    )
    most_melts = forms_base.NumberField(
        label="Most melts, where no data sheet says", whole=True, at_least=1, at_most=50
    )
    colorant_tolerance = forms_base.NumberField(
        label="Colorant may be over by (%)",
        whole=True,
        at_most=100,
        help_text="How much more of it a leftover may bring than the recipe asks for.",
    )
    flake_tolerance = forms_base.NumberField(
        label="Flake may be over by (%)", whole=True, at_most=200
    )

    pour_weekdays = forms.MultipleChoiceField(
        label="Evenings at the bench",
        choices=WEEKDAYS,
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Choose at least one evening of the week."},
        help_text="A promise counts with these, and with nothing poured on other days.",
    )
    cure_hours = forms_base.NumberField(
        label="Hours from demolding to the bag", whole=True, at_most=720
    )
    packing_days = forms_base.NumberField(
        label="Days for bagging and packing", whole=True, at_most=30
    )
    hand_minutes = forms_base.NumberField(
        label="Minutes of hand work a shot",
        at_most=60,
        places=1,
        help_text="How long one shot keeps your hands; what the mold does alone is the mold's cycle.",
    )

    def clean_pour_weekdays(self) -> str:
        return "".join(sorted(self.cleaned_data["pour_weekdays"]))

    def clean_heel_ml(self) -> Decimal:
        heel = self.cleaned_data["heel_ml"]
        if heel > 1000:
            raise forms.ValidationError("That is more than a cup holds. It can be at most 1000 mL.")
        return heel


class TareForm(forms_base.PlainForm):
    tare_g = measures.WeightField(
        label="Empty, it weighs", help_text="With its stick, if it stays in: 112.4 g, 4 oz."
    )


class HotForm(forms_base.PlainForm):
    """Once valid, `factor` is cold volume ÷ hot volume."""

    hot_ml = measures.VolumeField(
        label="Read off while hot", help_text="At the cup's own marks: 240 mL, 1 US cup."
    )
    way = forms.ChoiceField(
        label="And then",
        choices=[("read", "it cooled, and I read it again"), ("weigh", "I weighed it")],
        initial="read",
    )
    cold_ml = measures.VolumeField(
        label="Read off cold", required=False, help_text="At the same marks, once it is cold."
    )
    grams = measures.WeightField(
        label="It weighs", required=False, help_text="Hot or cold: weight does not change."
    )
    cup = lines.PickField(
        label="Weighed in", required=False, help_text="Its empty weight comes off."
    )
    grade = lines.PickField(
        label="Which plastisol", required=False, help_text="To weigh it, its density is used."
    )

    def __init__(self, *args, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        cups = Cup.objects.filter(archived=False, tare_g__isnull=False)
        self.fields["cup"].offer(lines.Offer({"": cups}, empty="no cup: it is taken off already"))
        grades = [grade for grade in queries_colors.grades() if grade.density_g_per_ml]
        self.fields["grade"].offer(lines.Offer({"": grades}))

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if self.errors:
            return data
        field = "cold_ml" if data["way"] == "read" else "grams"
        try:
            self.factor = self._read(data) if data["way"] == "read" else self._weighed(data)
        except hot_cold.HotColdError as error:
            self.add_error(field, str(error))
        return data

    def _read(self, data: dict[str, Any]) -> Decimal | None:
        if data["cold_ml"] is None:
            self.add_error("cold_ml", "What did you read once it was cold?")
            return None
        return hot_cold.by_reading(data["hot_ml"], data["cold_ml"])

    def _weighed(self, data: dict[str, Any]) -> Decimal | None:
        if data["grams"] is None:
            self.add_error("grams", "What does it weigh?")
        if data["grade"] is None:
            self.add_error("grade", "Choose the plastisol, or measure its density first.")
        if self.errors:
            return None
        net = data["grams"] - (data["cup"].tare_g if data["cup"] else 0)
        if net <= 0:
            raise hot_cold.HotColdError(
                f"The empty cup alone weighs {forms_base.number_text(data['cup'].tare_g)} g."
            )
        return hot_cold.by_weight(data["hot_ml"], net, data["grade"].density_g_per_ml)


class InjectorForm(PutAwayMixin, forms_base.PlainForm):
    name = forms.CharField(max_length=80)
    barrels = forms.TypedChoiceField(
        choices=Injector._meta.get_field("barrels").choices, coerce=int, initial=1
    )
    barrel_ml = measures.VolumeField(
        label="One barrel holds", help_text="Of two barrels, each: 120 mL, 4 fl oz."
    )
    residue_ml = measures.VolumeField(
        label="Stays behind in each",
        allow_zero=True,
        initial=Decimal(0),
        help_text="What you can't press out: push it empty once, peel it out and weigh it.",
    )
    first_bore_mm = measures.BoreField(
        label="First bore",
        required=False,
        help_text="Only where the two barrels differ: they set the shares. 32 mm, 1 1/4 in.",
    )
    second_bore_mm = measures.BoreField(label="Second bore", required=False)
    notes = forms.CharField(widget=forms.Textarea(attrs={"rows": 3}), required=False)
    field_order = [
        "name",
        "barrels",
        "barrel_ml",
        "residue_ml",
        "first_bore_mm",
        "second_bore_mm",
        "notes",
        "archived",
    ]
