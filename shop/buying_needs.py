"""What open orders will take from the shelf."""

from collections import defaultdict
from collections.abc import Iterable

from django.db.models import Max, Sum

from inventory import units
from inventory.needs import Need
from production import planned_needs
from production.models import WHOLE_SHARE, Cavity, Dose, Layer, ProductContent, ProductPackaging
from shop import queries

WHAT = "open orders"


def orders() -> Iterable[Need]:
    """Packaging of the bags still to fill; plastisol and doses of the baits still to pour.

    What waiting batches of a plan will pour counts there, not here. A bait is taken as all base, of the
    largest volume that a mold gives it; leftovers that might go in are not counted on. A fixed number of
    queries."""
    waiting = list(queries.open_orders())
    to_fill: dict[int, int] = defaultdict(int)
    to_pour: dict[int, int] = defaultdict(int)
    for lines in queries.line_states(waiting).values():
        for state in lines:
            to_fill[state.line.product_id] += state.unbagged
            to_pour[state.line.product_id] += state.missing
    for row in ProductPackaging.objects.filter(product__in=to_fill):
        yield Need(row.item_id, row.quantity * to_fill[row.product_id], WHAT)
    yield from _plastic(_base_of_versions(to_pour))


def _base_of_versions(bags: dict[int, int]) -> dict[int, int]:
    """Recipe version id → millionths of a mL of base for the baits of these bags, beyond what is planned."""
    rows = ProductContent.objects.filter(product__in=[pk for pk, count in bags.items() if count])
    baits: dict[tuple[int, int], int] = defaultdict(int)
    for row in rows:
        baits[row.bait_id, row.pattern_id] += row.count * bags[row.product_id]
    volumes = dict(
        Cavity.objects.filter(bait__in={bait for bait, _ in baits}, mold__archived=False)
        .order_by()
        .values_list("bait")
        .annotate(Max("bait_ml"))
    )
    of_pattern: dict[int, int] = defaultdict(int)
    for (bait, pattern), count in baits.items():
        of_pattern[pattern] += count * units.to_micro(volumes.get(bait, 0))
    base: dict[int, int] = defaultdict(int)
    for layer in Layer.objects.filter(pattern__in=of_pattern):
        base[layer.version_id] += of_pattern[layer.pattern_id] * layer.share // WHOLE_SHARE
    planned = planned_needs.waiting().order_by().values_list("version").annotate(Sum("base"))
    for version, poured in planned:
        base[version] -= poured
    return {version: amount for version, amount in base.items() if amount > 0}


def _plastic(base: dict[int, int]) -> Iterable[Need]:
    """Grade and doses of so much base of each recipe version."""
    doses = Dose.objects.filter(version__in=base).select_related("version")
    for dose in doses:
        reference = units.to_micro(dose.version.reference_ml)
        yield Need(dose.item_id, dose.quantity * base[dose.version_id] // reference, WHAT)
    for version, grade in (
        Layer.objects.filter(version__in=base)
        .order_by()
        .values_list("version", "version__grade")
        .distinct()
    ):
        yield Need(grade, base[version], WHAT)
