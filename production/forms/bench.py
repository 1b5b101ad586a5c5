"""The bench's forms: what to pour, and what is left."""

from decimal import Decimal

from django import forms

from inventory import allocation, amounts, forms_base, units
from production import batch_plan
from production.forms import bench_amounts, bench_choices
from production.models import Batch, Cup, Mold
from production.services import leftovers

FILLS = 3
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
        if not self.errors and not fills and not cleaned.get("base"):
            self.add_error("base", "Choose a mold and its shots, or write how much base.")
        return cleaned

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

    def plan(self) -> batch_plan.Plan:
        """The plan for what was asked; call it on a valid form."""
        typed, heel = self.cleaned_data.get("base"), self.cleaned_data.get("heel")
        target = self.target()
        base = (
            typed.millionths
            if typed
            else batch_plan.base_for_shots(
                target.version,
                self.cleaned_data["fills"],
                share=target.share,
                heel=heel.millionths if heel else 0,
            )
        )
        return batch_plan.plan(target.version, base, self.cleaned_data["leftover"])


class LeftoverForm(forms_base.PostingForm):
    """What is left of a batch, by volume or weight, and what becomes of it."""

    amount = forms.CharField(label="How much is left", max_length=60)
    in_cup = forms.BooleanField(
        label="Weighed in its cup: take the empty cup's weight off", required=False
    )
    hot = forms.BooleanField(label="Read off the cup while hot", required=False)
    then = forms.ChoiceField(
        label="What becomes of it",
        choices=[
            (leftovers.KEEP, "Stays in the cup"),
            (leftovers.PUCK, "Set aside as a puck"),
            (leftovers.THROW, "Thrown away"),
        ],
        initial=leftovers.KEEP,
        widget=forms.RadioSelect,
    )
    reason = forms.CharField(
        label="Why", max_length=200, required=False, help_text="Needed when it is thrown away."
    )

    #: Hot plastic fills more: cold volume ÷ hot volume (from memory; a shop measures its own).
    HOT = Decimal("0.91")

    def __init__(self, *args, batch: Batch, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.batch = batch
        tare = batch.cup.tare_g if batch.cup else None
        if tare is None:
            del self.fields["in_cup"]
        self.fields[
            "amount"
        ].help_text = "Volume or weight of the colored plastic: 60 mL, 2 fl oz, 55 g."

    def clean_amount(self) -> amounts.Amount:
        try:
            amount = amounts.parse(self.cleaned_data["amount"], default_unit="mL")
        except amounts.AmountError as error:
            raise forms.ValidationError(str(error)) from error
        if units.kind(amount.unit) == "count" or amount.unit == "drop":
            raise forms.ValidationError("Say a volume or a weight: 60 mL, 55 g.")
        return amount

    def clean(self) -> dict:
        cleaned = super().clean()
        if cleaned.get("then") == leftovers.THROW and not cleaned.get("reason"):
            self.add_error("reason", "Say why it is thrown away.")
        if amount := cleaned.get("amount"):
            try:
                cleaned["measured"] = self._base(amount, cleaned)
            except units.UnitsError as error:
                self.add_error("amount", str(error))
        if not self.errors and cleaned["measured"] > leftovers.most_left(self.batch):
            text = "That's more than this batch can have left."
            if self.question(f"{text} Yes, really?"):
                cleaned["look_at"] = text
        return cleaned

    def _base(self, amount: amounts.Amount, cleaned: dict) -> int:
        """Millionths of a mL of base in the plastic measured; raises UnitsError."""
        value, unit = amount.value, amount.unit
        weighed = units.kind(unit) == "mass"
        if cleaned.get("in_cup"):
            if not weighed:
                raise units.UnitsError("A cup's empty weight comes off a weight: write g or oz.")
            value, unit = units.convert(value, unit, "g") - self.batch.cup.tare_g, "g"
            if value < 0:
                raise units.UnitsError(f"The empty cup alone weighs {self.batch.cup.tare_g} g.")
        if cleaned.get("hot") and not weighed:
            value *= self.HOT
        density = self.batch.lot.item.density_g_per_ml
        millilitres = units.convert(value, unit, "mL", density_g_per_ml=density)
        if millilitres > bench_amounts.MOST:
            raise units.UnitsError("That is more than 100 L. Check the point and the zeros.")
        return allocation.portion(
            units.to_micro(millilitres), self.batch.lot.made, self.batch.total
        )
