"""“What can this become?”: the colors that a leftover can turn into by additions only, and what the shelf
lacks for them."""

from dataclasses import dataclass

from django.utils.http import urlencode

from inventory import units
from inventory.models import Lot
from inventory.wording import quantity_text
from production import batch_plan, plan_shelf, queries_colors
from production.models import RecipeVersion

#: So many colors are named that use all of a leftover.
MOST_USING_UP = 3


@dataclass(frozen=True)
class Becoming:
    """One color, its plan, and the words that a link to its mix page carries."""

    version: RecipeVersion
    plan: batch_plan.Plan
    #: Millionths of a mL of base: the smallest batch that uses all of the leftover.
    needed: int
    #: The same where this batch is too small for that, else 0.
    whole: int
    other_grade: bool
    query: str
    whole_query: str
    #: Doses that are still to add.
    adds: list[batch_plan.PlannedDose]
    #: What the shelf has not enough of, as in "3.2 mL of Moss tint".
    lacks: list[str]


def becomings(leftover: Lot, base: int, carried: dict[str, str]) -> list[Becoming]:
    """Ranked: what takes most of the leftover first. `carried`: what every link takes along."""
    versions = list(
        queries_colors.newest_versions().select_related("grade").prefetch_related("doses__item")
    )
    ranked = batch_plan.reachable(leftover, versions, base)
    held = plan_shelf.on_hand(
        {pk for version, plan, _whole in ranked for pk in _needs(version, plan)}
    )
    found = []
    for version, plan, whole in ranked:
        larger = whole if plan.use < leftover.on_hand and whole > base else 0
        found.append(
            Becoming(
                version,
                plan,
                whole,
                larger,
                leftover.item.grades != str(version.grade_id),
                query(version.pk, base, carried),
                query(version.pk, whole, carried) if whole else "",
                [dose for dose in plan.doses if dose.add],
                _lacks(version, plan, held),
            )
        )
    return found


def using_up(found: list[Becoming]) -> list[Becoming]:
    """Colors that use all of the leftover, the smallest batch first."""
    able = [color for color in found if color.needed]
    return sorted(able, key=lambda color: (color.needed, str(color.version)))[:MOST_USING_UP]


def _needs(version: RecipeVersion, plan: batch_plan.Plan) -> dict[int, tuple[str, str, int]]:
    """What the shelf gives besides the leftover: item → name, unit and millionths at full strength."""
    needs = {dose.item.pk: (dose.item.name, dose.item.stock_unit, dose.add) for dose in plan.doses}
    if plan.fresh:
        needs[version.grade_id] = (version.grade.name, "mL", plan.fresh)
    return {pk: need for pk, need in needs.items() if need[2]}


def _lacks(version: RecipeVersion, plan: batch_plan.Plan, held: dict[int, float]) -> list[str]:
    found = []
    for pk, (name, unit, amount) in _needs(version, plan).items():
        short = amount - units.to_micro(held.get(pk, 0.0))
        if short > amount // 1000:
            found.append(f"{quantity_text(short, unit)} of {name}")
    return found


def query(color: int | str, base: int, carried: dict[str, str]) -> str:
    """The mix page's question for so much base of a color."""
    return urlencode(
        {"color": color, "base": quantity_text(base, "mL").replace(",", ""), **carried}
    )
