"""An evening that was kept on paper, entered afterwards: all of it is posted, or nothing."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from inventory import allocation, queries, units
from inventory.models import Entry, Lot, Movement
from inventory.services.posting import Key, posting
from inventory.wording import quantity_text
from production import batch_plan
from production.models import Batch, Mold, Pattern, Pour, RecipeVersion
from production.services import batches, heats, leftovers, recipes, shots

#: Rows happen one after the other, so that their order is kept; nobody wrote the minute down.
STEP = timedelta(minutes=1)
WHOLE = 1_000_000


@dataclass(frozen=True)
class Shot:
    """So many fills of a mold and what they gave."""

    mold: Mold
    pattern: Pattern
    count: int
    results: tuple[shots.Result, ...]


@dataclass(frozen=True)
class Warming:
    """Minutes, and °C at the hottest where it was read."""

    minutes: Decimal
    peak_c: Decimal | None = None
    look_at: str = ""


@dataclass(frozen=True)
class Row:
    """One batch of the sheet. Quantities are millionths: `base` mL of base, `use` mL of base out of
    `source`, a lot, or mL of the colored plastic of an earlier row, whose number it then is (None: as
    much as additions alone allow), `left` mL of colored plastic (None: as the shots say).

    `doses` go before the recipe's where any are given."""

    version: RecipeVersion
    base: int
    base_lot: Lot | None = None
    source: Lot | int | None = None
    use: int | None = None
    doses: tuple[batches.Part, ...] = ()
    heats: tuple[Warming, ...] = ()
    shots: tuple[Shot, ...] = ()
    left: int | None = None
    then: str = ""
    reason: str = ""
    look_at: str = ""


@posting
def enter(
    key: Key, *, began: datetime, rows: Sequence[Row], note: str = "", gear: Sequence[str] = (), by
) -> Entry:
    """Posts a whole evening that began at `began`, and closes it; returns its first batch's entry.

    `gear`: names of what was checked at its end (purged, seals_checked, molds_dry)."""
    pour = Pour.objects.create(
        business_date=timezone.localdate(began),
        started_at=began,
        note=note,
        by=by,
        **dict.fromkeys(gear, True),
    )
    made: list[Batch] = []
    for number, row in enumerate(rows):
        at = began + STEP * number
        # The first entry carries the key itself: the same press again finds it.
        own = Key(f"{key.text}#b{number}", key.digest) if number else key
        made.append(_mix(own, pour, row, made, at, by))
        for index, heat in enumerate(row.heats):
            heats.warm(
                key=f"{key.text}#h{number}-{index}",
                batch=made[-1],
                minutes=heat.minutes,
                peak_c=heat.peak_c,
                look_at=heat.look_at,
                started_at=at,
                by=by,
            )
        for index, shot in enumerate(row.shots):
            shots.fill(
                Key(f"{key.text}#s{number}-{index}", key.digest),
                pour=pour,
                mold=shot.mold,
                pattern=shot.pattern,
                batches=[made[-1]],
                count=shot.count,
                results=shot.results,
                shares=(),
                injector=None,
                keep_trim=True,
                look_at=row.look_at,
                note="",
                happened_at=at,
                by=by,
            )
        _settle(Key(f"{key.text}#l{number}", key.digest), made[-1], row, at, by)
    pour.closed_at = began + STEP * len(rows)
    pour.save(update_fields=["closed_at"])
    return made[0].entry


def _mix(key: Key, pour: Pour, row: Row, made: list[Batch], at: datetime, by) -> Batch:
    source = made[row.source].lot if isinstance(row.source, int) else row.source
    lot = Lot.objects.select_related("item").get(pk=source.pk) if source else None
    use = 0
    if lot and row.use is None:
        use = batch_plan.plan(row.version, row.base, lot).use
    elif lot:
        # How colored an earlier row is, is known only now that it is mixed.
        use = batches.base_in(lot, row.use) if isinstance(row.source, int) else row.use
    grade = row.base_lot.item if row.base_lot else row.version.grade
    parts = [batches.Part(grade, max(0, row.base - use), row.base_lot)]
    if lot and use:
        parts.append(batches.Part(lot.item, use, lot))
    brought = queries.contents_of(lot, use) if lot and use else {}
    parts += row.doses or _as_the_recipe_says(row.version, row.base, brought)
    entry = batches.pour_in(
        key,
        pour=pour,
        version=row.version,
        parts=[part for part in parts if part.quantity or part.estimated],
        cup=None,
        look_at=row.look_at,
        note="Entered afterwards, from paper.",
        happened_at=at,
        by=by,
    )
    batch = Batch.objects.select_related("lot__item", "pour", "version__recipe").get(entry=entry)
    Batch.objects.filter(pk=batch.pk).update(mixed_at=at)
    return batch


def _as_the_recipe_says(
    version: RecipeVersion, base: int, brought: dict[int, int]
) -> list[batches.Part]:
    """The doses that are left to add, from a thinned bottle as much more as it is weaker."""
    parts = []
    for item, target in recipes.doses_for(version, base):
        add = max(0, target - brought.get(item.pk, 0))
        lots = queries.pick(item, add)
        strength = units.to_micro(lots[0][0].strength) if lots else WHOLE
        quantity = allocation.portion(add, WHOLE, strength)
        lot = lots[0][0] if strength != WHOLE else None
        parts.append(batches.Part(item, quantity, lot, said="as the recipe says"))
    return parts


def _settle(key: Key, batch: Batch, row: Row, at: datetime, by) -> None:
    if row.left is None and not row.then:
        return
    batch.lot.refresh_from_db()
    measured = None
    if row.left is not None:
        measured = allocation.portion(row.left, batch.lot.made, batch.total)
    leftovers.put_away(
        key,
        batch=batch,
        measured=measured,
        then=row.then or leftovers.KEEP,
        reason=row.reason,
        happened_at=at,
        by=by,
    )


@dataclass(frozen=True)
class Understood:
    """One entry that would be posted, and what it would take from the shelf."""

    title: str
    lines: tuple[str, ...]


def preview(*, began: datetime, rows: Sequence[Row], by) -> list[Understood]:
    """What `enter` would post. It is posted and taken back at once, so nothing can differ later."""
    with transaction.atomic():
        entry = enter(key=f"preview-{timezone.now():%H%M%S%f}", began=began, rows=rows, by=by)
        reference = entry.reference
        found = [
            Understood(each.title, tuple(_line(m) for m in _drawn(each)))
            for each in Entry.objects.filter(reference=reference).order_by("id")
        ]
        transaction.set_rollback(True)
    return found


def _drawn(entry: Entry) -> Sequence[Movement]:
    if entry.kind != Entry.Kind.BATCH:
        return []
    lines = entry.movements.filter(role=Movement.Role.DRAWN).select_related("lot__item")
    return lines.order_by("id")


def _line(line: Movement) -> str:
    amount = quantity_text(-line.quantity, line.lot.item.stock_unit)
    return f"{amount} {line.lot.item}, {line.lot.number}"
