"""Holding a part of a lot for something named in text ("order:12"), and giving it back.

What is held can't be drawn by anybody else: the ledger looks at what is available. When a lot falls
below what is held of it (a loss, a count, an undo), the newest holds give way (`give_way`), and whoever
holds is told (`inventory.signals.holds_lost`)."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db import transaction
from django.db.models import F, QuerySet, Sum

from inventory.models import Item, Lot, Reservation
from inventory.services.posting import LedgerError, retried
from inventory.units import MICRO
from inventory.wording import quantity_text


@dataclass(frozen=True)
class Lost:
    """So much (millionths) of a lot that a holder can no longer count on."""

    holder: str
    lot: Lot
    quantity: int


class NotEnough(LedgerError):
    """Less is free than was asked for; `left` says how much is (millionths)."""

    def __init__(self, item: Item, wanted: int, left: int) -> None:
        self.item, self.wanted, self.left = item, wanted, left
        unit = item.stock_unit
        there = f"only {quantity_text(left, unit)} free" if left > 0 else "none is free"
        super().__init__(f"{item.name}: {quantity_text(wanted, unit)} asked for, {there}.")


def of(holder: str) -> QuerySet[Reservation]:
    """What a holder holds, the lot that goes first before the others."""
    found = Reservation.objects.filter(holder=holder).select_related("lot__item", "lot__place")
    return found.order_by(F("lot__expires_on").asc(nulls_last=True), "lot__received_on", "lot_id")


@retried
@transaction.atomic
def reserve(holder: str, item: Item, quantity: int) -> list[tuple[Lot, int]]:
    """Holds `quantity` millionths of an item, first expiring first, then first in.

    Raises NotEnough, and holds nothing, when less is free: at home, on no hold, held by nobody."""
    return [
        (lot, _hold(holder, lot, taken)) for lot, taken in _free(item, quantity, _lock(item=item))
    ]


@retried
@transaction.atomic
def reserve_up_to(holder: str, item: Item, quantity: int) -> int:
    """As `reserve`, but as much of it as is free; how much that was."""
    lots = _lock(item=item)
    quantity = min(quantity, sum(_to_have(lot) for lot in lots))
    return sum(_hold(holder, lot, taken) for lot, taken in _free(item, quantity, lots))


@retried
@transaction.atomic
def hold_of_lot(holder: str, lot: Lot, quantity: int) -> None:
    """From now on the holder holds just `quantity` millionths of this lot, 0 for none of it.

    Raises NotEnough, and leaves all as it was, when there is less to have."""
    lot = _lock(pk=lot.pk)[0]
    rows = list(Reservation.objects.filter(holder=holder, lot=lot).order_by("-id"))
    has = sum(row.quantity for row in rows)
    if quantity <= has:
        _shrink(lot, rows, has - quantity)
        return
    left = has + _to_have(lot)
    if quantity > left:
        raise NotEnough(lot.item, quantity, left)
    _hold(holder, lot, quantity - has)


@transaction.atomic
def hold_again(holder: str, lot: Lot, quantity: int) -> int:
    """Holds what came back to a lot for whoever had it, as much of it as is free; how much that was."""
    lot = _lock(pk=lot.pk)[0]
    quantity = min(quantity, _to_have(lot))
    return _hold(holder, lot, quantity) if quantity > 0 else 0


@retried
@transaction.atomic
def release(holder: str, item: Item | None = None, quantity: int | None = None) -> int:
    """Gives back what a holder holds, or up to `quantity` of one item; newest first. What was freed."""
    rows = Reservation.objects.filter(holder=holder)
    rows = rows.filter(lot__item=item) if item else rows
    lots = {lot.pk: lot for lot in _lock(pk__in=list(rows.values_list("lot", flat=True)))}
    freed = 0
    for row in rows.filter(lot__in=lots).order_by("-id"):
        if quantity is None or freed < quantity:
            most = row.quantity if quantity is None else quantity - freed
            freed += _shrink(lots[row.lot_id], [row], most)
    return freed


@transaction.atomic
def take(holder: str, item: Item, quantity: int) -> list[tuple[Lot, int]]:
    """The lots from which `quantity` millionths leave for a holder: its own holds first, then free lots.

    What is taken of its holds is free when this returns, so that the ledger lets it be drawn: call it in
    the transaction that posts the draws. Raises NotEnough when both together are less."""
    lots = {lot.pk: lot for lot in _lock(item=item)}
    taken: dict[int, int] = {}
    left = quantity
    for row in of(holder).filter(lot__item=item, lot__held=False):
        part = min(left, row.quantity)
        if part:
            left -= _shrink(lots[row.lot_id], [row], part)
            taken[row.lot_id] = taken.get(row.lot_id, 0) + part
    if left:
        # What was just given back is spoken for.
        free = {pk: _to_have(lot) - taken.get(pk, 0) for pk, lot in lots.items()}
        for lot, part in _free(item, left, list(lots.values()), free, wanted=quantity):
            taken[lot.pk] = taken.get(lot.pk, 0) + part
    return [(lots[pk], part) for pk, part in taken.items()]


def give_way(lots: Iterable[Lot]) -> list[Lost]:
    """Releases the newest holds on lots that fell below what is held of them.

    The caller locked and changed the lots, and saves their `reserved` too."""
    beyond = {lot.pk: lot for lot in lots if lot.reserved > max(0, lot.on_hand)}
    lost: list[Lost] = []
    if not beyond:
        return lost
    for row in Reservation.objects.filter(lot__in=beyond).order_by("-id"):
        lot = beyond[row.lot_id]
        part = min(row.quantity, lot.reserved - max(0, lot.on_hand))
        if part > 0:
            _cut(lot, row, part)
            lost.append(Lost(row.holder, lot, part))
    return lost


@transaction.atomic
def let_go(lots: Iterable[Lot]) -> list[Lost]:
    """Releases every hold on these lots, the newest first: nobody is to have them any more."""
    locked = {lot.pk: lot for lot in _lock(pk__in=[lot.pk for lot in lots])}
    lost = []
    for row in Reservation.objects.filter(lot__in=locked).order_by("-id"):
        lost.append(Lost(row.holder, locked[row.lot_id], row.quantity))
        _shrink(locked[row.lot_id], [row], row.quantity)
    return lost


def lock(items: Iterable[int]) -> None:
    """Locks every lot of these items (ids) that holds anything, for the rest of the transaction: before
    what holds them is locked, so that nobody waits for somebody who waits for them."""
    found = Lot.objects.select_for_update().filter(item__in=list(items), on_hand__gt=0)
    list(found.order_by("pk").values_list("pk"))


def held_for(holders: Iterable[str]) -> dict[tuple[str, int], int]:
    """(holder, item id) → millionths held; one query, however many holders."""
    rows = Reservation.objects.filter(holder__in=list(holders)).order_by()
    rows = rows.values_list("holder", "lot__item").annotate(total=Sum("quantity"))
    return {(holder, item): total for holder, item, total in rows}


def _lock(**which) -> list[Lot]:
    """In the ledger's own order (by key), so that two never wait for each other."""
    found = Lot.objects.select_for_update(of=("self",)).select_related("item", "place")
    return list(found.filter(**which).order_by("pk"))


def _to_have(lot: Lot) -> int:
    """What of a lot nobody holds and anybody may; of things counted by the piece whole ones."""
    if not lot.can_be_held:
        return 0
    return lot.available // MICRO * MICRO if lot.item.stock_unit == "each" else lot.available


def _free(
    item: Item,
    quantity: int,
    lots: list[Lot],
    free: dict[int, int] | None = None,
    *,
    wanted: int | None = None,
) -> list[tuple[Lot, int]]:
    free = {lot.pk: _to_have(lot) for lot in lots} if free is None else free
    found, left = [], quantity
    for lot in sorted(lots, key=Lot.drawing_order):
        part = min(left, free[lot.pk])
        if part > 0:
            found.append((lot, part))
            left -= part
    if left > 0:
        wanted = quantity if wanted is None else wanted
        raise NotEnough(item, wanted, wanted - left)
    return found


def _hold(holder: str, lot: Lot, quantity: int) -> int:
    Reservation.objects.create(lot=lot, quantity=quantity, holder=holder)
    lot.reserved += quantity
    lot.save(update_fields=["reserved"])
    return quantity


def _shrink(lot: Lot, rows: list[Reservation], quantity: int) -> int:
    """Takes so much off these holds on the lot, in their order; what came off."""
    off = 0
    for row in rows:
        part = min(row.quantity, quantity - off)
        if part > 0:
            _cut(lot, row, part)
            off += part
    lot.save(update_fields=["reserved"])
    return off


def _cut(lot: Lot, row: Reservation, part: int) -> None:
    lot.reserved -= part
    row.quantity -= part
    if row.quantity:
        row.save(update_fields=["quantity"])
    else:
        row.delete()
