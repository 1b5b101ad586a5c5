"""The bench of a `House`: what `pours`, `batches`, `shots` and `leftovers` do, on books in memory."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime

from inventory.models import Item, Lot
from inventory.services import ledger
from inventory.services.bulk import Books
from production.models import (
    Bait,
    Batch,
    Cup,
    Mold,
    Pattern,
    Pour,
    RecipeVersion,
    ShotReject,
    Shots,
)
from production.services import bait_lots, batches, leftovers, shots
from production.services.batches import Part


class HouseBench:
    """Evenings, batches, shots and what is left of them."""

    def __init__(self, books: Books) -> None:
        self._books = books
        self._items = Item.objects.in_bulk()
        self._poured: dict[frozenset[int], Item] = {}
        self._loose: dict[tuple[int, int, bool], Item] = {}
        self._frozen: set[int] = set()
        #: Of the open evening: batches by pour, and the lots that its shots of a kind went into.
        self._mixed = 0
        self._alike: dict[tuple, dict[tuple, Lot]] = defaultdict(dict)

    def begin(self, at: datetime, day: date) -> Pour:
        """`pours.start`."""
        self._mixed = 0
        self._alike.clear()
        return self._books.add(Pour(business_date=day, started_at=at, by=self._books.by))

    def close(self, pour: Pour, at: datetime) -> None:
        """`pours.close`."""
        pour.closed_at = at

    def mix(
        self,
        key: str,
        *,
        pour: Pour,
        version: RecipeVersion,
        parts: list[Part],
        cup: Cup,
        happened_at: datetime,
    ) -> Batch:
        """`batches.mix`."""
        facts = {"pour": pour, "version": version, "parts": parts, "cup": cup}
        posting = self._books.key(key, "mix", **facts, happened_at=happened_at)
        draws = [
            draw for part in parts for draw in draws_for(self._books, part, pour.business_date)
        ]
        base = batches.base_of(draws)
        contents = batches.mixed(draws, self._books.holds)
        lot = self._books.open_lot(
            self._leftover_item(contents),
            Lot.Form.LIQUID,
            pour.business_date,
            melts=batches.melts_of(draws),
        )
        self._mixed += 1
        event = batches.mix_event(pour, self._mixed, version, lot, base, draws, "", "", happened_at)
        entry = self._books.post(posting, event)
        if version.pk not in self._frozen:
            batches.freeze(version, happened_at)
            self._frozen.add(version.pk)
        total = batches.volume_of(contents, self._items)
        batch = Batch(
            pour=pour,
            number=self._mixed,
            lot=lot,
            entry=entry,
            version=version,
            cup=cup,
            total=total,
        )
        return self._books.add(batch)

    def shoot(
        self,
        key: str,
        *,
        pour: Pour,
        mold: Mold,
        pattern: Pattern,
        batches: list[Batch],
        count: int,
        results: list[shots.Result],
        happened_at: datetime,
    ) -> Shots:
        """`shots.shoot`."""
        facts = {"pour": pour, "mold": mold, "pattern": pattern, "batches": batches}
        facts |= {"count": count, "results": results, "happened_at": happened_at}
        posting = self._books.key(key, "shoot", **facts)
        layers = [layer.share for layer in pattern.layers.all()]
        draws = shots.layer_draws(mold, count, layers, batches)
        for batch in batches:
            batch.mixed_at = batch.mixed_at or happened_at
        outcome = shots.sort(mold, count, results, _BaitLots(self, pour, pattern, batches))
        outcome.share_base(sum(draw.quantity for draw in draws), mold, count, True)
        event = shots.event(
            pour, mold, pattern, count, results, draws, outcome, "", "", happened_at
        )
        entry = self._books.post(posting, event)
        shot = Shots(
            pour=pour,
            entry=entry,
            mold=mold,
            pattern=pattern,
            count=count,
            trim_lot=outcome.trim_lot,
        )
        self._books.add(shot)
        for batch in batches:
            self._books.add(Shots.batches.through(shots_id=shot.pk, batch_id=batch.pk))
        for row, result in zip(outcome.rows, results, strict=True):
            row.shots = shot
            self._books.add(row)
            for reason, how_many in result.reasons:
                if how_many:
                    self._books.add(ShotReject(result=row, reason=reason, count=how_many))
        return shot

    def settle(
        self,
        key: str,
        *,
        batch: Batch,
        measured: int,
        then: str,
        reason: str,
        happened_at: datetime,
    ) -> None:
        """`leftovers.settle`."""
        facts = {"batch": batch, "measured": measured, "then": then, "reason": reason}
        posting = self._books.key(key, "settle", **facts, happened_at=happened_at)
        lot, thrown = batch.lot, then == leftovers.THROW
        more = ", set aside as a puck" * (then == leftovers.PUCK)
        note = "" if thrown else reason
        event = leftovers.left_event(batch, measured, batch.pour, more, "", note, happened_at)
        self._books.adjust(posting, event, lot, measured - lot.on_hand)
        if thrown and measured:
            event = leftovers.thrown_event(batch, measured, happened_at, reason, "")
            self._books.post(posting, event)
        lot.form = Lot.Form.PUCK if then == leftovers.PUCK else Lot.Form.LIQUID
        self._books.changed(lot)
        batch.settled = then

    def left(self, batch: Batch) -> int:
        """Millionths of a mL of base that the books say is in the cup."""
        return batch.lot.on_hand

    def leftovers(self) -> list[Lot]:
        """Poured plastic on hand, oldest first (`production.queries.leftovers`)."""
        poured = {item.pk: item for item in self._poured.values()}
        found = [lot for item in poured.values() for lot in self._books.in_stock(item)]
        return sorted(found, key=lambda lot: (lot.received_on, lot.pk))

    def composition(self, lot: Lot) -> dict[int, int]:
        return self._books.holds.get(lot.pk, {})

    def loose_lots(self, bait: Bait, pattern: Pattern) -> list[Lot]:
        """Good loose baits on hand, in the order of use."""
        item = self._loose.get((bait.pk, pattern.pk, False))
        return self._books.in_stock(item) if item else []

    def seconds(self) -> list[Lot]:
        """Loose baits of second choice on hand, oldest first."""
        items = [item for (_bait, _pattern, second), item in self._loose.items() if second]
        found = [lot for item in items for lot in self._books.in_stock(item)]
        return sorted(found, key=lambda lot: (lot.received_on, lot.pk))

    def loose_item(self, bait: Bait, pattern: Pattern, second: bool) -> Item:
        kind = (bait.pk, pattern.pk, second)
        if kind not in self._loose:
            self._loose[kind] = bait_lots.loose_item(bait, pattern, second)
        return self._loose[kind]

    def _leftover_item(self, contents: dict[int, int]) -> Item:
        plastic = frozenset(pk for pk in contents if self._items[pk].kind in batches.PLASTIC)
        if plastic not in self._poured:
            item = batches.leftover_item(contents)
            same = [known for known in self._poured.values() if known.pk == item.pk]
            self._poured[plastic] = same[0] if same else item
            self._items[item.pk] = self._poured[plastic]
        return self._poured[plastic]


@dataclass
class _BaitLots:
    """`bait_lots.BaitLots` of an evening that is still in memory."""

    bench: HouseBench
    pour: Pour
    pattern: Pattern
    batches: Sequence[Batch]
    _made: dict = field(init=False)

    def __post_init__(self) -> None:
        key = (self.pattern.pk, *sorted(batch.pk for batch in self.batches))
        self._made = self.bench._alike[key]

    def baits(self, bait: Bait, *, second: bool) -> Lot:
        return self._lot(self.bench.loose_item(bait, self.pattern, second), Lot.Form.LOOSE)

    def trim(self) -> Lot:
        item = self.bench._leftover_item({batch.lot.item_id: 1 for batch in self.batches})
        return self._lot(item, Lot.Form.TRIM)

    def _lot(self, item: Item, form: str) -> Lot:
        if (item.pk, form) not in self._made:
            melts = max(batch.lot.melts for batch in self.batches)
            self._made[item.pk, form] = self.bench._books.open_lot(
                item, form, self.pour.business_date, melts=melts
            )
        return self._made[item.pk, form]


def draws_for(books: Books, part: Part, day: date) -> list[ledger.Draw]:
    """`batches.draws_for`."""
    picked = [(part.lot, part.quantity)] if part.lot else books.pick(part.item, part.quantity)
    if not picked:
        found = books.open_lot(part.item, Lot.Form.PACK, day, found=True, count_me=True, cost=None)
        picked = [(found, part.quantity)]
    return [
        ledger.Draw(lot, quantity, bench=True, said=part.said, estimated=part.estimated)
        for lot, quantity in picked
    ]
