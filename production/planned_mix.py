"""A waiting batch at the moment it is mixed: which of its planned sources are there, and the mix page's
question that asks for them."""

from django.utils.http import urlencode

from inventory import units
from inventory.models import Lot
from inventory.wording import quantity_text
from production import batch_plan
from production.forms import mix, plastic
from production.models import Batch, Cup, PlannedBatch, Pour, RecipeVersion, Shots

#: Sources that the mix page has room for: the leftover to start from, and the others.
MOST_SOURCES = 1 + mix.MOST_SOURCES


def find(number: str, pour: Pour) -> PlannedBatch | None:
    """The waiting batch that an address names, of this evening's plan."""
    if not number.isdecimal() or len(number) > 17:
        return None
    rows = PlannedBatch.objects.select_related("version__recipe", "version__grade", "plan")
    return rows.filter(pk=number, plan__pour=pour).first()


def sources(planned: PlannedBatch) -> list[tuple[Lot, int]]:
    """What is really there of what was planned, in millionths of a mL of base, the most first.

    Jars, what is left of tonight's batches, and trim of tonight's shots."""
    found: dict[int, tuple[Lot, int]] = {}
    for source in planned.detail["sources"]:
        left = units.to_micro(source["ml"])
        for lot in _lots(planned, source):
            taken = min(left, lot.on_hand - found.get(lot.pk, (lot, 0))[1])
            if taken > 0:
                found[lot.pk] = (lot, found.get(lot.pk, (lot, 0))[1] + taken)
                left -= taken
    return sorted(found.values(), key=lambda pair: -pair[1])[:MOST_SOURCES]


def _lots(planned: PlannedBatch, source) -> list[Lot]:
    lots = Lot.objects.in_stock().select_related("item", "batch__version__recipe")
    if source["kind"] == "jar":
        return list(lots.filter(pk=source["lot"]))
    if source["kind"] == "rest":
        earlier = planned.plan.batches.filter(key=source["key"]).values("batch__lot")
        return list(lots.filter(pk__in=earlier))
    pattern = int(source["key"].partition("/")[0][1:])
    shots = Shots.objects.filter(
        pour=planned.plan.pour_id, pattern=pattern, entry__reversed_by=None, trim_lot__isnull=False
    )
    return list(lots.filter(pk__in=shots.values("trim_lot")).order_by("id"))


def question(planned: PlannedBatch) -> str:
    """What the mix page is asked for this batch, as an address carries it."""
    color = str(planned.version_id)
    if planned.detail["share"] != batch_plan.WHOLE:
        color = f"{color}-{planned.detail['layer']}"
    asked = {
        "planned": planned.pk,
        "color": color,
        "base": quantity_text(planned.base, "mL").replace(",", ""),
        "heel": "0 mL",
    }
    if there := sources(planned):
        asked["leftover"] = there[0][0].pk
    if cup := _cup(planned):
        asked["cup"] = cup.pk
    return urlencode(asked)


def _cup(planned: PlannedBatch) -> Cup | None:
    """The cup it goes on in, the plan's own, or the smallest that is empty and holds it; None: let hands
    choose."""
    if going_on := planned.detail["cup_of"]:
        earlier = (
            planned.plan.batches.filter(position=going_on).select_related("batch__cup").first()
        )
        if earlier and earlier.batch and earlier.batch.cup:
            return earlier.batch.cup
    standing = Batch.objects.filter(
        lot__on_hand__gt=0, lot__form=Lot.Form.LIQUID, cup__isnull=False
    ).values("cup")
    free = Cup.objects.filter(archived=False, most_ml__gte=planned.detail["total_ml"])
    free = free.exclude(pk__in=standing).order_by("most_ml", "number")
    return free.filter(pk=planned.detail["cup"]).first() or free.first()


def prefill(
    planned: PlannedBatch,
    *,
    version: RecipeVersion | None,
    base: int,
    leftover: Lot | None,
    measured: int | None,
) -> tuple[batch_plan.Plan, dict[str, str]] | None:
    """What goes in now: the sources that are there, fresh base for the rest, doses for what they lack;
    and the mix form's fields for the sources beyond the first.

    None when the page asks for something else than was planned: it then goes by what it asks."""
    there = sources(planned)
    first = there[0][0] if there else None
    near = abs(planned.base - base) <= units.to_micro("0.1")
    if measured is not None or version != planned.version or first != leftover or not near:
        return None
    return batch_plan.from_sources(planned.version, planned.base, there), _others(there)


def _others(there: list[tuple[Lot, int]]) -> dict[str, str]:
    """The sources beyond the first, as the mix form's fields take them."""
    filled = {}
    for number, (lot, taken) in enumerate(there[1:], 1):
        filled[f"source_{number}"] = str(lot.pk)
        filled[f"source_amount_{number}"] = _said(lot, taken)
    return filled


def _said(lot: Lot, taken: int) -> str:
    """An amount of base as mL of the colored plastic that holds it."""
    if taken >= lot.on_hand:
        return "all of it"
    return plastic.text_of(lot, taken)
