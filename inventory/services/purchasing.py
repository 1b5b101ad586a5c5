"""Ordering from suppliers, and what came of it."""

from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from django.db import IntegrityError, transaction

from inventory import deliveries
from inventory.models import (
    Entry,
    Pack,
    PurchaseLine,
    PurchaseOrder,
    PurchaseReceipt,
    Supplier,
)
from inventory.services import lots, receiving
from inventory.services.posting import Key, LedgerError, posting
from inventory.wording import quantity_text

State = PurchaseOrder.State


@dataclass(frozen=True)
class Wanted:
    """So many of a pack, at the price of one in the minor unit."""

    pack: Pack
    packs: int
    price_minor: int


@dataclass(frozen=True)
class Delivery:
    """What came on one line. `price_minor`: the real price of one pack, to be kept with the pack; None
    leaves the pack's price as it is."""

    line: PurchaseLine
    arrival: receiving.Arrival
    price_minor: int | None = None


def order(
    *,
    key: str,
    supplier: Supplier,
    wanted: list[Wanted],
    ordered_on: date,
    shipping_minor: int = 0,
    notes: str = "",
) -> PurchaseOrder:
    """Writes down an order with its expected day; the same key gives the same order again.

    Raises LedgerError when nothing is ordered or a pack is another supplier's."""
    if first := PurchaseOrder.objects.filter(key=key).first():
        return first
    if not wanted:
        raise LedgerError("Nothing is on this order. Give at least one pack a number.")
    if any(one.pack.supplier_id != supplier.pk for one in wanted):
        raise LedgerError(f"A pack on this order is not sold by {supplier}.")
    try:
        with transaction.atomic():
            return _written(key, supplier, wanted, ordered_on, shipping_minor, notes)
    except IntegrityError:
        # Two presses at once: the other one won the key.
        if first := PurchaseOrder.objects.filter(key=key).first():
            return first
        raise


def _written(key, supplier, wanted, ordered_on, shipping_minor, notes) -> PurchaseOrder:
    made = PurchaseOrder.objects.create(
        supplier=supplier,
        number=lots.next_number("PO", ordered_on),
        key=key,
        ordered_on=ordered_on,
        expected_on=ordered_on + timedelta(days=supplier.lead_time_days),
        shipping_minor=shipping_minor,
        notes=notes,
    )
    PurchaseLine.objects.bulk_create(
        PurchaseLine(
            order=made,
            item=one.pack.item,
            pack=one.pack,
            pack_name=one.pack.name,
            pack_quantity=one.pack.quantity,
            packs=one.packs,
            price_minor=one.price_minor,
        )
        for one in wanted
    )
    return made


@posting
def receive(
    key: Key,
    *,
    order: PurchaseOrder,
    delivered: list[Delivery],
    received_on: date,
    note: str = "",
    happened_at: datetime | None = None,
    by,
) -> Entry:
    """Posts one receipt for what came on an order, a lot for each delivery, and closes the order when all
    of it is there. Raises LedgerError for a cancelled order or a day before it was ordered."""
    held = _held(order)
    if held.state == State.CANCELLED:
        raise LedgerError(
            f"{held} was cancelled. Open it again first, or receive without an order."
        )
    if received_on < held.ordered_on:
        raise LedgerError(
            f"{held} was ordered on {held.ordered_on:%Y-%m-%d}: it can't have come before that."
        )
    arrivals = [replace(one.arrival, supplier=held.supplier) for one in delivered]
    entry = receiving.bring_in(
        key,
        Entry.Kind.RECEIPT,
        arrivals,
        received_on,
        happened_at,
        note,
        by,
        reference=f"purchase:{held.pk}",
        look_at=_surplus(held, delivered),
    )
    made = entry.movements.order_by("pk")
    PurchaseReceipt.objects.bulk_create(
        PurchaseReceipt(line=one.line, entry=entry, lot_id=line.lot_id, quantity=line.quantity)
        for one, line in zip(delivered, made, strict=True)
    )
    for one in delivered:
        if one.price_minor is not None and one.line.pack_id:
            _keep_price(one.line, one.price_minor)
    if held.state == State.OPEN and not missing(held):
        _set_state(held, State.RECEIVED)
    return entry


def _surplus(order: PurchaseOrder, delivered: list[Delivery]) -> str:
    """Why someone should look at it: more came than was ordered."""
    lines = {line.pk: line for line in deliveries.with_received(order.lines.all())}
    for one in delivered:
        line = lines[one.line.pk]
        more = line.received + one.arrival.quantity - line.quantity
        if more > 0:
            text = quantity_text(more, one.arrival.item.stock_unit)
            return f"{text} {one.arrival.item} more than {order} asked for."
    return ""


def missing(order: PurchaseOrder) -> list[PurchaseLine]:
    """Lines of which something is still to come, with what was `received`."""
    lines = deliveries.with_received(order.lines.all())
    return [line for line in lines if line.received < line.quantity]


@transaction.atomic
def close(order: PurchaseOrder) -> None:
    """No more will come: the rest no longer counts as on order."""
    held = _held(order)
    if held.state != State.OPEN:
        raise LedgerError(f"{held} is not on its way: it is {held.get_state_display()}.")
    received = any(line.received for line in deliveries.with_received(held.lines.all()))
    _set_state(held, State.RECEIVED if received else State.CANCELLED)


@transaction.atomic
def reopen(order: PurchaseOrder) -> None:
    """It comes after all."""
    held = _held(order)
    if not missing(held):
        raise LedgerError(f"All of {held} is there already.")
    _set_state(held, State.OPEN)


@transaction.atomic
def expect(order: PurchaseOrder, *, expected_on: date, notes: str) -> None:
    """Another day on which it is expected. Raises LedgerError for one before it was ordered."""
    held = _held(order)
    if expected_on < held.ordered_on:
        raise LedgerError("It can't come before it was ordered. Mend the day.")
    PurchaseOrder.objects.filter(pk=held.pk).update(expected_on=expected_on, notes=notes)


def after_undo(*, entry: Entry, **_signal) -> None:
    """A receipt was undone: its order waits for those goods again."""
    orders = PurchaseOrder.objects.filter(
        lines__receipts__entry=entry, state=State.RECEIVED
    ).distinct()
    for one in orders:
        if missing(one):
            _set_state(one, State.OPEN)


def _held(order: PurchaseOrder) -> PurchaseOrder:
    rows = PurchaseOrder.objects.select_for_update(of=("self",)).select_related("supplier")
    return rows.get(pk=order.pk)


def _set_state(order: PurchaseOrder, state: str) -> None:
    PurchaseOrder.objects.filter(pk=order.pk).update(state=state)
    order.state = state


def _keep_price(line: PurchaseLine, price_minor: int) -> None:
    """The price paid becomes that of the pack, or of the break that so many packs reach."""
    pack = Pack.objects.prefetch_related("breaks").get(pk=line.pack_id)
    steps = [step for step in pack.breaks.all() if step.from_packs <= line.packs]
    row = steps[-1] if steps else pack
    row.price_minor = price_minor
    row.save(update_fields=["price_minor"])
