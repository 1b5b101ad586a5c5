"""Thinning a colorant: bottle and oil go into one lot of the same colorant, weaker and larger.

Its composition says how much of it is colorant and how much oil, so whatever draws from it later
gets the right amount of both; `strength` is for planning: the amount to add is dose ÷ strength.
"""

from datetime import datetime
from decimal import Decimal

from django.utils import timezone

from inventory import allocation, units
from inventory.models import Entry, Item, Lot
from inventory.services import ledger, lots
from inventory.services.posting import Key, LedgerError, posting
from inventory.wording import quantity_text

#: What the number of a thinned lot starts with: diluted.
LETTER = "D"


@posting
def thin(
    key: Key,
    *,
    lot: Lot,
    quantity: int,
    oil_lot: Lot,
    oil_quantity: int,
    ml_per_drop: Decimal | None = None,
    happened_at: datetime | None = None,
    by,
) -> Entry:
    """Draws both lots, never below zero, and makes one; quantities in millionths of a mL.

    Strength = the bottle's own × its mL ÷ the new mL. Raises LedgerError."""
    _check(lot, quantity, oil_lot, oil_quantity)
    made = quantity + oil_quantity
    strength = units.from_micro(allocation.portion(units.to_micro(lot.strength), quantity, made))
    if not strength:
        raise LedgerError("That is too thin to keep count of. Take less oil.")
    happened_at = happened_at or timezone.now()
    thinned = lots.open_lot(
        lot.item,
        Lot.Form.PACK,
        timezone.localdate(happened_at),
        letter=LETTER,
        expires_on=min(filter(None, (lot.expires_on, oil_lot.expires_on)), default=None),
        place=lot.place,
        ml_per_drop=ml_per_drop,
        strength=strength,
    )
    event = ledger.Event(
        kind=Entry.Kind.THINNING,
        title=(
            f"Thinned {quantity_text(quantity, 'mL')} {lot.item.name} with "
            f"{quantity_text(oil_quantity, 'mL')} {oil_lot.item.name}"
        ),
        happened_at=happened_at,
        draws=[ledger.Draw(lot, quantity), ledger.Draw(oil_lot, oil_quantity)],
        makes=[ledger.Make(thinned, made)],
    )
    return ledger.post(key, event, by=by)


def _check(lot: Lot, quantity: int, oil_lot: Lot, oil_quantity: int) -> None:
    if lot.item.kind != Item.Kind.COLORANT:
        raise LedgerError(f"{lot.item.name} is no colorant: only colorants are thinned.")
    if oil_lot.item.kind != Item.Kind.ADDITIVE:
        raise LedgerError(f"{oil_lot.item.name} is no additive: thin with an oil from the shelf.")
    for item in (lot.item, oil_lot.item):
        if item.stock_unit != "mL":
            raise LedgerError(
                f"{item.name} is stocked in {item.stock_unit}; thinning goes by mL. Stock it in mL."
            )
    if quantity <= 0 or oil_quantity <= 0:
        raise LedgerError("Say how much of the bottle and how much oil: both more than zero.")
