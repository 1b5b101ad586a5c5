"""Sorting out: baits first counted as good become seconds, or rejects with a reason.

A reject goes back into the trim of its shots, at the base it holds. It is thrown away, and its cost with
it, where that evening's sprues were, or where a part lies in it: no hook goes into the next cup."""

from datetime import datetime

from django.db.models import F, OuterRef, Subquery, Sum
from django.db.models.functions import Coalesce

from inventory import allocation, units
from inventory.models import Entry, Item, Movement
from inventory.services import ledger
from inventory.services.posting import Key, LedgerError, posting
from production.models import Bait, ShotResult, Shots, Sorting
from production.services import evenings
from production.services.bait_lots import BaitLots

Fate = Sorting.Fate


@posting
def sort_out(
    key: Key,
    *,
    shots: Shots,
    bait: Bait,
    fate: str,
    reason: str = "",
    count: int = 1,
    note: str = "",
    happened_at: datetime | None = None,
    by,
) -> Entry:
    """Takes `count` good baits of these shots out again: to the seconds, or to the rejects.

    Raises LedgerError when fewer good ones are left in the shots, or on hand, and EveningClosed."""
    pour = evenings.still_open(shots.pour_id)
    row = _with_good_left(ShotResult.objects.filter(shots=shots, bait=bait)).first()
    if row is None or row.good_left < count:
        left = row.good_left if row else 0
        raise LedgerError(
            f"Of these shots {left} good {bait} are left: {count} can't be sorted out. "
            "Count the shot first."
        )
    base = _base_of(shots, row, count)
    make, to = _where_to(shots, row, bait, fate, count, base)
    event = ledger.Event(
        kind=Entry.Kind.SORTING,
        title=f"{count} × {bait}, {shots.pattern}: {to}" + (f" ({reason})" if reason else ""),
        happened_at=happened_at,
        business_date=pour.business_date,
        note=note,
        reference=f"pour:{pour.pk}",
        draws=[ledger.Draw(row.good_lot, units.to_micro(count))],
        makes=[make] if make else [],
        wasted=0 if make else base,
    )
    entry = ledger.post(key, event, by=by)
    Sorting.objects.create(
        shots=shots, entry=entry, bait=bait, fate=fate, reason=reason, count=count
    )
    return entry


@posting
def put_back(key: Key, *, sorting: Sorting, by) -> Entry:
    """Takes a sorting back: the baits are good again. Refused while what it made is used."""
    return ledger.reverse(key, sorting.entry, by=by)


def latest_with_good(shots, bait: Bait) -> Shots | None:
    """Of these shots (a QuerySet) the last ones that still have a good one of the bait."""
    rows = _with_good_left(ShotResult.objects.filter(shots__in=shots, bait=bait))
    row = rows.filter(good_left__gt=0).order_by("-shots").first()
    return row.shots if row else None


def latest(shots, bait: Bait, fate: str) -> Sorting | None:
    """The last standing sorting of that fate of the bait, of these shots (a QuerySet)."""
    found = Sorting.objects.filter(
        shots__in=shots, bait=bait, fate=fate, entry__reversed_by=None
    ).select_related("entry")
    return found.order_by("-pk").first()


def _with_good_left(rows):
    sorted_out = (
        Sorting.objects.filter(
            shots=OuterRef("shots"), bait=OuterRef("bait"), entry__reversed_by=None
        )
        .order_by()
        .values("shots")
        .annotate(total=Sum("count"))
        .values("total")
    )
    rows = rows.select_related("good_lot__item", "shots__pattern", "shots__pour")
    return rows.annotate(good_left=F("good") - Coalesce(Subquery(sorted_out), 0))


def _base_of(shots: Shots, row: ShotResult, count: int) -> int:
    """Millionths of a mL of base in `count` of the good baits that these shots made."""
    made = Movement.objects.filter(
        entry=shots.entry_id, lot=row.good_lot_id, role=Movement.Role.MADE
    ).aggregate(base=Sum("base"), quantity=Sum("quantity"))
    return allocation.portion(made["base"], units.to_micro(count), made["quantity"])


def _where_to(
    shots: Shots, row: ShotResult, bait: Bait, fate: str, count: int, base: int
) -> tuple[ledger.Make | None, str]:
    """The line that takes them in (None: nothing does), and its name."""
    batches = list(shots.batches.select_related("lot__item").order_by("pk"))
    lots = BaitLots(shots.pour, shots.pattern, batches)
    if fate == Fate.SECOND:
        lot = lots.baits(bait, second=True)
        return ledger.Make(lot, units.to_micro(count), base=base), "second"
    parts = row.good_lot.contents.filter(item__kind=Item.Kind.PART)
    if parts.aggregate(total=Sum("quantity", default=0))["total"] or (
        shots.trim_lot_id is None and shots.entry.wasted
    ):
        return None, "reject, thrown away"
    return ledger.Make(lots.trim(), base, base=base, bears_waste=False), "reject"
