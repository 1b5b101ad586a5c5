"""When an entry may be undone, and what its lots cost after."""

from django.db.models import Sum

from inventory import queries
from inventory.models import Entry, Lot, Movement
from inventory.services.posting import LedgerError


class StillUsed(LedgerError):
    """What the entry made is used by later ones; `users` lists them, newest first."""

    def __init__(self, users: list[Entry]) -> None:
        self.users = users
        names = "; ".join(user.title for user in users[:5])
        super().__init__(f"What this made is used by later entries. Undo these first: {names}.")


def check(entry: Entry, lots: dict[int, Lot]) -> None:
    """Raises LedgerError when the entry can't be reversed now."""
    if entry.reverses_id:
        raise LedgerError("This entry is itself an undo. Post the event again instead.")
    if Entry.objects.filter(reverses=entry).exists():
        raise LedgerError("This entry was already undone.")
    if users := queries.users_of(entry):
        raise StillUsed(users)
    for row in entry.movements.values("lot").annotate(net=Sum("quantity")):
        lot = lots[row["lot"]]
        if lot.on_hand - row["net"] < lot.reserved:
            raise LedgerError(f"Orders hold part of lot {lot.number}. Release the hold first.")


def cost_of(lot: Lot) -> int | None:
    """The lot's cost from its lines: unknown while any line that still stands is unknown."""
    lines = Movement.objects.filter(lot=lot)
    standing = lines.filter(cost=None, entry__reverses=None, entry__reversed_by=None)
    if standing.exists():
        return None
    return lines.aggregate(total=Sum("cost"))["total"] or 0
