"""What leaves the shelf without being sold: given away, or used by the house itself."""

from datetime import datetime

from inventory.models import Entry, Item
from inventory.services import ledger
from inventory.services.moving import Part
from inventory.services.posting import Key, LedgerError, posting
from inventory.wording import quantity_text

#: Kinds of entry, and what their title begins with.
KINDS = {Entry.Kind.GIFT: "Given away", Entry.Kind.OWN_USE: "Own use"}


@posting
def give(
    key: Key,
    *,
    parts: list[Part],
    kind: str,
    reason: str,
    said: str = "",
    happened_at: datetime | None = None,
    by,
) -> Entry:
    """Takes these parts of one item off the shelf as a gift or own use; their cost goes with them.

    No sale: no money comes. Raises LedgerError with amounts when more is asked for than is free."""
    if kind not in KINDS:
        raise LedgerError("Say whether it was given away or used here.")
    if not parts:
        raise LedgerError("Say how much left the shelf.")
    item = parts[0].lot.item
    if item.kind == Item.Kind.LEFTOVER:
        raise LedgerError(
            f"{item.name} is a leftover: pour it into another batch, or throw it away."
        )
    for part in parts:
        part.lot.refresh_from_db(fields=["held"])
        if part.lot.held:
            raise LedgerError(f"Lot {part.lot.number} is on hold. Release the hold first.")
    amount = quantity_text(sum(part.quantity for part in parts), item.stock_unit)
    lots = ", ".join(part.lot.printed for part in parts)
    event = ledger.Event(
        kind=kind,
        title=f"{KINDS[kind]}: {amount} {item.name} of {lots}",
        happened_at=happened_at,
        note=reason,
        draws=[ledger.Draw(part.lot, part.quantity, said=said) for part in parts],
    )
    return ledger.post(key, event, by=by)
