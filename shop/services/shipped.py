"""What has left for each order: kept beside its lines and its status, and always as the ledger says.

Entries that send or take back bags carry the order's reference, so an amended one counts as it stands."""

from collections import Counter
from typing import Any

from django.db.models import Q

from inventory import queries as shelf
from inventory import units
from inventory.models import Entry, Movement
from shop.models import Order, OrderLine, Return, Shipment
from shop.services import holds

Status = Order.Status
_LEFT = Q(entry__kind=Entry.Kind.SHIPMENT, role=Movement.Role.DRAWN)
_BACK = Q(entry__kind=Entry.Kind.RETURN, role=Movement.Role.RETURNED)


def follow(order_id: int) -> Order:
    """Brings an order's lines and status up to date; the caller's transaction holds it.

    Call it after anything that sends bags, takes them back, or changes what is wanted."""
    order = Order.objects.select_for_update().get(pk=order_id)
    lines = list(order.lines.select_related("product"))
    figures = reckon(order, lines)
    for line in lines:
        shipped, credited = figures[line.pk]
        if (line.shipped, line.credited) != (shipped, credited):
            line.shipped, line.credited = shipped, credited
            line.save(update_fields=["shipped", "credited"])
    status = status_of(order, lines)
    if order.status != status:
        order.status = status
        order.save(update_fields=["status"])
    return order


def reckon(order: Order, lines: list[OrderLine]) -> dict[int, tuple[int, int]]:
    """Line id → (bags that left and did not come back, bags that came back and are not sent again).

    What was sent beyond what was ordered comes back first: nobody was to pay for it. Two queries."""
    left: Counter[int] = Counter()
    back: dict[bool, Counter[int]] = {True: Counter(), False: Counter()}
    again = set(
        Return.objects.filter(shipment__order=order, replace=True).values_list("entry", flat=True)
    )
    moved = Movement.objects.filter(
        shelf.STANDING_LINE, _LEFT | _BACK, entry__reference=holds.holder(order.pk), revalues=None
    )
    for entry, role, item, quantity in moved.values_list("entry", "role", "lot__item", "quantity"):
        if role == Movement.Role.DRAWN:
            left[item] -= quantity
        else:
            back[entry in again][item] += quantity
    return {
        line.pk: _of_line(
            line,
            *(one[line.product.item_id] // units.MICRO for one in (left, back[True], back[False])),
        )
        for line in lines
    }


def _of_line(line: OrderLine, left: int, replaced: int, kept_away: int) -> tuple[int, int]:
    beyond = max(0, left - replaced - (line.bags - line.dropped))
    return left - replaced - kept_away, max(0, kept_away - beyond)


def status_of(order: Order, lines: list[OrderLine]) -> str:
    """Open until nothing more is to be sent; a cancelled order stays so."""
    if order.status == Status.CANCELLED:
        return Status.CANCELLED
    waiting = not lines or any(line.remaining for line in lines)
    return Status.OPEN if waiting else Status.SHIPPED


def after_amend(sender: Any, *, entry: Entry, amends: Entry, **_: Any) -> None:
    """An amended shipment or return is the same parcel: what is now in it counts."""
    for row in (*Shipment.objects.filter(entry=amends), *Return.objects.filter(entry=amends)):
        row.entry = entry
        row.save(update_fields=["entry"])
        follow(row.order_id if isinstance(row, Shipment) else row.shipment.order_id)


def after_undo(sender: Any, *, entry: Entry, **_: Any) -> None:
    """Follows the undo of an entry that sent bags or took them back."""
    if entry.kind in (Entry.Kind.SHIPMENT, Entry.Kind.RETURN):
        kind, _sep, number = entry.reference.partition(":")
        if kind == "order" and number.isdecimal() and Order.objects.filter(pk=number).exists():
            follow(int(number))
