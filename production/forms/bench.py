"""What to pour next: a color, the molds to shoot or so much base, a cup, a leftover to start from."""

from django import forms

from inventory import amounts, forms_base, units
from inventory.models import Lot
from production import batch_plan
from production.forms import bench_amounts, bench_choices, plastic
from production.models import Cup, Mold

FILLS = 3
#: How the leftover's cup was read before; it travels with the plan and is counted when it is mixed.
READ = ("left", "in_cup", "hot")
#: The batch of the evening's plan that this one is.
PLANNED = "planned"
MOST_SHOTS = 500


class PlanForm(forms_base.PlainForm):
    """What the next batch is for. Sent with GET: nothing is posted by it."""

    color = forms.ChoiceField(
        label="Color", error_messages={"required": "Choose a color, or free hand."}
    )
    base = forms_base.AmountField(
        label="Or so much base",
        required=False,
        help_text="Goes before the molds: 8 fl oz, 240 mL.",
    )
    heel = forms_base.AmountField(
        label="Heel",
        required=False,
        allow_zero=True,
        initial="10 mL",
        help_text="What stays in cup and injector after the last shot.",
    )
    cup = forms.ModelChoiceField(Cup.objects.none(), required=False, empty_label="No cup chosen")

    def __init__(self, *args, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.targets = bench_choices.targets(self.data.get("color", ""))
        self.fields["color"].choices = bench_choices.grouped(self.targets)
        self.fields["cup"].queryset = Cup.objects.filter(archived=False)
        self.fields["cup"].choices = [("", "No cup chosen"), *bench_choices.cup_texts().items()]
        molds = list(Mold.objects.filter(archived=False))
        for number in range(1, FILLS + 1):
            self.fields[f"mold_{number}"] = forms.TypedChoiceField(
                label="Mold",
                choices=[
                    ("", "No mold"),
                    *((str(m.pk), bench_choices.mold_text(m)) for m in molds),
                ],
                coerce={str(mold.pk): mold for mold in molds}.__getitem__,
                empty_value=None,
                required=False,
            )
            self.fields[f"shots_{number}"] = forms_base.NumberField(
                label="Shots", whole=True, at_least=1, at_most=MOST_SHOTS, required=False
            )
        for name in (*READ, PLANNED):
            self.fields[name] = forms.CharField(
                max_length=60, required=False, widget=forms.HiddenInput
            )
        self.fields["leftover"] = bench_amounts.LotField(
            bench_choices.leftovers(self.data.get("leftover", "")),
            label="Start from a leftover",
            empty_label="Fresh base only",
            label_of=lambda lot: lot.label,
        )

    @property
    def fill_rows(self) -> list[tuple]:
        """The mold and its shots, row by row, for the page."""
        return [(self[f"mold_{n}"], self[f"shots_{n}"]) for n in range(1, FILLS + 1)]

    def clean(self) -> dict:
        cleaned = super().clean()
        for name in ("base", "heel"):
            if amount := cleaned.get(name):
                self._to_ml(name, amount)
        fills = []
        for number in range(1, FILLS + 1):
            mold, shots = cleaned.get(f"mold_{number}"), cleaned.get(f"shots_{number}")
            if mold and shots:
                fills.append((mold, shots))
            elif mold and f"shots_{number}" not in self.errors:
                self.add_error(f"shots_{number}", "How many shots of this mold?")
            elif shots and f"mold_{number}" not in self.errors:
                self.add_error(f"mold_{number}", "Shots of which mold?")
        cleaned["fills"] = fills
        cleaned["measured"] = self._measured(cleaned)
        whole = cleaned.get("color") == "free" and cleaned.get("leftover")
        if not self.errors and not fills and not cleaned.get("base") and not whole:
            self.add_error("base", "Choose a mold and its shots, or write how much base.")
        return cleaned

    def _measured(self, cleaned: dict) -> int | None:
        """Millionths of a mL of base that the leftover's cup was seen to hold; None: by the books."""
        batch = getattr(cleaned.get("leftover"), "batch", None)
        if batch is None or not cleaned.get("left"):
            return None
        try:
            return plastic.base_in_cup(
                plastic.read(cleaned["left"]),
                batch,
                in_cup=bool(cleaned.get("in_cup")),
                hot=bool(cleaned.get("hot")),
            )
        except forms.ValidationError as error:
            self.add_error("leftover", error)
            return None

    def _to_ml(self, name: str, amount: amounts.Amount) -> None:
        try:
            millilitres = units.convert(amount.value, amount.unit or "mL", "mL")
        except units.UnitsError as error:
            self.add_error(name, str(error))
            return
        if millilitres > bench_amounts.MOST:
            self.add_error(name, "That is more than 100 L. Check the point and the zeros.")
            return
        self.cleaned_data[name] = forms_base.Typed(units.to_micro(millilitres), "mL", amount.said)

    def target(self) -> bench_choices.Target:
        return self.targets[self.cleaned_data["color"]]

    def leftover(self) -> Lot | None:
        """The leftover chosen, holding what its cup was seen to hold."""
        lot, measured = self.cleaned_data["leftover"], self.cleaned_data["measured"]
        if lot and measured is not None:
            lot.on_hand = measured
        return lot

    def plan(self) -> batch_plan.Plan:
        """The plan for what was asked; call it on a valid form."""
        typed, heel = self.cleaned_data.get("base"), self.cleaned_data.get("heel")
        target, leftover = self.target(), self.leftover()
        if typed:
            base = typed.millionths
        elif self.cleaned_data["fills"]:
            base = batch_plan.base_for_shots(
                target.version,
                self.cleaned_data["fills"],
                share=target.share,
                heel=heel.millionths if heel else 0,
            )
        else:
            base = leftover.on_hand
        return batch_plan.plan(target.version, base, leftover)
