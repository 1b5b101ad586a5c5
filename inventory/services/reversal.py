"""When an entry may be undone."""

from collections import defaultdict

from inventory import queries
from inventory.models import Entry, Lot
from inventory.services import standing
from inventory.services.posting import LedgerError


class StillUsed(LedgerError):
    """What the entry made is used by later ones; `users` lists them, newest first."""

    def __init__(self, users: list[Entry]) -> None:
        self.users = users
        names = "; ".join(user.title for user in users[:5])
        super().__init__(f"What this made is used by later entries. Undo these first: {names}.")


def check(entry: Entry, lots: dict[int, Lot]) -> None:
    """Raises LedgerError when the entry can't be reversed now."""
    check_once(entry)
    if users := queries.users_of(entry):
        raise StillUsed(users)
    net = brought(entry)
    # A hold is no use of what the entry made: like a loss, an undo makes the newest holds give way.
    for pk, quantity in net.items():
        if lots[pk].on_hand < quantity:
            raise LedgerError(
                f"Less is left of lot {lots[pk].number} than this brought in. "
                "Undo first what was counted since."
            )


def brought(entry: Entry) -> dict[int, int]:
    """Lot id → millionths that the entry as it stands added to it (negative: took)."""
    net: dict[int, int] = defaultdict(int)
    for line in standing.of_entry(entry):
        net[line.movement.lot_id] += line.now.quantity + line.found.quantity
    return dict(net)


def holds_lost(entry: Entry) -> list[tuple[Lot, int]]:
    """The holds that would give way if the entry were undone: lot, millionths."""
    net = brought(entry)
    lots = Lot.objects.filter(pk__in=net, reserved__gt=0).select_related("item")
    lost = [(lot, lot.reserved - max(0, lot.on_hand - net[lot.pk])) for lot in lots.order_by("pk")]
    return [(lot, quantity) for lot, quantity in lost if quantity > 0]


def check_once(entry: Entry) -> None:
    """Raises LedgerError for an entry that can't be undone or amended at all."""
    if entry.reverses_id:
        raise LedgerError("This entry is itself an undo. Post the event again instead.")
    if entry.kind == Entry.Kind.REVALUATION:
        raise LedgerError("This entry follows from an amended one. Amend or undo that one instead.")
    if Entry.objects.filter(reverses=entry).exists():
        raise LedgerError("This entry was already undone.")
