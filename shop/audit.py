"""Proves what the front of house keeps beside the ledger."""

from collections import defaultdict
from collections.abc import Iterator

from inventory import units
from inventory.models import Entry, Movement, Reservation
from shop import audit_shipping
from shop.models import Order, OrderLine, Sale


def findings() -> Iterator[str]:
    """Every difference found, one sentence each; none when all is right."""
    yield from _holds()
    yield from audit_shipping.findings()
    yield from _sales()


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


def _sales() -> Iterator[str]:
    """The bags of a sale are those that its entry drew, and every such entry has its sale."""
    drawn: dict[int, dict[int, int]] = defaultdict(lambda: defaultdict(int))
    lines = Movement.objects.filter(
        entry__kind=Entry.Kind.SALE, role=Movement.Role.DRAWN, revalues=None
    )
    for entry, item, quantity in lines.values_list("entry", "lot__item", "quantity"):
        drawn[entry][item] -= quantity
    sales = Sale.objects.select_related("entry").prefetch_related("lines__product")
    for sale in sales:
        sold: dict[int, int] = defaultdict(int)
        for line in sale.lines.all():
            sold[line.product.item_id] += units.to_micro(line.bags)
        if sold != drawn.pop(sale.entry_id, {}):
            yield f"{sale.entry}: the bags of the sale are not those in the ledger."
    for entry in sorted(drawn):
        yield f"Entry {entry} sold bags without a sale."
