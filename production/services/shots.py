"""Shooting molds: plastic leaves the cups and becomes baits, trim and waste."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from inventory import allocation, units
from inventory.models import Entry, Item, Lot
from inventory.services import ledger, lots
from inventory.services.posting import Key, LedgerError, posting
from inventory.wording import quantity_text
from production.models import Bait, Batch, LooseBait, Mold, Pattern, Pour, ShotResult, Shots
from production.services.batches import leftover_item


@dataclass(frozen=True)
class Result:
    """What the cavities of one bait gave. Whatever is neither good nor second is a reject."""

    bait: Bait
    good: int
    seconds: int = 0


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
    keep_trim: bool = True,
    look_at: str = "",
    note: str = "",
    happened_at: datetime | None = None,
    by,
) -> Entry:
    """Posts `count` shots of a mold from one batch, or from a laminate's batches in layer order.

    Each batch gives its layer's share of the shot volume, in mL of base. Sprues and rejects become
    trim unless thrown away. Never refused for lack of plastic (rule 3)."""
    layers = list(pattern.layers.all())
    if len(layers) != len(batches):
        raise LedgerError(f"{pattern} has {len(layers)} layers: choose a batch for each.")
    current = Batch.objects.select_related("lot__item").in_bulk([batch.pk for batch in batches])
    batches = [current[batch.pk] for batch in batches]
    draws = _layer_draws(mold, count, [layer.share for layer in layers], batches)
    shot = _Shot(pour, pattern, batches)
    cavities = {cavity.bait_id: cavity for cavity in mold.cavities.all()}
    made, weights, rows, baits_ml = [], [], [], 0
    for result in results:
        cavity = cavities[result.bait.pk]
        each = units.to_micro(cavity.bait_ml)
        slots = cavity.count * count
        row = ShotResult(
            bait=result.bait,
            cavities=slots,
            good=result.good,
            seconds=result.seconds,
            rejects=max(0, slots - result.good - result.seconds),
        )
        for quantity, second in ((result.good, False), (result.seconds, True)):
            if quantity:
                lot = shot.lot_for(result.bait, second)
                setattr(row, "second_lot" if second else "good_lot", lot)
                made.append((lot, units.to_micro(quantity), True))
                weights.append(quantity * each)
                baits_ml += quantity * each
        rows.append(row)
    rest = max(0, units.to_micro(mold.shot_ml) * count - baits_ml)
    bases = allocation.split(sum(draw.quantity for draw in draws), [*weights, rest])
    trim_lot = shot.trim_lot() if keep_trim and bases[-1] else None
    if trim_lot:
        made.append((trim_lot, bases[-1], False))
    makes = [
        ledger.Make(lot, quantity, base=base, bears_waste=bears)
        for (lot, quantity, bears), base in zip(made, bases, strict=False)
    ]
    good = sum(result.good for result in results)
    event = ledger.Event(
        kind=Entry.Kind.SHOTS,
        title=f"{count} × {mold}, {pattern}: {good} good",
        happened_at=happened_at,
        business_date=pour.business_date,
        note=note,
        reference=f"pour:{pour.pk}",
        look_at=look_at,
        draws=draws,
        makes=makes,
        wasted=0 if trim_lot else bases[-1],
    )
    entry = ledger.post(key, event, by=by)
    shots = Shots.objects.create(
        pour=pour, entry=entry, mold=mold, pattern=pattern, count=count, trim_lot=trim_lot
    )
    shots.batches.set(batches)
    for row in rows:
        row.shots = shots
    ShotResult.objects.bulk_create(rows)
    return entry


def shot_base(mold: Mold, batch: Batch, count: int = 1, share: int = 1_000_000) -> int:
    """Millionths of a mL of base that `count` shots take from a batch: total volume × base share."""
    total = allocation.portion(units.to_micro(mold.shot_ml) * count, share, 1_000_000)
    return allocation.portion(total, batch.lot.made, batch.total)


def _layer_draws(mold, count, shares, batches) -> list[ledger.Draw]:
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
class _Shot:
    """The lots that shots of one pattern from the same batches go into, made when first needed."""

    pour: Pour
    pattern: Pattern
    batches: list[Batch]

    def lot_for(self, bait: Bait, second: bool) -> Lot:
        field = "second_lot" if second else "good_lot"
        for shots in self._same():
            for row in shots.results.all():
                if row.bait_id == bait.pk and getattr(row, field):
                    return getattr(row, field)
        item = loose_item(bait, self.pattern, second)
        return lots.open_lot(item, Lot.Form.LOOSE, self.pour.business_date, melts=self._melts())

    def trim_lot(self) -> Lot:
        for shots in self._same():
            if shots.trim_lot:
                return shots.trim_lot
        grades = {}
        for batch in self.batches:
            grades |= {int(pk): 1 for pk in batch.lot.item.grades.split("+") if pk.isdigit()}
        return lots.open_lot(
            leftover_item(grades), Lot.Form.TRIM, self.pour.business_date, melts=self._melts()
        )

    def _melts(self) -> int:
        return max(batch.lot.melts for batch in self.batches)

    def _same(self) -> list[Shots]:
        wanted = {batch.pk for batch in self.batches}
        earlier = Shots.objects.filter(
            pour=self.pour, pattern=self.pattern, entry__reversed_by=None
        ).prefetch_related("batches", "results__good_lot", "results__second_lot")
        return [s for s in earlier if {b.pk for b in s.batches.all()} == wanted]


def loose_item(bait: Bait, pattern: Pattern, second: bool = False) -> Item:
    """The stocked item of a bait in a pattern; made the first time it is poured."""
    loose = LooseBait.objects.filter(bait=bait, pattern=pattern, second=second).first()
    if loose:
        return loose.item
    name = f"{bait} · {pattern}" + (" (second)" if second else "")
    item = Item.objects.create(kind=Item.Kind.LOOSE_BAIT, name=name, stock_unit="each")
    LooseBait.objects.create(bait=bait, pattern=pattern, second=second, item=item)
    return item
