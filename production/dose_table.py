"""A recipe's doses as its page shows them: as said, for common volumes, and as hands can measure."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from inventory import amounts, units
from inventory.models import Item
from inventory.wording import quantity_text
from production import recipe_math
from production import said as wording
from production.models import Bench, RecipeVersion

PER_100_ML = units.to_micro(100)
PER_US_CUP = units.to_micro(units.convert(1, "US cup", "mL"))


@dataclass(frozen=True)
class DoseLine:
    """One dose of a version in words."""

    item: Item
    said: str
    per_100_ml: str
    per_us_cup: str


@dataclass(frozen=True)
class MeasuredDose:
    """One dose for a batch: exactly, and as spoons, drops or the scale make it.

    `error` is how far off, in words; `rough` when it is more than a tenth (rule 8)."""

    item: Item
    exactly: str
    by_hand: str
    error: str
    rough: bool


def dose_lines(version: RecipeVersion) -> list[DoseLine]:
    """The version's doses, in the order they were written."""
    reference = units.to_micro(version.reference_ml)
    lines = []
    for dose in version.doses.all():
        per = [
            quantity_text(recipe_math.scaled(dose.quantity, base, reference), dose.item.stock_unit)
            for base in (PER_100_ML, PER_US_CUP)
        ]
        lines.append(DoseLine(dose.item, wording.said(dose.amount, dose.unit), *per))
    return lines


def measured(version: RecipeVersion, base_ml: Decimal) -> list[MeasuredDose]:
    """The doses for `base_ml` of base, each with the way of measuring that comes nearest."""
    reference, base = units.to_micro(version.reference_ml), units.to_micro(base_ml)
    found, step = [], Bench.ours().scale_step_g
    for dose in version.doses.all():
        item = dose.item
        quantity = recipe_math.scaled(dose.quantity, base, reference)
        ways = amounts.hand_measures(
            units.from_micro(quantity), item.stock_unit, facts=item.facts(), scale_step=step
        )
        way = ways[0] if ways else None
        found.append(
            MeasuredDose(
                item,
                quantity_text(quantity, item.stock_unit),
                way.text if way else "",
                f"{way.error * 100:.0f} %" if way else "",
                bool(way and way.rough),
            )
        )
    return found


def side_by_side(versions: Sequence[RecipeVersion]) -> list[tuple[Item, list[str]]]:
    """For each item in any version, what each version says of it ("" where it has none)."""
    items: dict[int, Item] = {}
    said: list[dict[int, str]] = []
    for version in versions:
        doses = list(version.doses.all())
        items.update((dose.item_id, dose.item) for dose in doses)
        said.append({dose.item_id: wording.said(dose.amount, dose.unit) for dose in doses})
    return [(item, [column.get(pk, "") for column in said]) for pk, item in items.items()]
