"""Keeping the shelf true: counting a lot, throwing some of it away, undoing an entry."""

from datetime import datetime

from django.utils import timezone

from inventory import queries
from inventory.models import Entry, Item, Lot
from inventory.services import ledger
from inventory.services.posting import Key, LedgerError, posting
from inventory.wording import quantity_text


@posting
def count(
    key: Key, *, lot: Lot, counted: int, reason: str = "", counted_at: datetime | None = None, by
) -> Entry:
    """Fixes on hand as of when it was counted (rule 10); what happened since still counts."""
    when = counted_at or timezone.now()
    if when > timezone.now():
        raise LedgerError("A count can't lie in the future. Mend the time it was counted.")
    lot = Lot.objects.select_for_update(of=("self",)).select_related("item").get(pk=lot.pk)
    difference = counted - queries.on_hand_at(lot, when)
    if lot.on_hand + difference < 0:
        raise LedgerError(
            f"Since then {quantity_text(counted - lot.on_hand - difference, lot.item.stock_unit)} was "
            "used, which is more than you counted. Check the figure or the time."
        )
    title = f"Counted {lot.item.name} {lot.number}: {quantity_text(counted, lot.item.stock_unit)}"
    event = ledger.Event(Entry.Kind.COUNT, title, happened_at=when, note=reason)
    return ledger.adjust(key, event, lot, difference, by=by)


@posting
def waste(
    key: Key,
    *,
    lot: Lot,
    quantity: int,
    reason: str,
    reference: str = "",
    happened_at: datetime | None = None,
    by,
) -> Entry:
    """Throws part of a lot away; its cost goes with it."""
    amount = quantity_text(quantity, lot.item.stock_unit)
    event = ledger.Event(
        kind=Entry.Kind.WASTE,
        title=f"Thrown away: {amount} {lot.item.name} {lot.number}",
        happened_at=happened_at,
        note=reason,
        reference=reference,
        draws=[ledger.Draw(lot, quantity)],
        wasted=quantity if lot.item.kind == Item.Kind.LEFTOVER else 0,
    )
    return ledger.post(key, event, by=by)


@posting
def undo(
    key: Key, *, entry: Entry, note: str = "", happened_at: datetime | None = None, by
) -> Entry:
    """Reverses an entry exactly, on its business date; refused while what it made is used
    (`reversal.StillUsed`)."""
    return ledger.reverse(key, entry, by=by, note=note, happened_at=happened_at)
