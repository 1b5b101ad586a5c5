"""Keeping the shelf true: counting a lot, throwing some of it away, undoing an entry."""

from dataclasses import dataclass
from datetime import datetime

from django.utils import timezone

from inventory import queries, signals
from inventory.models import Entry, Item, Lot
from inventory.services import ledger
from inventory.services.posting import Key, LedgerError, posting
from inventory.wording import quantity_text


@dataclass(frozen=True)
class Seen:
    """What was seen of one lot, in millionths of its stock unit; None: just what the books say."""

    lot: Lot
    counted: int | None
    reason: str = ""


class RoundRefused(LedgerError):
    """A round was not posted; `reasons` says why, by lot id."""

    def __init__(self, reasons: dict[int, str]) -> None:
        self.reasons = reasons
        super().__init__("Nothing was posted yet. Look at the lots marked below.")


@posting
def count(
    key: Key, *, lot: Lot, counted: int, reason: str = "", counted_at: datetime | None = None, by
) -> Entry:
    """Fixes on hand as of when it was counted (rule 10); what happened since still counts."""
    when = _when(counted_at)
    lot = _lock([lot])[lot.pk]
    return _count(key, lot, counted, queries.on_hand_at(lot, when), when, reason, by)


@posting
def count_round(key: Key, *, seen: list[Seen], counted_at: datetime | None = None, by) -> Entry:
    """Counts several lots as of one moment, an entry for each; all or none (`RoundRefused`).

    Returns the first entry. A lot that agrees with the books is posted too: it was looked at."""
    when = _when(counted_at)
    if not seen:
        raise LedgerError("Nothing was counted.")
    lots = _lock([one.lot for one in seen])
    books = queries.on_hand_then(lots.values(), when)
    entries, reasons = [], {}
    for one in seen:
        lot, book = lots[one.lot.pk], books[one.lot.pk]
        counted = book if one.counted is None else one.counted
        try:
            entries.append(_count(key, lot, counted, book, when, one.reason, by))
        except LedgerError as error:
            reasons[lot.pk] = str(error)
    if reasons:
        raise RoundRefused(reasons)
    return entries[0]


def _when(counted_at: datetime | None) -> datetime:
    now = timezone.now()
    if counted_at and counted_at > now:
        raise LedgerError("A count can't lie in the future. Mend the time it was counted.")
    return counted_at or now


def _lock(lots: list[Lot]) -> dict[int, Lot]:
    """In the ledger's own order, so that nobody waits for a round that waits for them."""
    found = queries.with_trust(Lot.objects.select_for_update(of=("self",)).select_related("item"))
    return {lot.pk: lot for lot in found.filter(pk__in=[lot.pk for lot in lots]).order_by("pk")}


def _count(key: Key, lot: Lot, counted: int, book: int, when: datetime, reason: str, by) -> Entry:
    """`book`: what the books say of that moment, in millionths."""
    unit = lot.item.stock_unit
    if lot.last_counted_at and lot.last_counted_at > when:
        # Its difference would be added to what the later count has fixed.
        last = timezone.localtime(lot.last_counted_at)
        raise LedgerError(
            f"{lot.number} was counted again after that, at {last:%Y-%m-%d %H:%M}, and that count "
            "stands. Leave this lot out, or mend the time."
        )
    if lot.on_hand + counted - book < 0:
        raise LedgerError(
            f"Since then {quantity_text(book - lot.on_hand, unit)} was used, which is more than "
            "you counted. Check the figure or the time."
        )
    event = counted_event(lot, counted, when, reason)
    return ledger.adjust(key, event, lot, counted - book, by=by)


def counted_event(lot: Lot, counted: int, when: datetime, reason: str) -> ledger.Event:
    """So many millionths of a lot were seen."""
    title = f"Counted {lot.item.name} {lot.number}: {quantity_text(counted, lot.item.stock_unit)}"
    return ledger.Event(Entry.Kind.COUNT, title, happened_at=when, note=reason)


@posting
def waste(
    key: Key,
    *,
    lot: Lot,
    quantity: int,
    reason: str,
    said: str = "",
    estimated: bool = False,
    reference: str = "",
    happened_at: datetime | None = None,
    by,
) -> Entry:
    """Throws part of a lot away; its cost goes with it. Holds on what is gone give way."""
    draw = ledger.Draw(lot, quantity, lost=True, said=said, estimated=estimated)
    return ledger.post(key, waste_event(draw, reason, reference, happened_at), by=by)


def waste_event(
    draw: ledger.Draw, reason: str, reference: str, happened_at: datetime | None
) -> ledger.Event:
    """So much of a lot is thrown away."""
    lot, quantity = draw.lot, draw.quantity
    amount = quantity_text(quantity, lot.item.stock_unit)
    return ledger.Event(
        kind=Entry.Kind.WASTE,
        title=f"Thrown away: {amount} {lot.item.name} {lot.number}",
        happened_at=happened_at,
        note=reason,
        reference=reference,
        draws=[draw],
        wasted=quantity if lot.item.kind == Item.Kind.LEFTOVER else 0,
    )


@posting
def undo(
    key: Key, *, entry: Entry, note: str = "", happened_at: datetime | None = None, by
) -> Entry:
    """Reverses an entry exactly, on its business date; refused while what it made is used
    (`reversal.StillUsed`)."""
    opposite = ledger.reverse(key, entry, by=by, note=note, happened_at=happened_at)
    signals.undone.send(Entry, entry=entry)
    return opposite
