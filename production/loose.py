"""Loose baits that may go into bags: which lots, how many, and whether they have cured."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import F, Max, QuerySet, Sum

from inventory import queries, units
from inventory.models import Entry, Item, Lot, Movement
from production.models import Bench, Product, ProductContent

#: A stocked kind of bait: its bait, its pattern, and whether it is a second.
Kind = tuple[int, int, bool]

# The entries that fix when a bait left its mold; moving or counting it does not.
_DEMOLDED = (Entry.Kind.SHOTS, Entry.Kind.SORTING)


@dataclass(frozen=True)
class LooseLot:
    """A lot of loose baits, and when the last of them left the mold (None: nobody knows)."""

    lot: Lot
    demolded_at: datetime | None

    def cured_at(self, cure_hours: int) -> datetime | None:
        return self.demolded_at and self.demolded_at + timedelta(hours=cure_hours)


def kind_of(product: Product, content: ProductContent) -> Kind:
    return content.bait_id, content.pattern_id, product.second


def free() -> QuerySet[Lot]:
    """Lots of loose baits that may be bagged; first expiring, then first in, goes first."""
    return (
        Lot.objects.in_stock().free().filter(item__kind=Item.Kind.LOOSE_BAIT).first_expiring_first()
    )


def ready(kinds: Iterable[Kind] | None = None) -> dict[Kind, int]:
    """Whole baits that may be bagged, of these kinds or of all: one query."""
    rows = free().order_by()
    if kinds is not None:
        rows = rows.filter(item__loose_bait__bait__in={bait for bait, _, _ in kinds})
    rows = rows.values_list(
        "item__loose_bait__bait", "item__loose_bait__pattern", "item__loose_bait__second"
    ).annotate(free=Sum(F("on_hand") - F("reserved")))
    return {(bait, pattern, second): int(n) // units.MICRO for bait, pattern, second, n in rows}


def lots(product: Product) -> dict[Kind, list[LooseLot]]:
    """The lots that each content of the product may be filled from, in the order of use: two queries."""
    return lots_of({kind_of(product, content) for content in product.contents.all()})


def lots_of(kinds: Iterable[Kind]) -> dict[Kind, list[LooseLot]]:
    """The lots of each kind that may be bagged, in the order of use: two queries."""
    found: dict[Kind, list[Lot]] = {kind: [] for kind in kinds}
    candidates = free().filter(item__loose_bait__bait__in={bait for bait, _, _ in found})
    for lot in candidates.select_related("item__loose_bait"):
        bait = lot.item.loose_bait
        if (kind := (bait.bait_id, bait.pattern_id, bait.second)) in found:
            found[kind].append(lot)
    left_mold = dict(
        Movement.objects.filter(
            queries.STANDING_LINE,
            lot__in=[lot.pk for each in found.values() for lot in each],
            role=Movement.Role.MADE,
            entry__kind__in=_DEMOLDED,
        )
        .order_by()
        .values_list("lot")
        .annotate(Max("entry__happened_at"))
    )
    return {
        kind: [LooseLot(lot, left_mold.get(lot.pk)) for lot in each] for kind, each in found.items()
    }


def take(
    from_lots: Iterable[LooseLot], wanted: int, when: datetime, cure_hours: int | None = None
) -> list[tuple[LooseLot, int]]:
    """Millionths to take from each lot: cured baits first, then those that still cure.

    Less than `wanted` together when there is less. `cure_hours` None: the shop's own."""
    hours = Bench.ours().cure_hours if cure_hours is None else cure_hours

    def cures(loose: LooseLot) -> bool:
        cured = loose.cured_at(hours)
        return cured is not None and cured > when

    picked = []
    for loose in sorted(from_lots, key=cures):
        if not wanted:
            break
        # a bait is never cut
        part = min(wanted, loose.lot.available // units.MICRO * units.MICRO)
        if part:
            picked.append((loose, part))
            wanted -= part
    return picked
