"""Whom the bags of a lot reached: customers of orders, stalls, consignees, and what was given away."""

from collections.abc import Iterable
from datetime import date

from django.urls import reverse

from inventory import queries as shelf
from inventory.lineage import Reached
from inventory.models import Entry, Movement
from shop.models import Customer, Order, Sale

_RETURN = Entry.Kind.RETURN
_ROLES = {_RETURN: Movement.Role.RETURNED}


def reached(lots: Iterable[int]) -> list[Reached]:
    """What left of these lots and did not come back: four queries."""
    lines = Movement.objects.filter(
        shelf.STANDING_LINE, lot__in=list(lots), entry__kind__in=[*shelf.LEAVING, _RETURN]
    )
    left: dict[tuple[int, str, str], tuple[int, date, int, str]] = {}
    columns = ("role", "lot", "quantity", "entry")
    facts = ("entry__kind", "entry__reference", "entry__business_date", "entry__title")
    rows = lines.order_by("entry_id", "pk").values_list(*columns, *facts)
    for role, lot, quantity, entry, kind, reference, day, title in rows:
        if role != _ROLES.get(kind, Movement.Role.DRAWN):
            continue
        # A return carries its order's reference; sales stand for themselves.
        order = kind in (Entry.Kind.SHIPMENT, _RETURN)
        key = (lot, reference if order else "", "" if order else entry)
        before, *first = left.get(key, (0, day, entry, title))
        left[key] = (before - quantity, *first)
    orders = _orders(reference for _, reference, _ in left)
    sales = Sale.objects.select_related("place", "customer").filter(
        entry__in=[entry for _, _, entry in left if entry]
    )
    by_entry = {sale.entry_id: sale for sale in sales}
    return [
        _told(lot, quantity, on, orders.get(reference), by_entry.get(entry), first, title)
        for (lot, reference, entry), (quantity, on, first, title) in left.items()
        if quantity > 0
    ]


def _orders(references: Iterable[str]) -> dict[str, Order]:
    numbers = {ref: int(ref.partition(":")[2]) for ref in references if ref.startswith("order:")}
    found = Order.objects.select_related("customer").in_bulk(set(numbers.values()))
    return {ref: found[pk] for ref, pk in numbers.items() if pk in found}


def _told(
    lot: int,
    quantity: int,
    on: date,
    order: Order | None,
    sale: Sale | None,
    entry: int,
    title: str,
) -> Reached:
    if order:
        return Reached(
            lot,
            quantity,
            order.customer.name,
            on,
            f"order {order.pk}",
            reverse("order", args=[order.pk]),
            contact(order.customer),
        )
    url = reverse("inventory:entry", args=[entry])
    if sale and sale.customer:
        return Reached(
            lot, quantity, sale.customer.name, on, "sold for us", url, contact(sale.customer)
        )
    if sale:
        return Reached(lot, quantity, f"buyers at {sale.place}", on, "sold without a name", url)
    return Reached(lot, quantity, title, on, "without a sale", url)


def contact(customer: Customer) -> str:
    """How to reach a customer, in one line."""
    return ", ".join(part for part in (customer.email, customer.phone) if part)
