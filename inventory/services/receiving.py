"""Goods coming in from outside."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.utils import timezone

from inventory.models import Entry, Item, Lot, Place, Supplier
from inventory.services import ledger, lots
from inventory.services.posting import Key, posting
from inventory.wording import quantity_text


@dataclass(frozen=True)
class Arrival:
    """One lot that came: millionths of the stock unit, cost in millionths of the currency unit
    (None: unknown)."""

    item: Item
    quantity: int
    cost: int | None
    supplier: Supplier | None = None
    supplier_lot: str = ""
    expires_on: date | None = None
    place: Place | None = None
    said: str = ""
    estimated: bool = False


def proposed_expiry(item: Item, received_on: date) -> date | None:
    """The day it would expire by the item's shelf life; None where nobody wrote that down."""
    return received_on + timedelta(days=item.shelf_life_days) if item.shelf_life_days else None


@posting
def receive(
    key: Key,
    *,
    arrivals: list[Arrival],
    received_on: date | None = None,
    note="",
    happened_at: datetime | None = None,
    by,
) -> Entry:
    """Makes a lot for each arrival and posts one receipt."""
    return bring_in(key, Entry.Kind.RECEIPT, arrivals, received_on, happened_at, note, by)


@posting
def open_shelf(
    key: Key,
    *,
    arrivals: list[Arrival],
    received_on: date | None = None,
    note="",
    happened_at: datetime | None = None,
    by,
) -> Entry:
    """What was on the shelf when the books were opened: one entry for all of it."""
    return bring_in(key, Entry.Kind.OPENING, arrivals, received_on, happened_at, note, by)


def bring_in(
    key: Key,
    kind: str,
    arrivals: list[Arrival],
    received_on: date | None,
    happened_at: datetime | None,
    note: str,
    by,
    *,
    reference: str = "",
    look_at: str = "",
) -> Entry:
    """Makes a lot for each arrival and posts one entry whose lines come in the same order. For services
    that are a posting of their own."""
    when = timezone.localtime(happened_at)
    day = received_on or when.date()
    if happened_at is None and day != when.date():
        when = when.replace(year=day.year, month=day.month, day=day.day)
    makes = []
    for arrival in arrivals:
        lot = lots.open_lot(arrival.item, Lot.Form.PACK, day, **lot_facts(arrival))
        makes.append(make_of(arrival, lot))
    event = ledger.Event(
        kind=kind,
        title=title(kind, arrivals),
        happened_at=when,
        business_date=day,
        note=note,
        reference=reference,
        look_at=look_at,
        makes=makes,
    )
    return ledger.post(key, event, by=by)


def lot_facts(arrival: Arrival) -> dict[str, Any]:
    """What is written down of the lot that an arrival becomes."""
    return {
        "supplier": arrival.supplier,
        "supplier_lot": arrival.supplier_lot,
        "expires_on": arrival.expires_on,
        "place": arrival.place or arrival.item.place,
    }


def make_of(arrival: Arrival, lot: Lot) -> ledger.Make:
    """The line that brings an arrival into its lot."""
    return ledger.Make(
        lot,
        arrival.quantity,
        cost=arrival.cost,
        said=arrival.said,
        estimated=arrival.estimated,
    )


def title(kind: str, arrivals: list[Arrival]) -> str:
    """The words that a receipt stands under in the ledger."""
    if kind == Entry.Kind.OPENING:
        return f"Opening shelf: {len(arrivals)} lots"
    first = arrivals[0]
    text = f"Received {quantity_text(first.quantity, first.item.stock_unit)} {first.item.name}"
    if len(arrivals) > 1:
        text += f" and {len(arrivals) - 1} more"
    return f"{text} from {first.supplier}" if first.supplier else text
