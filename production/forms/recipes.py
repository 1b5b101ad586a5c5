"""The forms of a recipe and of a laminate."""

from collections.abc import Sequence
from decimal import Decimal

from django import forms

from inventory import amounts, forms_base, units
from inventory.models import Item
from production import queries_colors
from production import said as wording
from production.forms import rows as lines
from production.models import Layer, RecipeVersion
from production.services import recipes

DOSE_ROWS = 8
DOSE_ROWS_SHOWN = 4
STAND_IN_ROWS = 4
STAND_IN_ROWS_SHOWN = 1


class ReferenceField(forms.CharField):
    """The volume of base that the doses are for, as text → `amounts.Amount`."""

    def clean(self, value):
        text = super().clean(value)
        try:
            amount = amounts.parse(text)
            recipes.reference_ml(amount.value, amount.unit)
        except (amounts.AmountError, units.UnitsError, recipes.Refusal) as error:
            raise forms.ValidationError(str(error)) from error
        return amount


class RecipeForm(forms_base.PlainForm):
    """What a recipe is, but for its doses. Without `named` the name is fixed."""

    name = forms.CharField(max_length=80, help_text="Your own name for this color.")
    grade = lines.PickField(label="Base plastisol")
    reference = ReferenceField(
        label="Doses are for",
        max_length=30,
        initial="1 US cup",
        help_text="So much base plastisol, such as 1 US cup or 100 mL.",
    )
    notes = forms.CharField(
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="What to watch for at the bench.",
    )

    def __init__(self, *args, named: bool = True, grades: list[Item], **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.fields["grade"].offer(lines.Offer({"": grades}))
        if len(grades) == 1:
            self.initial.setdefault("grade", str(grades[0].pk))
        if not named:
            del self.fields["name"]

    def facts(self) -> dict:
        """What the recipe services take, but for the doses."""
        facts = dict(self.cleaned_data)
        reference = facts.pop("reference")
        return facts | {"reference_amount": reference.value, "reference_unit": reference.unit}


class ReviseForm(RecipeForm):
    """A recipe's next version; it carries which version was looked at."""

    version = forms.IntegerField(widget=forms.HiddenInput)


class DoseForm(lines.RowForm):
    item = lines.PickField()
    amount = forms_base.AmountField(label="Amount")

    def __init__(self, *args, offer: lines.Offer, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.fields["item"].offer(offer)
        self.fields["amount"].widget.attrs["placeholder"] = "12 drops"

    def clean(self):
        item, amount = self.cleaned_data.get("item"), self.cleaned_data.get("amount")
        if item and amount:
            try:
                self.cleaned_data["typed"] = forms_base.in_stock_unit(amount, item)
                self["amount"].help_text = f"Understood: {self.cleaned_data['typed']}."
            except units.UnitsError as error:
                self.add_error("amount", f"{item}: {error}")
        return self.cleaned_data

    def spec(self) -> recipes.DoseSpec:
        item, amount = self.cleaned_data["item"], self.cleaned_data["amount"]
        return recipes.DoseSpec(item, amount.value, amount.unit or item.stock_unit)


def dose_rows(
    data,
    version: RecipeVersion | None = None,
    real: Sequence[tuple[Item, Decimal]] | None = None,
) -> lines.Rows:
    """The lines of doses, filled with those of `version`.

    `real`: amounts in stock units that were really poured; they go before the version's."""
    doses = list(version.doses.select_related("item")) if version else []
    items = queries_colors.dosed_items(
        [dose.item_id for dose in doses] + [item.pk for item, _amount in real or []]
    )
    typed = [(dose.item_id, wording.said(dose.amount, dose.unit)) for dose in doses]
    if real is not None:
        typed = [(item.pk, wording.said(amount, item.stock_unit)) for item, amount in real]
    return lines.Rows(
        DoseForm,
        data,
        prefix="dose",
        count=DOSE_ROWS,
        shown=DOSE_ROWS_SHOWN,
        offer=lines.Offer(lines.by_kind(items)),
        initial=[{"item": str(pk), "amount": amount} for pk, amount in typed],
    )


class StandInForm(lines.RowForm):
    item = lines.PickField(label="When this runs out")
    instead = lines.PickField(label="This may be poured")

    def __init__(self, *args, offer: lines.Offer, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        for name in ("item", "instead"):
            self.fields[name].offer(offer)

    def clean(self):
        item, instead = self.cleaned_data.get("item"), self.cleaned_data.get("instead")
        if item and instead and (reason := recipes.why_no_stand_in(item, instead)):
            self.add_error("instead", reason)
        return self.cleaned_data

    def spec(self) -> recipes.StandInSpec:
        return recipes.StandInSpec(self.cleaned_data["item"], self.cleaned_data["instead"])


def stand_in_rows(data, version: RecipeVersion | None = None) -> lines.Rows:
    """The lines of stand-ins, filled with those of `version`."""
    specs = recipes.stand_ins_of(version) if version else []
    known = [item.pk for spec in specs for item in (spec.item, spec.instead)]
    flakes = [i for i in queries_colors.dosed_items(known) if i.kind == Item.Kind.FLAKE]
    return lines.Rows(
        StandInForm,
        data,
        prefix="stand-in",
        count=STAND_IN_ROWS,
        shown=STAND_IN_ROWS_SHOWN,
        offer=lines.Offer({"": flakes}),
        initial=[{"item": str(spec.item.pk), "instead": str(spec.instead.pk)} for spec in specs],
    )


def agree(doses: lines.Rows, stand_ins: lines.Rows) -> bool:
    """Whether every flake that may be replaced is among the doses; says so at its line if not."""
    dosed = {row.cleaned_data.get("item") for row in doses.filled}
    for row in stand_ins.filled:
        if row.cleaned_data.get("item") not in {None, *dosed}:
            row.add_error("item", "It is no dose of this recipe. Leave the line empty.")
    return not stand_ins.has_errors


class LaminateForm(forms_base.PlainForm):
    """Two or three recipes in one bait, from the back down."""

    name = forms.CharField(max_length=80, help_text="What the customer calls this color.")
    top = lines.PickField(label="Back, up")
    top_share = forms_base.NumberField(label="Share of the back (%)", initial=Decimal(50))
    middle = lines.PickField(label="Middle", required=False)
    middle_share = forms_base.NumberField(label="Share of the middle (%)", required=False)
    below = lines.PickField(label="Belly, down")
    below_share = forms_base.NumberField(label="Share of the belly (%)", initial=Decimal(50))

    SIDES = (
        ("top", Layer.Side.TOP),
        ("middle", Layer.Side.MIDDLE),
        ("below", Layer.Side.BELOW),
    )

    def __init__(self, *args, versions: list[RecipeVersion], **kwargs) -> None:
        super().__init__(*args, **kwargs)
        offer = lines.Offer({"": versions})
        for field, _ in self.SIDES:
            self.fields[field].offer(offer)

    def clean(self):
        facts = self.cleaned_data
        for field, _ in self.SIDES:
            share = facts.get(f"{field}_share")
            if share is not None and not 0 < share < 100:
                self.add_error(f"{field}_share", "A share is above 0 and below 100 %.")
        if "middle" in facts and "middle_share" in facts:
            self._clean_middle(facts["middle"], facts["middle_share"])
        shares = [facts.get(f"{field}_share") for field, _ in self.SIDES]
        if not self.errors and (total := sum(share or 0 for share in shares)) != 100:
            self.add_error(
                "below_share",
                f"The shares make {amounts.show(total, '%')} together; they must make 100 %.",
            )
        return facts

    def _clean_middle(self, version: RecipeVersion | None, share: Decimal | None) -> None:
        if version and share is None:
            self.add_error("middle_share", "Say how much of the bait the middle is.")
        if share is not None and not version:
            self.add_error("middle", "Choose the middle's recipe, or leave out its share.")

    def layers(self) -> list[recipes.LayerSpec]:
        facts = self.cleaned_data
        return [
            recipes.LayerSpec(facts[field], share_percent=facts[f"{field}_share"], side=side)
            for field, side in self.SIDES
            if facts[field]
        ]


class BaseField(ReferenceField):
    """How much base to work the doses out for; empty is none."""

    def clean(self, value):
        return super().clean(value) if str(value or "").strip() else None


class BaseForm(forms.Form):
    base = BaseField(label="Doses for this much base", max_length=30, required=False)
