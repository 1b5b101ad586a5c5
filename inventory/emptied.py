"""What the log of an emptied bottle or jar tells about the measure its item is dosed in."""

from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Q, Sum

from inventory import implied, queries, units
from inventory.models import Entry, Item, Lot, Movement

Role = Movement.Role
#: A size this many times larger or smaller than the one kept is hardly one (common practice, no source).
FAR = 2


@dataclass(frozen=True)
class Told:
    """`found` is the size implied, or None and `why` says why not. `fact`: the item's field that
    keeps it; `now`: what is kept there. `keepable`: whether it is a size for every bottle."""

    fact: str
    found: implied.Implied | None
    why: str
    now: Decimal | None
    keepable: bool

    @property
    def by_drop(self) -> bool:
        return self.fact == "ml_per_drop"

    @property
    def agrees(self) -> bool:
        """Whether what is kept lies within the range."""
        return bool(self.found and self.now and self.found.low <= self.now <= self.found.high)

    @property
    def far(self) -> bool:
        """Whether it is so far from what is kept that a gap in the log is likelier than such a size."""
        return bool(
            self.found and self.now and not self.now / FAR <= self.found.size <= self.now * FAR
        )


def told(lot: Lot) -> Told | None:
    """None where there is nothing to tell: it is dosed in neither, or nobody saw it empty.

    Needs a lot of `queries.with_trust`."""
    if lot.item.kind not in Item.DOSED or lot.item.stock_unit == "each" or not _seen_empty(lot):
        return None
    by_drop = lot.item.stock_unit == "mL"
    fact = "ml_per_drop" if by_drop else "g_per_tsp"
    found, why = None, ""
    try:
        found = (implied.per_drop if by_drop else implied.per_spoon)(*_log(lot))
    except implied.ImpliedError as error:
        why = str(error)
    return Told(fact, found, why, lot.item.facts(lot)[fact], keepable=lot.strength == 1)


def _seen_empty(lot: Lot) -> bool:
    if lot.on_hand or lot.count_me or lot.last_counted_at is None:
        return False
    return queries.on_hand_at(lot, lot.last_counted_at) == 0


def _log(lot: Lot) -> tuple[Decimal, list[implied.Use]]:
    """What it held in all but for what was moved away, and the lines that took from it; in its stock unit."""
    lines = Movement.objects.filter(queries.STANDING_LINE, lot=lot)
    moved = Q(entry__kind=Entry.Kind.MOVE, role=Role.DRAWN)
    held = lines.filter(Q(role=Role.MADE) | moved).aggregate(total=Sum("quantity"))["total"] or 0
    uses = [
        implied.Use(-units.from_micro(line.quantity), line.said, line.estimated)
        for line in lines.filter(role=Role.DRAWN).exclude(moved)
    ]
    return units.from_micro(held), uses
