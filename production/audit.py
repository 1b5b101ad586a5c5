"""Proves that the bench's records say what the ledger says."""

from collections.abc import Iterator

from django.db.models import Sum

from inventory import units
from inventory.models import Content, Movement
from production.models import Bagging, Batch, Shots
from production.services.batches import leftover_item, total_volume


def findings() -> Iterator[str]:
    """Every difference between a record and its entry, one sentence each."""
    holds = _compositions()
    for batch in Batch.objects.select_related("lot__item", "entry").prefetch_related(
        "entry__movements"
    ):
        if set(_made(batch.entry)) != {batch.lot_id}:
            yield f"{batch} of {batch.entry} does not stand in its own lot."
        elif contents := holds.get(batch.lot_id):
            if batch.total != total_volume(contents):
                yield f"{batch}: its total volume does not follow from what went in."
            if batch.lot.item != leftover_item(contents):
                yield f"{batch}: its grade does not follow from what went in."
    for shots in Shots.objects.prefetch_related("results", "batches", "entry__movements"):
        yield from _check_shots(shots)
    for bagging in Bagging.objects.select_related("lot", "entry").prefetch_related(
        "entry__movements"
    ):
        if _made(bagging.entry) != {bagging.lot_id: units.to_micro(bagging.bags)}:
            yield f"{bagging.entry}: the bags in the record are not those in the ledger."


def _check_shots(shots: Shots) -> Iterator[str]:
    expected: dict[int, int] = {}
    for row in shots.results.all():
        for lot_id, count in ((row.good_lot_id, row.good), (row.second_lot_id, row.seconds)):
            if lot_id:
                expected[lot_id] = expected.get(lot_id, 0) + units.to_micro(count)
            elif count:
                yield f"{shots.entry}: {count} baits were counted but stand in no lot."
    made = _made(shots.entry)
    trim = made.pop(shots.trim_lot_id, None)
    if made != expected:
        yield f"{shots.entry}: the baits in the record are not those in the ledger."
    if shots.trim_lot_id and not trim:
        yield f"{shots.entry}: its trim is not in the ledger."
    drawn = {m.lot_id for m in shots.entry.movements.all() if m.role == Movement.Role.DRAWN}
    if drawn != {batch.lot_id for batch in shots.batches.all()}:
        yield f"{shots.entry}: its batches are not those it drew from."


def _compositions() -> dict[int, dict[int, int]]:
    """What went into each batch's lot, additions and amendments counted: lot → item → millionths."""
    rows = Content.objects.filter(lot__batch__isnull=False).values("lot", "item")
    found: dict[int, dict[int, int]] = {}
    for row in rows.annotate(total=Sum("quantity")):
        if row["total"]:
            found.setdefault(row["lot"], {})[row["item"]] = row["total"]
    return found


def _made(entry) -> dict[int, int]:
    return {
        line.lot_id: line.quantity
        for line in entry.movements.all()
        if line.role == Movement.Role.MADE
    }
