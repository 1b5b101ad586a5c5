"""Bags held for an order: what is there for it, changed by line or lot, given back, and lost."""

from django.db import transaction
from django.utils import timezone

from inventory import units
from inventory.models import Entry, Lot, Movement
from inventory.services import holding
from inventory.services.posting import LedgerError, retried
from inventory.wording import quantity_text
from shop.models import Order, OrderLine

_LONGEST = Order._meta.get_field("look_at").max_length


def lock(order: Order) -> None:
    """Locks the bags that the order may hold, before its own row: a loss comes to the order by its lot."""
    lines = order.lines.values_list("product__item", flat=True)
    held = holding.of(holder(order.pk)).values_list("lot__item", flat=True)
    holding.lock({*lines, *held})


def holder(order: int) -> str:
    """How the shelf knows an order that holds something, by the order's number."""
    return f"order:{order}"


@retried
@transaction.atomic
def hold(order: Order) -> dict[OrderLine, int]:
    """Holds what is bagged and free for every line that still needs it: line → bags now held besides.

    Raises LedgerError when the order is not open."""
    order = _open(order)
    held = held_bags(order)
    found = {}
    for line in order.lines.select_related("product__item"):
        wanted = line.remaining - held.get(line.product.item_id, 0)
        if wanted > 0:
            got = holding.reserve_up_to(holder(order.pk), line.product.item, units.to_micro(wanted))
            found[line] = got // units.MICRO
    return found


@retried
@transaction.atomic
def hold_line(line: OrderLine, bags: int) -> None:
    """From now on the order holds just so many bags for the line.

    Raises LedgerError when fewer are free (`holding.NotEnough`) or fewer are still to be sent."""
    order = _open(line.order)
    item = line.product.item
    if bags > line.remaining:
        raise LedgerError(f"Only {line.remaining} are still to be sent. Hold that many at most.")
    more = units.to_micro(bags) - holding.held_for([holder(order.pk)]).get(
        (holder(order.pk), item.pk), 0
    )
    if more > 0:
        holding.reserve(holder(order.pk), item, more)
    elif more < 0:
        holding.release(holder(order.pk), item, -more)


@retried
@transaction.atomic
def hold_just(order: Order, wanted: dict[OrderLine, dict[Lot, int]]) -> None:
    """From now on the order holds just so many bags of each of these lots, line by line; all or none.

    Raises LedgerError as `hold_line` does."""
    order = _open(order)
    who = holder(order.pk)
    lots = {lot: (line, count) for line, of in wanted.items() for lot, count in of.items()}
    rows = list(holding.of(who))
    for line, of in wanted.items():
        mine = [row for row in rows if row.lot.item_id == line.product.item_id]
        others = sum(row.quantity for row in mine if row.lot not in of)
        if units.to_micro(sum(of.values())) + others > units.to_micro(line.remaining):
            raise LedgerError(
                f"Only {line.remaining} are still to be sent. Hold that many at most."
            )
    for lot, (line, count) in sorted(lots.items(), key=lambda pair: pair[0].pk):
        if lot.item_id != line.product.item_id:
            raise LedgerError(f"Lot {lot} holds no {line.product}.")
        holding.hold_of_lot(who, lot, units.to_micro(count))


def release_order(order: Order) -> int:
    """Gives back all that is held for an order; how many bags."""
    return holding.release(holder(order.pk)) // units.MICRO


@transaction.atomic
def fit(order: Order) -> None:
    """Gives back what the order holds beyond what its lines still need, as after a change of lines."""
    needed = {
        line.product.item_id: line.remaining for line in order.lines.select_related("product")
    }
    rows = holding.of(holder(order.pk))
    items = {row.lot.item for row in rows}
    held = holding.held_for([holder(order.pk)])
    for item in sorted(items, key=lambda item: item.pk):
        beyond = held[holder(order.pk), item.pk] - units.to_micro(needed.get(item.pk, 0))
        if beyond > 0:
            holding.release(holder(order.pk), item, beyond)


def held_bags(order: Order) -> dict[int, int]:
    """Item id → whole bags held for the order."""
    rows = holding.held_for([holder(order.pk)])
    return {item: quantity // units.MICRO for (_, item), quantity in rows.items()}


def looked_at(order: Order) -> None:
    """Someone saw why to look at it."""
    Order.objects.filter(pk=order.pk).update(look_at="")


def after_loss(sender, lost: list[holding.Lost], **kwargs) -> None:
    """Says on each order what it can no longer count on."""
    told: dict[int, list[str]] = {}
    for one in lost:
        kind, _, pk = one.holder.partition(":")
        if kind == "order" and pk.isdecimal():
            amount = quantity_text(one.quantity, one.lot.item.stock_unit)
            told.setdefault(int(pk), []).append(f"{amount} of {one.lot.item}, lot {one.lot}")
    day = f"{timezone.localdate():%d %b %Y}".lstrip("0")
    for order in Order.objects.select_for_update().filter(pk__in=told).order_by("pk"):
        text = f"On {day} it lost a hold on {'; '.join(told[order.pk])}."
        order.look_at = f"{text} {order.look_at}".strip()[:_LONGEST]
        order.save(update_fields=["look_at"])


def after_undo(sender, entry: Entry, **kwargs) -> None:
    """What an undone shipment brings back stays held for its order: it lies packed for it."""
    kind, _, pk = entry.reference.partition(":")
    if entry.kind != Entry.Kind.SHIPMENT or kind != "order" or not pk.isdecimal():
        return
    if not Order.objects.filter(pk=int(pk)).exclude(status=Order.Status.CANCELLED).exists():
        return
    lines = entry.movements.filter(role=Movement.Role.DRAWN, revalues=None).select_related(
        "lot__place", "lot__item"
    )
    for line in lines.order_by("lot"):
        holding.hold_again(holder(int(pk)), line.lot, -line.quantity)


def _open(order: Order) -> Order:
    """The order as it stands now, its row held until the transaction ends."""
    lock(order)
    order = Order.objects.select_for_update().get(pk=order.pk)
    if order.status != Order.Status.OPEN:
        raise LedgerError("Only for an open order can bags be held.")
    return order
