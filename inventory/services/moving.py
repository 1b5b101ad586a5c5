"""Moving goods to another place: a part of a lot becomes a lot of its own where it now lies.

Its number is the printed code and a count of moves, so that bags keep the code on their label. Cost and
composition follow by the ledger's one rule: all of what was drawn goes into what was made.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from inventory import units
from inventory.models import Entry, Item, Lot, Place
from inventory.services import ledger, on_hold
from inventory.services.posting import Key, LedgerError, posting
from inventory.wording import quantity_text

#: Room in a lot's number for "/m" and the count of moves.
_LONGEST = 34


@dataclass(frozen=True)
class Part:
    """`quantity` millionths of a lot."""

    lot: Lot
    quantity: int


class MoveRefused(LedgerError):
    """Nothing was moved; `reasons` says why, by lot id."""

    def __init__(self, reasons: dict[int, str]) -> None:
        self.reasons = reasons
        super().__init__(" ".join(reasons.values()))


@posting
def move(
    key: Key,
    *,
    parts: list[Part],
    place: Place | None,
    reference: str = "",
    note: str = "",
    happened_at: datetime | None = None,
    by,
) -> Entry:
    """Moves each part to the place (None: at home, no place named), an entry for each; all or none.

    Returns the first entry. Raises MoveRefused with amounts where a part is more than is free."""
    if not parts:
        raise LedgerError("Nothing was chosen. Say how much of what goes along.")
    lots = _lock(parts)
    reasons = {part.lot.pk: reason for part in parts if (reason := _refusal(lots, part, place))}
    if reasons:
        raise MoveRefused(reasons)
    entries = [
        _move(key, lots[p.lot.pk], p.quantity, place, reference, note, happened_at, by)
        for p in parts
    ]
    return entries[0]


def may_move(item: Item) -> bool:
    """A leftover stays the batch that it is: its composition is told by its own lot."""
    return item.kind != Item.Kind.LEFTOVER


def parts_of(item: Item, quantity: int, lots: Iterable[Lot]) -> list[Part]:
    """`quantity` millionths of an item out of these lots, in the order given.

    Raises LedgerError naming what is short and by how much."""
    parts, left = [], quantity
    for lot in lots:
        take = min(left, lot.available)
        if take > 0:
            parts.append(Part(lot, take))
            left -= take
    if left:
        unit = item.stock_unit
        raise LedgerError(
            f"{item.name}: {quantity_text(quantity, unit)} wanted, "
            f"{quantity_text(quantity - left, unit)} free, {quantity_text(left, unit)} short."
        )
    return parts


def _move(key, lot: Lot, quantity: int, place, reference, note, happened_at, by) -> Entry:
    there = _open(lot, place)
    amount = quantity_text(quantity, lot.item.stock_unit)
    event = ledger.Event(
        kind=Entry.Kind.MOVE,
        title=f"Moved {amount} {lot.item.name} from lot {lot.printed} to {place or 'home'}",
        happened_at=happened_at,
        note=note,
        reference=reference,
        draws=[ledger.Draw(lot, quantity)],
        makes=[ledger.Make(there, quantity, base=_base(lot, quantity))],
    )
    return ledger.post(key, event, by=by)


def _base(lot: Lot, quantity: int) -> int:
    """Fresh plastisol is base; of everything else a lot tells it by its composition."""
    return quantity if lot.item.kind == Item.Kind.PLASTISOL else 0


def _open(lot: Lot, place: Place | None) -> Lot:
    """A lot for the moved part: all that is known of the first, at its new place."""
    return Lot.objects.create(
        item=lot.item,
        number=_number(lot),
        supplier=lot.supplier,
        supplier_lot=lot.supplier_lot,
        form=lot.form,
        place=place,
        received_on=lot.received_on,
        expires_on=lot.expires_on,
        ml_per_drop=lot.ml_per_drop,
        strength=lot.strength,
        melts=lot.melts,
    )


def _number(lot: Lot) -> str:
    start = f"{lot.printed[:_LONGEST]}{Lot.MOVED}"
    taken = Lot.objects.filter(number__startswith=start).values_list("number", flat=True)
    counts = [int(tail) for number in taken if (tail := number[len(start) :]).isdecimal()]
    return f"{start}{max(counts, default=0) + 1}"


def _lock(parts: list[Part]) -> dict[int, Lot]:
    """The lots and those that carry their printed codes (whose row guards the count of moves), in the
    ledger's own order."""
    wanted = {part.lot.pk for part in parts}
    codes = {part.lot.printed for part in parts}
    roots = Lot.objects.filter(number__in=codes).values_list("pk", flat=True)
    found = Lot.objects.select_for_update(of=("self",)).select_related("item", "place")
    return {lot.pk: lot for lot in found.filter(pk__in=wanted | set(roots)).order_by("pk")}


def _refusal(lots: dict[int, Lot], part: Part, place: Place | None) -> str:
    """Why this part can't be moved; empty: it can."""
    lot, unit = lots[part.lot.pk], part.lot.item.stock_unit
    name = f"{lot.item.name}, lot {lot.number}"
    if not may_move(lot.item):
        return f"{name} is a leftover: it stays the lot that it is. Write on its lid where it lies."
    if lot.held:
        return f"{on_hold.said([lot])[0]} It stays where it is. Release the hold first."
    if lot.place_id == (place.pk if place else None):
        return f"{name} lies there already. Choose another place."
    if part.quantity <= 0:
        return f"{name}: say how much is moved, more than nothing."
    if unit == "each" and part.quantity % units.MICRO:
        return f"{name} is counted: move a whole number."
    if part.quantity > lot.available:
        held = f", {quantity_text(lot.reserved, unit)} held for orders" if lot.reserved else ""
        return (
            f"{name}: {quantity_text(part.quantity, unit)} asked for, "
            f"{quantity_text(lot.on_hand, unit)} on hand{held}, "
            f"{quantity_text(part.quantity - lot.available, unit)} short."
        )
    return ""
