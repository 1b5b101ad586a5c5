"""Bags that come back from a customer: onto the shelf again, or thrown away."""

from dataclasses import dataclass
from datetime import datetime

from django.core.exceptions import ValidationError

from inventory import units
from inventory.models import Entry, Movement
from inventory.services import ledger
from inventory.services.posting import Key, LedgerError, posting
from inventory.services.reckoning import Back
from shop.models import Order, Payment, Return, Shipment
from shop.services import holds, payments, shipped, shipping


@dataclass(frozen=True)
class Refund:
    """Money that goes back with it, in the currency's minor unit."""

    amount_minor: int
    how: str = ""


@posting
def take_back(
    key: Key,
    *,
    shipment: Shipment,
    bags: dict[int, int],
    fate: str,
    replace: bool = False,
    reason: str = "",
    refund: Refund | None = None,
    happened_at: datetime | None = None,
    by,
) -> Entry:
    """Takes bags of a shipment back: the id of the line by which they left → how many.

    They come back into the lot they left, at the cost they left at; `fate` waste throws them away at
    once. `replace`: others are to be sent; otherwise the customer need not pay for them. Raises
    LedgerError where more would come back than left."""
    order = shipping.locked(shipment.order)
    if hasattr(shipment.entry, "reversed_by"):
        raise LedgerError("This shipment was undone, so nothing of it can come back.")
    if happened_at and happened_at < shipment.entry.happened_at:
        raise LedgerError("It can't come back before it left. Mend the time.")
    backs = _backs(shipment, bags)
    if not backs:
        raise LedgerError("Write how many bags came back.")
    waste = fate == Return.Fate.WASTE
    count = sum(back.quantity for back in backs) // units.MICRO
    event = ledger.Event(
        kind=Entry.Kind.RETURN,
        title=f"Came back from {order.customer}: {count} bag{'' if count == 1 else 's'} of order {order.pk}"
        + (", thrown away" if waste else ""),
        happened_at=happened_at,
        note=reason,
        reference=holds.holder(order.pk),
        backs=backs,
        draws=[ledger.Draw(back.draw.lot, back.quantity) for back in backs] if waste else [],
    )
    entry = ledger.post(key, event, by=by)
    Return.objects.create(
        shipment=shipment, entry=entry, fate=fate, replace=replace, reason=reason[:200]
    )
    order = shipped.follow(order.pk)
    holds.fit(order)
    if refund:
        _pay_back(key, order, refund, by)
    return entry


def _backs(shipment: Shipment, bags: dict[int, int]) -> list[Back]:
    wanted = {pk: count for pk, count in bags.items() if count > 0}
    lines = Movement.objects.filter(
        pk__in=wanted, entry=shipment.entry_id, role=Movement.Role.DRAWN, revalues=None
    )
    found = [
        Back(line, units.to_micro(wanted[line.pk]))
        for line in lines.select_related("lot__item").order_by("pk")
    ]
    if len(found) < len(wanted):
        raise LedgerError("Some of these bags did not leave with this parcel.")
    return found


def _pay_back(key: Key, order: Order, refund: Refund, by) -> None:
    try:
        payments.record(
            key=f"{key.text}-refund",
            order=order,
            kind=Payment.Kind.REFUND,
            amount_minor=refund.amount_minor,
            how=refund.how,
            by=by,
        )
    except ValidationError as error:
        raise LedgerError(" ".join(error.messages)) from error
