"""Proves what the front of house keeps beside the ledger."""

from collections import defaultdict
from collections.abc import Iterator

from inventory import units
from inventory.models import Reservation
from shop.models import Order, OrderLine


def findings() -> Iterator[str]:
    """Every difference found, one sentence each; none when all is right."""
    yield from _holds()


def _holds() -> Iterator[str]:
    """Bags are held for open orders alone, and never more of them than are still to be sent."""
    held: dict[tuple[int, int], int] = defaultdict(int)
    rows = Reservation.objects.filter(holder__startswith="order:")
    for holder, item, quantity in rows.values_list("holder", "lot__item", "quantity"):
        held[int(holder.removeprefix("order:")), item] += quantity
    orders = Order.objects.in_bulk({order for order, _ in held})
    lines = OrderLine.objects.filter(order__in=orders).select_related("product__item")
    needed = {(line.order_id, line.product.item_id): line.remaining for line in lines}
    for (order, item), quantity in sorted(held.items()):
        if order not in orders:
            yield f"Something is held for order {order}, which there is not."
        elif orders[order].status != Order.Status.OPEN:
            yield f"Order {order} is {orders[order].status} and still holds bags."
        elif quantity > units.to_micro(needed.get((order, item), 0)):
            yield f"Order {order} holds more of item {item} than it still needs."
