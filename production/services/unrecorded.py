"""Plastic without papers: a leftover whose color nobody wrote down, taken in so that it can be melted again."""

from datetime import datetime

from django.utils import timezone

from inventory.models import Entry, Item, Lot
from inventory.services import ledger, lots
from inventory.services.posting import Key, posting
from inventory.wording import quantity_text
from production.services.batches import unrecorded_item

#: What its lot numbers start with.
LETTER = "U"


@posting
def take_in(
    key: Key,
    *,
    quantity: int,
    shape: str,
    grade: Item | None = None,
    melts: int = 1,
    note: str = "",
    said: str = "",
    happened_at: datetime | None = None,
    by,
) -> Entry:
    """Makes a lot of `quantity` millionths of a mL of plastic of unrecorded color; its cost is unknown.

    `shape`: puck, trim or liquid (Lot.Form). `grade`: its base, where that is known. `melts`: how
    often it was made liquid, as far as anybody remembers. `note` says what it looks like."""
    when = happened_at or timezone.now()
    item = unrecorded_item(grade)
    lot = lots.open_lot(item, shape, timezone.localdate(when), letter=LETTER, melts=melts)
    event = ledger.Event(
        kind=Entry.Kind.OPENING,
        title=f"Plastic without papers: {quantity_text(quantity, 'mL')}, {Lot.Form(shape).label}",
        happened_at=when,
        note=note,
        makes=[ledger.Make(lot, quantity, base=quantity, cost=None, said=said)],
    )
    return ledger.post(key, event, by=by)
