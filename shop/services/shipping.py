"""Packing and shipping: bags leave for an order, all of it or a part."""

from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from inventory import units
from inventory.models import Entry, Item, Lot
from inventory.services import holding, ledger
from inventory.services.posting import Key, LedgerError, posting
from production import bag_weight
from shop import addresses, parcels, queries, ready
from shop.models import Order, OrderLine, Shipment
from shop.services import holds, shipped


class ShippingError(Exception):
    """An order can't be closed or opened so; the text says why."""


@dataclass(frozen=True)
class Packed:
    """So many bags of one of the order's lines; `of` says from which lots, empty: what is held for the
    order first, then the first expiring."""

    line: OrderLine
    bags: int
    of: tuple[tuple[Lot, int], ...] = ()


@posting
def ship(
    key: Key,
    *,
    order: Order,
    packed: list[Packed] | None = None,
    ship_to: str | None = None,
    carrier: str = "",
    tracking: str = "",
    weight_g: int | None = None,
    look_at: str = "",
    happened_at: datetime | None = None,
    by,
) -> Entry:
    """Sends these bags, or (None) all that is still to come, to the customer's address unless another is
    given.

    `weight_g`: what the scale says of the packed parcel; None: what the bags weigh, where that is known.
    Raises LedgerError naming each product that is short and by how much: the bench's rule does not
    hold here, a bag that isn't there can't leave. Lots on hold, at a stall or with a consignee stay, and
    so do bags that are held for another order."""
    holds.lock(order)
    order = locked(order)
    _refuse_unless_open(order)
    parcel = _parcel(order, packed)
    _refuse_short(order, parcel)
    draws = [draw for one in parcel for draw in _draws(order, one)]
    event = ledger.Event(
        kind=Entry.Kind.SHIPMENT,
        title=f"Shipped order {order.pk} to {order.customer}",
        happened_at=happened_at,
        reference=holds.holder(order.pk),
        look_at=look_at,
        draws=draws,
    )
    entry = ledger.post(key, event, by=by)
    Shipment.objects.create(
        order=order,
        entry=entry,
        ship_to=addresses.tidy(addresses.of(order) if ship_to is None else ship_to),
        carrier=carrier,
        tracking=tracking,
        weight_g=_weight(entry) if weight_g is None else weight_g,
    )
    shipped.follow(order.pk)
    holds.fit(order)
    return entry


@transaction.atomic
def close(order: Order) -> Order:
    """The rest of an order is not coming: what left is all of it. Its holds are given back.

    Raises ShippingError where nothing left: such an order is cancelled instead."""
    order = locked(order)
    if order.status != Order.Status.OPEN:
        raise ShippingError(f"Only an open order can be closed; this one is {order.status}.")
    if not queries.standing_shipments().filter(order=order).exists():
        raise ShippingError("Nothing has left for this order. Cancel it instead.")
    for line in order.lines.all():
        if line.remaining:
            line.dropped += line.remaining
            line.save(update_fields=["dropped"])
    order = shipped.follow(order.pk)
    holds.release_order(order)
    return order


@transaction.atomic
def reopen(order: Order) -> Order:
    """What the order was closed without is to come after all."""
    order = locked(order)
    if order.status == Order.Status.CANCELLED:
        raise ShippingError("This order was cancelled.")
    if not order.lines.filter(dropped__gt=0).update(dropped=0):
        raise ShippingError("This order was not closed with anything missing.")
    return shipped.follow(order.pk)


@transaction.atomic
def describe(
    shipment: Shipment, *, ship_to: str, carrier: str, tracking: str, weight_g: int | None
) -> None:
    """Mends the facts beside a shipment: a tracking number often comes later. Without a weight, it is
    reckoned again."""
    shipment.ship_to = addresses.tidy(ship_to)
    shipment.carrier, shipment.tracking = carrier, tracking
    shipment.weight_g = _weight(shipment.entry) if weight_g is None else weight_g
    shipment.save(update_fields=["ship_to", "carrier", "tracking", "weight_g"])


def more_than_ordered(packed: list[Packed]) -> list[str]:
    """Lines of which more would leave than is still to come, each a question."""
    return [
        f"{one.line.product}: {one.bags} in this parcel, only {one.line.remaining} still to come. "
        "The invoice counts what was ordered."
        for one in packed
        if one.bags > one.line.remaining
    ]


def short_of(one: Packed, stock: ready.Stock) -> str:
    """ "5 to send, 2 ready, 3 short (3 on hold)", or nothing where enough stands ready."""
    short = one.bags - stock.ready
    if short <= 0:
        return ""
    return f"{one.bags} to send, {stock.ready} ready, {short} short{stock.why}"


def bags_weigh(sent: list[parcels.Sent]) -> bag_weight.Weight:
    """What these bags weigh together, without box and filling."""
    of_one = bag_weight.of_lots({one.lot.pk: one.lot for one in sent}.values())
    return bag_weight.together(of_one[one.lot.pk].times(one.bags) for one in sent)


def _weight(entry: Entry) -> int | None:
    grams = bags_weigh(parcels.contents([entry.pk])[entry.pk]).grams
    return None if grams is None else round(grams)


def locked(order: Order) -> Order:
    """The order as it stands now, its row held until the transaction ends."""
    return Order.objects.select_for_update(of=("self",)).select_related("customer").get(pk=order.pk)


def _refuse_unless_open(order: Order) -> None:
    if order.status == Order.Status.SHIPPED:
        raise LedgerError("This order has shipped. Undo its shipment first.")
    if order.status == Order.Status.CANCELLED:
        raise LedgerError("This order was cancelled.")


def _parcel(order: Order, packed: list[Packed] | None) -> list[Packed]:
    lines = {line.pk: line for line in order.lines.select_related("product__item")}
    if not lines:
        raise LedgerError("This order has no lines. Add what was ordered first.")
    if packed is None:
        return [Packed(line, line.remaining) for line in lines.values() if line.remaining]
    found = [one for one in packed if one.bags > 0 and one.line.pk in lines]
    if not found:
        raise LedgerError("The parcel is empty. Write how many bags of at least one product go.")
    return found


def _refuse_short(order: Order, parcel: list[Packed]) -> None:
    items = {one.line.product.item_id: one.line.product.item for one in parcel}
    there = ready.of(order.pk, items)
    short = [
        f"{one.line.product}: {text}"
        for one in parcel
        if (text := short_of(one, there[one.line.product.item_id]))
    ]
    if short:
        raise LedgerError("Not enough bags. " + "; ".join(short) + ".")


def _draws(order: Order, one: Packed) -> list[ledger.Draw]:
    holder, item = holds.holder(order.pk), one.line.product.item
    if not one.of:
        taken = holding.take(holder, item, units.to_micro(one.bags))
    else:
        taken = [(lot, _from_lot(holder, item, lot, bags)) for lot, bags in one.of if bags]
    return [ledger.Draw(lot, quantity) for lot, quantity in taken]


def _from_lot(holder: str, item: Item, lot: Lot, bags: int) -> int:
    """Makes so much of this lot free for the order, out of what it holds there; millionths."""
    quantity = units.to_micro(bags)
    if lot.item_id != item.pk:
        raise LedgerError(f"Lot {lot.number} holds no {item.name}.")
    held = sum(row.quantity for row in holding.of(holder).filter(lot=lot))
    there = held + lot.available if lot.can_be_held else 0
    if quantity > there:
        raise LedgerError(
            f"{item.name}, lot {lot.number}: {bags} to send, {there // units.MICRO} ready"
            f"{ready.why_not(lot)}."
        )
    holding.hold_of_lot(holder, lot, max(0, held - quantity))
    return quantity
