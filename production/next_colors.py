"""“What can this become?”: the colors that a leftover can turn into by additions only."""

from dataclasses import dataclass

from django.utils.http import urlencode

from inventory.models import Lot
from inventory.wording import quantity_text
from production import batch_plan, queries_colors
from production.models import RecipeVersion


@dataclass(frozen=True)
class Becoming:
    """One color, its plan, and the words that a link to its mix page carries."""

    version: RecipeVersion
    plan: batch_plan.Plan
    #: Millionths of a mL of base: the smallest batch that uses all of the leftover; 0 when it is this one.
    whole: int
    other_grade: bool
    query: str
    whole_query: str


def becomings(leftover: Lot, base: int, carried: dict[str, str]) -> list[Becoming]:
    """Ranked: what takes most of the leftover first. `carried`: what every link takes along."""
    versions = list(
        queries_colors.newest_versions().select_related("grade").prefetch_related("doses__item")
    )
    found = []
    for version, plan, whole in batch_plan.reachable(leftover, versions, base):
        larger = whole if plan.use < leftover.on_hand and whole > base else 0
        found.append(
            Becoming(
                version,
                plan,
                larger,
                leftover.item.grades != str(version.grade_id),
                query(version.pk, base, carried),
                query(version.pk, larger, carried) if larger else "",
            )
        )
    return found


def query(color: int | str, base: int, carried: dict[str, str]) -> str:
    """The mix page's question for so much base of a color."""
    return urlencode(
        {"color": color, "base": quantity_text(base, "mL").replace(",", ""), **carried}
    )
