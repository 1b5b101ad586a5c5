"""Proves that what is kept of each order of what left, came back and was billed follows from the ledger.

Reckoned again from the entries alone, with none of the services' sums."""

from collections import defaultdict
from collections.abc import Iterator

from inventory import units
from inventory.models import Entry, Movement
from shop.models import Invoice, Order, OrderLine, Return, Shipment


def findings() -> Iterator[str]:
    """Every difference found, one sentence each."""
    yield from _shipped()
    yield from _papers()


def _shipped() -> Iterator[str]:
    """What is kept of each order of what left follows from the ledger, and so does its state."""
    left: dict[tuple[int, int], int] = defaultdict(int)
    back: dict[tuple[int, int, bool], int] = defaultdict(int)
    again = dict(Return.objects.values_list("entry", "replace"))
    undone = set(Entry.objects.exclude(reverses=None).values_list("reverses", flat=True))
    lines = Movement.objects.filter(
        entry__kind__in=[Entry.Kind.SHIPMENT, Entry.Kind.RETURN],
        entry__reference__startswith="order:",
        revalues=None,
    )
    for entry, reference, kind, role, item, quantity in lines.values_list(
        "entry", "entry__reference", "entry__kind", "role", "lot__item", "quantity"
    ):
        order = int(reference.removeprefix("order:"))
        if entry in undone:
            continue
        if kind == Entry.Kind.SHIPMENT:
            left[order, item] -= quantity
        elif role == Movement.Role.RETURNED:
            if entry not in again:
                yield f"Entry {entry}: bags came back to order {order}, but no return says why."
            back[order, item, again.get(entry, False)] += quantity
    waiting: dict[int, int] = defaultdict(int)
    for line in OrderLine.objects.select_related("product"):
        at = (line.order_id, line.product.item_id)
        sent, replaced, kept = left.pop(at, 0), back[(*at, True)], back[(*at, False)]
        out = units.from_micro(sent - replaced - kept)
        beyond = max(0, units.from_micro(sent - replaced) - (line.bags - line.dropped))
        credited = max(0, units.from_micro(kept) - beyond)
        if (line.shipped, line.credited) != (out, credited):
            yield (
                f"Order {line.order_id}, {line.product_id}: {line.shipped} shipped and {line.credited} "
                f"credited are kept, the ledger says {out} and {credited}."
            )
        if line.dropped > line.bags:
            yield f"Order {line.order_id}: more is not coming than was ordered."
        waiting[line.order_id] += max(0, line.bags - line.dropped - credited - out)
    for (order, item), quantity in left.items():
        if quantity:
            yield f"Order {order}: bags of item {item} left, but no line wants them."
    for order in Order.objects.order_by("pk"):
        due = waiting.get(order.pk)
        expected = Order.Status.SHIPPED if due == 0 else Order.Status.OPEN
        if order.status not in (expected, Order.Status.CANCELLED):
            yield f"Order {order.pk} is {order.status}, but by what has left it is {expected}."


def _papers() -> Iterator[str]:
    """Each shipment and return names an entry of its order; invoices of a year are numbered without gaps."""
    for row in Shipment.objects.select_related("entry"):
        if row.entry.kind != Entry.Kind.SHIPMENT or row.entry.reference != f"order:{row.order_id}":
            yield f"Shipment {row.pk}: its entry sent nothing for order {row.order_id}."
    for row in Return.objects.select_related("entry", "shipment").prefetch_related(
        "entry__movements__returns"
    ):
        came = [line.returns for line in row.entry.movements.all() if line.returns_id]
        if not came or any(line.entry_id != row.shipment.entry_id for line in came):
            yield f"Return {row.pk}: what came back did not leave with shipment {row.shipment_id}."
    of_year: dict[str, list[int]] = defaultdict(list)
    for number in Invoice.objects.values_list("number", flat=True):
        year, _, count = number.partition("-")
        of_year[year].append(int(count))
    for year, counts in sorted(of_year.items()):
        if sorted(counts) != list(range(1, len(counts) + 1)):
            yield f"The invoices of {year} are not numbered from 1 without gaps."
