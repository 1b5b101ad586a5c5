"""Which bags to take from where for open orders: their own holds, then what nothing holds."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from inventory import units
from inventory.models import Lot, Reservation
from shop.models import Order, OrderLine
from shop.services import holds


@dataclass(frozen=True)
class Pick:
    """Take so many bags of a lot for a line of an order."""

    lot: Lot
    line: OrderLine
    order: Order
    bags: int


@dataclass(frozen=True)
class Picks:
    picks: list[Pick]
    #: Lines with the bags that are not there yet.
    short: list[tuple[OrderLine, Order, int]]

    def by_place(self) -> list[tuple[str, list[Pick]]]:
        """The picks in the order of a walk: place by place, then product and lot; no place comes last."""
        found: dict[str, list[Pick]] = defaultdict(list)
        for pick in self.picks:
            place = pick.lot.place or pick.lot.item.place
            found[str(place) if place else ""].append(pick)
        walk = sorted(found.items(), key=lambda pair: (not pair[0], pair[0].casefold()))
        for _, picks in walk:
            picks.sort(key=lambda pick: (str(pick.line.product), pick.lot.number, pick.order.pk))
        return walk

    def of_line(self, line: OrderLine) -> list[Pick]:
        return [pick for pick in self.picks if pick.line.pk == line.pk]


def picks(orders: Iterable[Order]) -> Picks:
    """What to pick for all that is still to come of these orders, the first of them served first.

    As `holding.take` will draw it. Three queries, however many orders."""
    orders = list(orders)
    lines = list(
        OrderLine.objects.filter(order__in=[order.pk for order in orders]).select_related(
            "product__item"
        )
    )
    lots = _lots({line.product.item_id for line in lines})
    free = {lot.pk: lot.available for of_item in lots.values() for lot in of_item}
    held = _held(orders)
    found, short = [], []
    for order in orders:
        for line in lines:
            if line.order_id != order.pk or not line.remaining:
                continue
            left = units.to_micro(line.remaining)
            of_item = lots.get(line.product.item_id, [])
            taken: dict[int, int] = defaultdict(int)
            for own in (held[order.pk], free):
                for lot in of_item:
                    part = min(left, own.get(lot.pk, 0)) // units.MICRO * units.MICRO
                    if part > 0 and lot.can_be_held:
                        own[lot.pk] -= part
                        taken[lot.pk] += part
                        left -= part
            found += [
                Pick(lot, line, order, taken[lot.pk] // units.MICRO)
                for lot in of_item
                if taken[lot.pk]
            ]
            if left:
                short.append((line, order, left // units.MICRO))
    return Picks(found, short)


def _lots(items: set[int]) -> dict[int, list[Lot]]:
    """Item id → its lots with bags, the first to go first."""
    found: dict[int, list[Lot]] = defaultdict(list)
    rows = Lot.objects.in_stock().filter(item__in=items).select_related("item__place", "place")
    for lot in sorted(rows, key=Lot.drawing_order):
        found[lot.item_id].append(lot)
    return found


def _held(orders: list[Order]) -> dict[int, dict[int, int]]:
    """Order id → lot id → millionths held for it."""
    names = {holds.holder(order.pk): order.pk for order in orders}
    found: dict[int, dict[int, int]] = defaultdict(lambda: defaultdict(int))
    for row in Reservation.objects.filter(holder__in=names):
        found[names[row.holder]][row.lot_id] += row.quantity
    return found
