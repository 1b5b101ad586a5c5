"""Proves that the bench's records say what the ledger says."""

from collections.abc import Iterator

from django.db.models import Sum

from inventory import allocation, units
from inventory.models import Content, Item, Lot, Movement
from production.models import Bagging, Batch, ShotReject, ShotResult, Shots, Sorting
from production.services.batches import grades_of, volume_of

#: Rows read at once: a query that names more of them is too long for SQLite, and memory is finite.
AT_ONCE = 2_000


def findings() -> Iterator[str]:
    """Every difference between a record and its entry, one sentence each."""
    holds, items = _compositions(), Item.objects.in_bulk()
    mixed = Batch.objects.select_related("lot__item", "entry", "version__recipe")
    for batch in mixed.prefetch_related("entry__movements").iterator(AT_ONCE):
        if set(_made(batch.entry)) != {batch.lot_id}:
            yield f"{batch} of {batch.entry} does not stand in its own lot."
        elif contents := holds.get(batch.lot_id):
            if batch.total != volume_of(contents, items):
                yield f"{batch}: its total volume does not follow from what went in."
            if batch.lot.item.grades != grades_of(items[pk] for pk in contents):
                yield f"{batch}: its grade does not follow from what went in."
    # Joined, not prefetched: a prefetch one to one is no query for SQLite from a thousand rows on.
    shot = Shots.objects.select_related("entry")
    shot = shot.prefetch_related("results", "batches", "entry__movements")
    for shots in shot.iterator(AT_ONCE):
        yield from _check_shots(shots)
    for sorting in Sorting.objects.select_related("entry", "shots__entry", "bait").prefetch_related(
        "entry__movements__lot", "shots__results", "shots__entry__movements"
    ):
        yield from _check_sorting(sorting)
    yield from _check_sorted_counts()
    bagged = Bagging.objects.select_related("lot", "entry").prefetch_related("entry__movements")
    for bagging in bagged.iterator(AT_ONCE):
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


def _check_sorting(sorting: Sorting) -> Iterator[str]:
    """So many good baits go; as many seconds come, or the base they hold, as trim or as waste."""
    row = next(row for row in sorting.shots.results.all() if row.bait_id == sorting.bait_id)
    entry, count = sorting.entry, units.to_micro(sorting.count)
    lines = list(entry.movements.all())
    drawn = {line.lot_id: -line.quantity for line in lines if line.role == Movement.Role.DRAWN}
    if drawn != {row.good_lot_id: count}:
        yield f"{entry}: it does not take {sorting.count} of the good {sorting.bait}."
    made = [line for line in lines if line.role == Movement.Role.MADE]
    base = sum(line.base for line in made) + entry.wasted
    # Shots that were amended since may give each bait another share of the plastic.
    if entry.pk > sorting.shots.entry_id and base != _base_in(sorting.shots, row, count):
        yield f"{entry}: {base} of base is not what {sorting.count} {sorting.bait} hold."
    second = sorting.fate == Sorting.Fate.SECOND
    wanted = (Lot.Form.LOOSE, count) if second else (Lot.Form.TRIM, base)
    if [(line.lot.form, line.quantity) for line in made] != [wanted] and (second or made):
        yield f"{entry}: what became of its baits is not in the ledger."


def _base_in(shots: Shots, row: ShotResult, count: int) -> int:
    lines = [line for line in shots.entry.movements.all() if line.role == Movement.Role.MADE]
    whole = next(line for line in lines if line.lot_id == row.good_lot_id)
    return allocation.portion(whole.base, count, whole.quantity)


def _check_sorted_counts() -> Iterator[str]:
    standing = Sorting.objects.filter(entry__reversed_by=None).order_by()
    sorted_out = standing.values("shots", "bait").annotate(total=Sum("count"))
    taken = {(row["shots"], row["bait"]): row["total"] for row in sorted_out}
    for row in ShotResult.objects.filter(shots__in=standing.values("shots")).select_related(
        "shots__entry", "bait"
    ):
        if taken.get((row.shots_id, row.bait_id), 0) > row.good:
            yield f"{row.shots.entry}: more {row.bait} were sorted out than it made."
    explained = ShotReject.objects.order_by().values("result").annotate(total=Sum("count"))
    rejects = dict(ShotResult.objects.values_list("pk", "rejects"))
    for row in explained:
        if row["total"] > rejects[row["result"]]:
            yield f"Result {row['result']}: more rejects have a reason than there are."


def _made(entry) -> dict[int, int]:
    return {
        line.lot_id: line.quantity
        for line in entry.movements.all()
        if line.role == Movement.Role.MADE
    }
