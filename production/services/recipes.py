"""Keeping recipes, their versions and the patterns made of them. Used versions are never edited."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import ROUND_HALF_EVEN, Decimal

from django.db import transaction
from django.db.models import Count
from django.utils import timezone

from inventory import amounts, units
from inventory.models import Item
from production import doses as dosing
from production import recipe_math
from production.models import (
    WHOLE_SHARE,
    Dose,
    DoseStandIn,
    Layer,
    Pattern,
    Recipe,
    RecipeVersion,
)
from production.services.refusals import Refusal, keep, refuse_taken_name

SIDES = {
    2: (Layer.Side.TOP, Layer.Side.BELOW),
    3: (Layer.Side.TOP, Layer.Side.MIDDLE, Layer.Side.BELOW),
}
_SIXTH = Decimal("0.000001")


@dataclass(frozen=True)
class DoseSpec:
    """One dose as said: so much of the item, in any unit it can convert."""

    item: Item
    amount: Decimal
    unit: str


@dataclass(frozen=True)
class StandInSpec:
    """A flake that may be poured in place of a dose's own, unit for unit, when that runs out."""

    item: Item
    instead: Item


@dataclass(frozen=True)
class LayerSpec:
    """One layer: give `share` (millionths of the bait) or `share_percent`; sides go by order if empty."""

    version: RecipeVersion
    share_percent: Decimal | None = None
    share: int | None = None
    side: str = ""


@transaction.atomic
def create(
    *,
    name: str,
    grade: Item,
    reference_amount: Decimal,
    reference_unit: str,
    doses: Sequence[DoseSpec],
    stand_ins: Sequence[StandInSpec] = (),
    notes: str = "",
    written_at: datetime | None = None,
) -> RecipeVersion:
    """Makes a recipe with its version 1, and the solid pattern of the same name.

    Raises Refusal: name taken, or a dose whose unit the item cannot convert (`row` says which)."""
    name = name.strip()
    refuse_taken_name(Recipe.objects.all(), name, "recipe")
    refuse_taken_name(Pattern.objects.all(), name, "pattern")
    recipe = Recipe(name=name)
    keep(recipe)
    version = RecipeVersion(recipe=recipe, number=1, written_at=written_at or timezone.now())
    _fill(version, grade, reference_amount, reference_unit, doses, notes)
    _allow(version, stand_ins)
    pattern = Pattern(name=name)
    keep(pattern)
    Layer.objects.create(pattern=pattern, position=1, version=version, share=WHOLE_SHARE)
    return version


@transaction.atomic
def revise(
    version: RecipeVersion,
    *,
    grade: Item,
    reference_amount: Decimal,
    reference_unit: str,
    doses: Sequence[DoseSpec],
    stand_ins: Sequence[StandInSpec] | None = None,
    notes: str = "",
    written_at: datetime | None = None,
) -> RecipeVersion:
    """Changes a recipe: in place while its version is unused, else as the next version (rule 6).

    `stand_ins` None: those of the version before, for the flakes that stay. The solid pattern follows to the version returned; laminates keep the one they name. Raises
    Refusal when a newer version exists than the one that was looked at."""
    Recipe.objects.select_for_update().get(pk=version.recipe_id)
    # Locked, so that a batch mixed at this moment either freezes it first or waits.
    versions = RecipeVersion.objects.select_for_update().filter(recipe=version.recipe_id)
    newest = versions.order_by("-number").first()
    if newest.pk != version.pk:
        raise Refusal(
            f"{version} was replaced by version {newest.number} meanwhile. Change the newest one."
        )
    if stand_ins is None:
        dosed = {spec.item.pk for spec in doses}
        stand_ins = [spec for spec in stand_ins_of(newest) if spec.item.pk in dosed]
    if is_used(newest):
        newest = RecipeVersion(recipe=version.recipe, number=newest.number + 1)
    newest.written_at = written_at or timezone.now()
    _fill(newest, grade, reference_amount, reference_unit, doses, notes)
    _allow(newest, stand_ins)
    if pattern := solid_pattern(version.recipe):
        pattern.layers.update(version=newest)
    return newest


@transaction.atomic
def laminate(*, name: str, layers: Sequence[LayerSpec]) -> Pattern:
    """Makes a pattern of two or three layers, from the back down; the shares make up one bait."""
    name = name.strip()
    refuse_taken_name(Pattern.objects.all(), name, "pattern")
    if len(layers) not in SIDES:
        raise Refusal("A laminate has two or three layers.")
    sides = [spec.side or side for spec, side in zip(layers, SIDES[len(layers)], strict=True)]
    if len(set(sides)) < len(sides) or Layer.Side.WHOLE in sides:
        raise Refusal("Each layer of a laminate has its own side: back, middle or belly.")
    shares = [_share(spec, row) for row, spec in enumerate(layers)]
    if sum(shares) != WHOLE_SHARE:
        total = amounts.show(units.from_micro(sum(shares)) * 100, "%")
        raise Refusal(f"The shares of the layers make {total}; they must make 100 %.")
    pattern = Pattern(name=name)
    keep(pattern)
    downward = sorted(
        zip(layers, shares, sides, strict=True), key=lambda layer: SIDES[3].index(layer[2])
    )
    for position, (spec, share, side) in enumerate(downward, 1):
        Layer.objects.create(
            pattern=pattern, position=position, version=spec.version, share=share, side=side
        )
    return pattern


@transaction.atomic
def put_away(pattern: Pattern, *, archived: bool) -> None:
    """Takes a pattern off the lists, or back; a solid's recipe goes with it. Nothing is deleted."""
    pattern.archived = archived
    pattern.save(update_fields=["archived"])
    layers = list(pattern.layers.all())
    if len(layers) == 1:
        Recipe.objects.filter(versions=layers[0].version_id).update(archived=archived)


def is_used(version: RecipeVersion) -> bool:
    """Whether a batch was ever mixed by it."""
    return version.frozen_at is not None or version.batches.exists()


def solid_pattern(recipe: Recipe) -> Pattern | None:
    """The pattern that is this recipe alone."""
    solids = Pattern.objects.annotate(depth=Count("layers")).filter(depth=1)
    return solids.filter(
        pk__in=Layer.objects.filter(version__recipe=recipe).values("pattern")
    ).first()


def doses_for(version: RecipeVersion, base: int) -> list[tuple[Item, int]]:
    """Each dose for `base` millionths of a mL of base: (item, millionths of its stock unit)."""
    reference = units.to_micro(version.reference_ml)
    doses = version.doses.all()
    if "doses" not in getattr(version, "_prefetched_objects_cache", {}):
        doses = doses.select_related("item")
    return [(dose.item, recipe_math.scaled(dose.quantity, base, reference)) for dose in doses]


def _fill(
    version: RecipeVersion,
    grade: Item,
    amount: Decimal,
    unit: str,
    doses: Sequence[DoseSpec],
    notes: str,
) -> None:
    if grade.kind != Item.Kind.PLASTISOL:
        raise Refusal(f"{grade} is no plastisol.", field="grade")
    version.grade, version.notes = grade, notes
    version.reference_ml = reference_ml(amount, unit)
    version.reference_said = amounts.show(amount, unit)
    keep(version)
    version.doses.all().delete()
    seen = set()
    for row, spec in enumerate(doses):
        if spec.item.pk in seen:
            raise Refusal(f"{spec.item} is already in this recipe.", field="item", row=row)
        seen.add(spec.item.pk)
        keep(_dose(version, spec, row), row=row)


def stand_ins_of(version: RecipeVersion) -> list[StandInSpec]:
    """What the version's author allows in place of its flakes; one query."""
    rows = DoseStandIn.objects.filter(dose__version=version).select_related("dose__item", "item")
    return [StandInSpec(row.dose.item, row.item) for row in rows.order_by("dose", "id")]


def _allow(version: RecipeVersion, stand_ins: Sequence[StandInSpec]) -> None:
    doses = {dose.item_id: dose for dose in version.doses.all()} if stand_ins else {}
    for spec in dict.fromkeys(stand_ins):
        if reason := why_no_stand_in(spec.item, spec.instead):
            raise Refusal(reason)
        if spec.item.pk not in doses:
            raise Refusal(f"{spec.item} is no dose of this recipe, so nothing can stand in for it.")
        DoseStandIn.objects.create(dose=doses[spec.item.pk], item=spec.instead)


def why_no_stand_in(item: Item, instead: Item) -> str:
    """Why one can't be poured in place of the other, unit for unit; empty when it can."""
    if item == instead:
        return f"{item} can't stand in for itself. Choose another size."
    if item.kind != Item.Kind.FLAKE or instead.kind != Item.Kind.FLAKE:
        return "Only flake stands in for flake."
    if item.stock_unit != instead.stock_unit:
        return f"{instead} is kept in {instead.stock_unit}, {item} in {item.stock_unit}."
    return ""


def reference_ml(amount: Decimal, unit: str) -> Decimal:
    """mL of base that the doses are for; raises Refusal for anything but a volume of base."""
    if unit == "drop" or units.kind(unit) != "volume":
        raise Refusal(
            "The doses are for a volume of base, for example 1 US cup or 100 mL.",
            field="reference",
        )
    if not 0 < (millilitres := units.convert(amount, unit, "mL")) <= 100_000:
        raise Refusal("The volume of base must be above 0 and at most 100 L.", field="reference")
    return millilitres.quantize(_SIXTH, ROUND_HALF_EVEN)


def _dose(version: RecipeVersion, spec: DoseSpec, row: int) -> Dose:
    item = spec.item
    if item.kind not in Item.DOSED:
        raise Refusal(f"{item} is no colorant, flake or additive.", field="item", row=row)
    try:
        quantity = item.to_stock(spec.amount, spec.unit)
        # A batch must know its whole volume, so a solid needs its density from the first.
        dosing.total_volume(
            Decimal(1), [(units.from_micro(quantity), item.stock_unit, item.density_g_per_ml)]
        )
    except (units.UnitsError, dosing.DoseError) as error:
        raise Refusal(f"{item}: {error}", field="amount", row=row) from error
    if quantity < 1:
        raise Refusal(f"{item}: this dose is too small to keep.", field="amount", row=row)
    amount = spec.amount.quantize(_SIXTH, ROUND_HALF_EVEN)
    return Dose(version=version, item=item, amount=amount, unit=spec.unit, quantity=quantity)


def _share(spec: LayerSpec, row: int) -> int:
    share = spec.share
    if share is None and spec.share_percent is not None:
        share = units.to_micro(Decimal(spec.share_percent) / 100)
    if share is None or not 0 < share < WHOLE_SHARE:
        raise Refusal("Each layer's share is above 0 and below 100 %.", field="share", row=row)
    return share
