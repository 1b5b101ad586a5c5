"""Which bags stand ready to leave for an order, lot by lot, and why others do not."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field

from django.db.models import Sum

from inventory import units
from inventory.models import Lot, Reservation
from shop.services import holds


@dataclass(frozen=True)
class Ready:
    """Whole bags of one lot that may leave for the order: its own holds and what nothing holds."""

    lot: Lot
    bags: int


@dataclass
class Stock:
    """One item's bags as an order sees them. `kept`: why bags that are there stay: reason → bags."""

    lots: list[Ready] = field(default_factory=list)
    kept: dict[str, int] = field(default_factory=dict)

    @property
    def ready(self) -> int:
        return sum(one.bags for one in self.lots)

    @property
    def why(self) -> str:
        """ " (4 held for other orders, 2 at Saturday stall)", or nothing."""
        return f" ({self.stays})" if self.stays else ""

    @property
    def stays(self) -> str:
        """ "4 held for other orders, 2 at Saturday stall", or nothing."""
        return ", ".join(f"{bags} {reason}" for reason, bags in self.kept.items() if bags)


def of(order_id: int, items: Collection[int]) -> dict[int, Stock]:
    """Item id → its bags for this order, the lot that goes first before the others. Two queries."""
    own = _own(order_id, items)
    found = {item: Stock() for item in items}
    lots = Lot.objects.in_stock().filter(item__in=items).select_related("item", "place")
    for lot in sorted(lots, key=lambda lot: (lot.pk not in own, lot.drawing_order())):
        _sort_in(found[lot.item_id], lot, own.get(lot.pk, 0))
    return found


def why_not(lot: Lot) -> str:
    """ ": the lot is on hold", or nothing where it may leave."""
    if lot.held:
        return ": the lot is on hold"
    if not lot.can_be_held:
        return f": the lot lies at {lot.place}"
    return ""


def _own(order_id: int, items: Iterable[int]) -> dict[int, int]:
    """Lot id → millionths held for the order."""
    rows = Reservation.objects.filter(holder=holds.holder(order_id), lot__item__in=items).order_by()
    return dict(rows.values_list("lot").annotate(total=Sum("quantity")))


def _sort_in(stock: Stock, lot: Lot, own: int) -> None:
    if lot.held:
        _keep(stock, "on hold", lot.on_hand)
    elif not lot.can_be_held:
        _keep(stock, f"at {lot.place}", lot.on_hand)
    else:
        _keep(stock, "held for other orders", lot.reserved - own)
        if bags := (lot.available + own) // units.MICRO:
            stock.lots.append(Ready(lot, bags))


def _keep(stock: Stock, reason: str, quantity: int) -> None:
    stock.kept[reason] = stock.kept.get(reason, 0) + quantity // units.MICRO
