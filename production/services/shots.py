"""Shooting molds: plastic leaves the cups and becomes baits, trim and waste.

What lies in a cavity before the shot (a hook, a rattle) is booked in entries of the same key behind the
shots: an entry gives its mix by base, and a hook belongs to its bait, not to the sprue cut off it. A bait
with a part in it is never melted again: as a reject it is thrown away, and its part with it."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime

from django.db.models import Sum
from django.utils import timezone

from inventory import allocation, lineage, units
from inventory.models import Entry, Lot, Movement
from inventory.services import ledger
from inventory.services.posting import Key, LedgerError, posting
from inventory.wording import quantity_text
from production import shot_entries
from production.models import (
    Bait,
    Batch,
    Cavity,
    Injector,
    Mold,
    Pattern,
    Pour,
    ShotReject,
    ShotResult,
    Shots,
    Sorting,
)
from production.services import batches as mixing
from production.services import evenings
from production.services.bait_lots import BaitLots


@dataclass(frozen=True)
class Result:
    """What the cavities of one bait gave. Whatever is neither good nor second is a reject.

    `reasons`: (RejectReason, count); they may explain fewer rejects than there are."""

    bait: Bait
    good: int
    seconds: int = 0
    reasons: tuple[tuple[str, int], ...] = ()


@posting
def shoot(
    key: Key,
    *,
    pour: Pour,
    mold: Mold,
    pattern: Pattern,
    batches: Sequence[Batch],
    count: int,
    results: Sequence[Result],
    shares: Sequence[int] = (),
    injector: Injector | None = None,
    keep_trim: bool = True,
    look_at: str = "",
    note: str = "",
    happened_at: datetime | None = None,
    by,
) -> Entry:
    """Posts `count` shots of a mold from one batch, or from a laminate's batches in layer order.

    Each batch gives its layer's share of the shot volume, in mL of base; `shares` (millionths, one for
    each layer) go before the pattern's. Sprues and rejects become trim unless thrown away. Never refused
    for lack of plastic or parts (rule 3). Raises EveningClosed."""
    evenings.still_open(pour)
    return fill(
        key,
        pour=pour,
        mold=mold,
        pattern=pattern,
        batches=batches,
        count=count,
        results=results,
        shares=shares,
        injector=injector,
        keep_trim=keep_trim,
        look_at=look_at,
        note=note,
        happened_at=happened_at,
        by=by,
    )


def fill(
    key: Key,
    *,
    pour: Pour,
    mold: Mold,
    pattern: Pattern,
    batches: Sequence[Batch],
    count: int,
    results: Sequence[Result],
    shares: Sequence[int] = (),
    injector: Injector | None = None,
    keep_trim: bool = True,
    look_at: str = "",
    note: str = "",
    happened_at: datetime | None = None,
    amends: Shots | None = None,
    by,
) -> Entry:
    """What `shoot` does, inside another posting's transaction.

    `amends`: the shots that these are written in place of (rule 9)."""
    layers = list(pattern.layers.all())
    if len(layers) != len(batches):
        raise LedgerError(f"{pattern} has {len(layers)} layers: choose a batch for each.")
    shares = list(shares) or [layer.share for layer in layers]
    if len(shares) != len(layers):
        raise LedgerError(f"{pattern} has {len(layers)} layers: give a share for each.")
    # Two presses at once find the same lots one after the other.
    Pour.objects.select_for_update(of=("self",)).get(pk=pour.pk)
    current = Batch.objects.select_related("lot__item").in_bulk([batch.pk for batch in batches])
    batches = [current[batch.pk] for batch in batches]
    draws = layer_draws(mold, count, shares, batches)
    _said_by_shooting(batches, happened_at)
    outcome = sort(mold, count, results, BaitLots(pour, pattern, batches))
    outcome.share_base(sum(draw.quantity for draw in draws), mold, count, keep_trim)
    what = event(pour, mold, pattern, count, results, draws, outcome, note, look_at, happened_at)
    entry = ledger.post(key, what, by=by, amends=amends.entry if amends else None)
    shots = Shots.objects.create(
        pour=pour,
        entry=entry,
        mold=mold,
        pattern=pattern,
        count=count,
        trim_lot=outcome.trim_lot,
        injector=injector,
    )
    shots.batches.set(batches)
    _keep_results(shots, outcome.rows, results)
    parts_before = _parts_of(amends, key, by) if amends else {}
    for row in outcome.rows:
        _book_parts(key, shots, outcome.cavities[row.bait_id], row, by, parts_before)
    for old in parts_before.values():
        _without_parts(key, old, by)
    return entry


def event(
    pour: Pour,
    mold: Mold,
    pattern: Pattern,
    count: int,
    results: Sequence[Result],
    draws: list[ledger.Draw],
    outcome: "Outcome",
    note: str,
    look_at: str,
    happened_at: datetime | None,
) -> ledger.Event:
    """What is drawn from the batches becomes baits, trim and waste."""
    good = sum(result.good for result in results)
    return ledger.Event(
        kind=Entry.Kind.SHOTS,
        title=f"{count} × {mold}, {pattern}: {good} good",
        happened_at=happened_at,
        business_date=pour.business_date,
        note=note,
        reference=f"pour:{pour.pk}",
        look_at=look_at,
        draws=draws,
        makes=outcome.makes,
        wasted=outcome.wasted,
    )


def _said_by_shooting(batches: Sequence[Batch], at: datetime | None) -> None:
    """Who shoots a batch means “that's it”, said or not."""
    unsaid = Batch.objects.filter(pk__in=[batch.pk for batch in batches], mixed_at=None)
    unsaid.update(mixed_at=at or timezone.now())


@posting
def amend(
    key: Key,
    *,
    shots: Shots,
    batches: Sequence[Batch],
    count: int,
    results: Sequence[Result],
    shares: Sequence[int] = (),
    keep_trim: bool = True,
    look_at: str = "",
    note: str = "",
    by,
) -> Entry:
    """Writes shots anew in place of the old ones, also after their baits were bagged (rule 9).

    Baits that were sorted out of them stay sorted out: LedgerError when there would be too few."""
    _keep_sorted(shots, batches, results)
    entry = fill(
        key,
        pour=shots.pour,
        mold=shots.mold,
        pattern=shots.pattern,
        batches=batches,
        count=count,
        results=results,
        shares=shares,
        injector=shots.injector,
        keep_trim=keep_trim,
        look_at=look_at,
        note=note,
        happened_at=shots.entry.happened_at,
        amends=shots,
        by=by,
    )
    standing = Sorting.objects.filter(shots=shots, entry__reversed_by=None)
    standing.update(shots=entry.shots)
    made = Lot.objects.filter(movements__entry__in=[shots.entry, entry], movements__role="made")
    touched = {heir.pk for lot in made.distinct() for heir in lineage.trace_forward(lot)}
    mixing.bring_up_to_date(Batch.objects.filter(lot__in=touched).select_related("lot"))
    return entry


def _keep_sorted(shots: Shots, batches: Sequence[Batch], results: Sequence[Result]) -> None:
    sorted_out = Sorting.objects.filter(shots=shots, entry__reversed_by=None)
    taken = dict(sorted_out.order_by().values_list("bait").annotate(total=Sum("count")))
    if taken and {b.pk for b in batches} != set(shots.batches.values_list("pk", flat=True)):
        raise LedgerError(
            "Baits were sorted out of these shots. Take that back before the batch changes."
        )
    for result in results:
        if result.good < taken.get(result.bait.pk, 0):
            raise LedgerError(
                f"{taken[result.bait.pk]} {result.bait} were sorted out of these afterwards: count them "
                "as good here, or take the sorting back first."
            )


@posting
def take_back(key: Key, *, shots: Shots, note: str = "", by) -> Entry:
    """Undoes shots together with the parts that lay in their cavities; refused while used."""
    entries = [*shot_entries.parts(shots).order_by("-pk"), shots.entry]
    return [ledger.reverse(key, entry, note=note, by=by) for entry in entries][-1]


def shot_base(mold: Mold, batch: Batch, count: int = 1, share: int = 1_000_000) -> int:
    """Millionths of a mL of base that `count` shots take from a batch: total volume × base share."""
    total = allocation.portion(units.to_micro(mold.shot_ml) * count, share, 1_000_000)
    return allocation.portion(total, batch.lot.made, batch.total)


def layer_draws(
    mold: Mold, count: int, shares: Sequence[int], batches: Sequence[Batch]
) -> list[ledger.Draw]:
    """What so many shots take from each layer's batch: its share of the volume, in mL of base."""
    total = units.to_micro(mold.shot_ml) * count
    return [
        ledger.Draw(
            batch.lot,
            allocation.portion(part, batch.lot.made, batch.total),
            bench=True,
            said=quantity_text(part, "mL") + " in the mold",
        )
        for part, batch in zip(allocation.split(total, shares), batches, strict=True)
    ]


@dataclass
class Outcome:
    """What shots gave: a row for each bait, and the lines that share the plastic by their volume."""

    lots: BaitLots
    cavities: dict[int, Cavity]
    rows: list[ShotResult] = field(default_factory=list)
    made: list[tuple[Lot, int]] = field(default_factory=list)
    weights: list[int] = field(default_factory=list)
    #: Rejects with a part in them, millionths of a mL.
    lost: int = 0
    makes: list[ledger.Make] = field(default_factory=list)
    trim_lot: Lot | None = None
    wasted: int = 0

    def share_base(self, base: int, mold: Mold, count: int, keep_trim: bool) -> None:
        """Divides the base drawn among baits, trim and what is thrown away."""
        shot = units.to_micro(mold.shot_ml) * count
        rest = max(0, shot - sum(self.weights) - self.lost)
        *baits, lost, rest = allocation.split(base, [*self.weights, self.lost, rest])
        self.makes = [
            ledger.Make(lot, quantity, base=part)
            for (lot, quantity), part in zip(self.made, baits, strict=True)
        ]
        self.wasted = lost if keep_trim else lost + rest
        if keep_trim and rest:
            self.trim_lot = self.lots.trim()
            self.makes.append(ledger.Make(self.trim_lot, rest, base=rest, bears_waste=False))


def sort(mold: Mold, count: int, results: Sequence[Result], lots: BaitLots) -> Outcome:
    """What so many shots gave, each bait in its lot; `lots` says in which."""
    cavities = {cavity.bait_id: cavity for cavity in mold.cavities.all()}
    outcome = Outcome(lots, cavities)
    for result in results:
        cavity = cavities[result.bait.pk]
        slots = cavity.count * count
        row = ShotResult(
            bait=result.bait,
            cavities=slots,
            good=result.good,
            seconds=result.seconds,
            rejects=max(0, slots - result.good - result.seconds),
        )
        each = units.to_micro(cavity.bait_ml)
        for quantity, second in ((result.good, False), (result.seconds, True)):
            if quantity:
                lot = lots.baits(result.bait, second=second)
                setattr(row, "second_lot" if second else "good_lot", lot)
                outcome.made.append((lot, units.to_micro(quantity)))
                outcome.weights.append(quantity * each)
        if cavity.part:
            outcome.lost += row.rejects * each
        outcome.rows.append(row)
    return outcome


def _keep_results(shots: Shots, rows: list[ShotResult], results: Sequence[Result]) -> None:
    for row in rows:
        row.shots = shots
    ShotResult.objects.bulk_create(rows)
    ShotReject.objects.bulk_create(
        ShotReject(result=row, reason=reason, count=count)
        for row, result in zip(rows, results, strict=True)
        for reason, count in result.reasons
        if count
    )


def _parts_of(shots: Shots, key: Key, by) -> dict[int, Entry]:
    """The standing entries of the parts in these shots' cavities, by the lot they went into.

    Those that went with the rejects made nothing: they are undone here."""
    found = {}
    for entry in shot_entries.parts(shots):
        if entry.kind == Entry.Kind.WASTE:
            ledger.reverse(key, entry, by=by)
        else:
            made = entry.movements.get(role=Movement.Role.MADE, revalues=None)
            found[made.lot_id] = entry
    return found


def _without_parts(key: Key, old: Entry, by) -> None:
    """Takes parts back out of baits: the entry stays, amended to nothing."""
    lot = old.movements.get(role=Movement.Role.MADE, revalues=None).lot
    event = ledger.Event(
        kind=old.kind,
        title=f"None after all: {old.title}",
        happened_at=old.happened_at,
        business_date=old.business_date,
        reference=old.reference,
        makes=[ledger.Make(lot, 0)],
    )
    ledger.post(key, event, by=by, amends=old)


def _book_parts(
    key: Key,
    shots: Shots,
    cavity: Cavity,
    row: ShotResult,
    by,
    replaced: dict[int, Entry],
) -> None:
    """Draws a cavity's parts: each into its bait's lot, those of rejects thrown away with them.

    Nothing is made by number: the baits are there already, and only become dearer. The empty draw
    ties the entry to its shots, which can't be undone before it. `replaced`: entries of shots amended,
    by lot; each is taken out as its new one is written."""
    if not cavity.part:
        return
    where = f"{row.bait}, {shots.pattern}"
    lots = [(row.good_lot, row.good), (row.second_lot, row.seconds), (None, row.rejects)]
    tie = row.good_lot or row.second_lot or shots.trim_lot
    for lot, baits in lots:
        quantity = units.to_micro(baits * cavity.parts_each)
        if not quantity:
            continue
        said = f"{baits * cavity.parts_each} in {baits} cavities"
        part = mixing.Part(cavity.part, quantity, said=said)
        draws = mixing.draws_for(part, shots.pour.business_date)
        if tie:
            draws.append(ledger.Draw(lot or tie, 0))
        event = ledger.Event(
            kind=Entry.Kind.SHOTS if lot else Entry.Kind.WASTE,
            title=f"{baits * cavity.parts_each} × {cavity.part} in {where}"
            + ("" if lot else ": thrown away with the rejects"),
            happened_at=shots.entry.happened_at,
            business_date=shots.pour.business_date,
            reference=f"pour:{shots.pour_id}",
            draws=draws,
            makes=[ledger.Make(lot, 0)] if lot else [],
        )
        ledger.post(key, event, by=by, amends=replaced.pop(lot.pk, None) if lot else None)
