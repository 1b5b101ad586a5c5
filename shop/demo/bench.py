"""Telling one evening at the demo's bench: what goes into each cup, what it gives, what is left."""

from collections.abc import Iterator, Sequence
from decimal import Decimal
from random import Random

from inventory import amounts, queries, units
from inventory.models import Item, Lot
from inventory.services import counts
from inventory.wording import quantity_text
from production import batch_plan, mixing, tolerances
from production import queries as bench_queries
from production.models import Batch, Cup, Mold, Pattern, Pour, RecipeVersion
from production.services import batches, leftovers, pours, recipes, shots
from shop.demo import furnishing
from shop.demo.evenings import Evening, Layered, Mixed
from shop.demo.hours import Hours

#: Of all cavities: good baits; seconds come on top. Common practice, no source.
GOOD, SECOND = 0.94, 0.02
#: The most of a batch that comes from leftovers and trim, and the least worth melting again.
MOST_REUSED, LEAST_ML = 0.45, 8
#: What is worth setting aside as a puck.
PUCK_ML = 25
PINCH_G = Decimal("0.25")
#: How far off a handy measure may be; and the error at which a dose is too little to measure at all.
CLOSE, TOO_LITTLE = Decimal("0.03"), Decimal("0.5")


class Bench:
    """Posts evenings one after the other; `keys` gives each posting its one-time key."""

    def __init__(self, *, hours: Hours, keys: Iterator[str], random: Random, by) -> None:
        self._hours, self._keys, self._random, self._by = hours, keys, random, by
        self._pour: Pour | None = None

    def tell(self, evening: Evening) -> None:
        self._pour = pours.start(at=self._hours.now, by=self._by)
        if evening.note:
            self._pour.note = evening.note
            self._pour.save(update_fields=["note"])
        told: list[tuple[Mixed, Batch]] = []
        for mix in evening.mixes:
            told += self._laminate(mix) if isinstance(mix, Layered) else [self._solid(mix)]
        for mix, batch in told:
            self._settle(mix, batch)
        self._hours.tick(6)
        pours.close(pour=self._pour, at=self._hours.now)

    def _solid(self, mix: Mixed) -> tuple[Mixed, Batch]:
        version = furnishing.newest_version(mix.recipe)
        batch = self._mix(mix, version, _base_for(version, mix))
        self._shoot_solid(mix, batch)
        return mix, batch

    def _laminate(self, layered: Layered) -> list[tuple[Mixed, Batch]]:
        pattern = Pattern.objects.get(name=layered.pattern)
        hot: list[Batch] = []
        for layer, mix in zip(
            pattern.layers.select_related("version"), layered.layers, strict=True
        ):
            fills = _fills(layered.shots)
            base = batch_plan.base_for_shots(layer.version, fills, share=layer.share)
            base += _base_for(layer.version, mix)
            hot.append(self._mix(mix, layer.version, base, spared=hot))
        for mold, count in _fills(layered.shots):
            self._shoot(mold, count, pattern, hot)
        for mix, batch in zip(layered.layers, hot, strict=True):
            self._shoot_solid(mix, batch)
        return list(zip(layered.layers, hot, strict=True))

    def _mix(
        self, mix: Mixed, version: RecipeVersion, base: int, spared: Sequence[Batch] = ()
    ) -> Batch:
        """Mixes a batch of about `base`, leaving the cups of `spared` alone."""
        base = -(-base // units.MICRO) * units.MICRO
        sources, held = _sources(version, base, {batch.lot_id for batch in spared})
        parts = [
            batches.Part(lot.item, take, lot=lot, said=quantity_text(take, "mL") + " left over")
            for lot, take in sources
        ]
        fresh = base - sum(take for _lot, take in sources)
        parts.append(batches.Part(version.grade, fresh, said=quantity_text(fresh, "mL")))
        parts += _doses(version, base, held)
        if mix.pinch:
            item = Item.objects.get(name=mix.pinch)
            quantity = item.to_stock(PINCH_G, "g")
            parts.append(batches.Part(item, quantity, said="a pinch", estimated=True))
        self._hours.tick(self._random.randint(5, 9))
        entry = batches.mix(
            key=next(self._keys),
            pour=self._pour,
            version=version,
            parts=parts,
            cup=self._cup(base, spared),
            happened_at=self._hours.now,
            by=self._by,
        )
        return Batch.objects.select_related("lot__item", "pour", "version__recipe").get(entry=entry)

    def _cup(self, base: int, spared: Sequence[Batch]) -> Cup:
        fitting = Cup.objects.filter(most_ml__gt=units.from_micro(base) * Decimal("1.05"))
        free = fitting.exclude(pk__in=[batch.cup_id for batch in spared]).order_by(
            "most_ml", "number"
        )
        return free.first()

    def _shoot_solid(self, mix: Mixed, batch: Batch) -> None:
        pattern = recipes.solid_pattern(batch.version.recipe)
        for place, (mold, count) in enumerate(_fills(mix.shots)):
            if mix.mistyped and place == 0:
                wrong = self._shoot(mold, count - 1, pattern, [batch])
                self._hours.tick(1)
                note = f"Entered {count - 1} shots, it was {count}."
                counts.undo(
                    key=next(self._keys),
                    entry=wrong,
                    note=note,
                    happened_at=self._hours.now,
                    by=self._by,
                )
            self._shoot(mold, count, pattern, [batch])

    def _shoot(self, mold: Mold, count: int, pattern: Pattern, hot: Sequence[Batch]):
        results = []
        for cavity in mold.cavities.select_related("bait"):
            looked_at = [self._random.random() for _ in range(cavity.count * count)]
            good = sum(look < GOOD for look in looked_at)
            seconds = sum(GOOD <= look < GOOD + SECOND for look in looked_at)
            results.append(shots.Result(cavity.bait, good, seconds))
        self._hours.tick(round(mold.minutes_per_cycle * count) // len(hot))
        return shots.shoot(
            key=next(self._keys),
            pour=self._pour,
            mold=mold,
            pattern=pattern,
            batches=list(hot),
            count=count,
            results=results,
            happened_at=self._hours.now,
            by=self._by,
        )

    def _settle(self, mix: Mixed, batch: Batch) -> None:
        """Measures what is left to the whole mL, a little less than the books say: a film stays."""
        left = Lot.objects.get(pk=batch.lot_id).on_hand // units.MICRO
        if not left:
            return
        self._hours.tick(2)
        then = mix.then or (leftovers.PUCK if left >= PUCK_ML else leftovers.THROW)
        leftovers.settle(
            key=next(self._keys),
            batch=batch,
            measured=max(0, left - self._random.randint(0, 2)) * units.MICRO,
            then=then,
            reason=mix.why if then == leftovers.THROW else "",
            happened_at=self._hours.now,
            by=self._by,
        )


def _fills(shots_of: Sequence[tuple[str, int]]) -> list[tuple[Mold, int]]:
    return [(Mold.objects.get(name=name), count) for name, count in shots_of]


def _base_for(version: RecipeVersion, mix: Mixed) -> int:
    heel = mix.spare * units.MICRO
    return batch_plan.base_for_shots(version, _fills(mix.shots), heel=heel)


def _target(version: RecipeVersion, base: int) -> dict[str, float]:
    return {str(item.pk): q / base for item, q in recipes.doses_for(version, base)}


def _sources(
    version: RecipeVersion, base: int, spared: set[int]
) -> tuple[list[tuple[Lot, int]], mixing.Mix]:
    """Leftovers that can become this color whole, cups and pucks before trim, and what they bring."""
    items = {str(item.pk): item for item in Item.objects.filter(kind__in=Item.DOSED)}
    kinds = tolerances.by_kind()
    tolerance = {key: tolerances.of(item, kinds) for key, item in items.items()}
    target, room = _target(version, base), int(base * MOST_REUSED)
    taken, held = [], mixing.Mix(0)
    lots = bench_queries.leftovers().filter(
        item__grades=str(version.grade_id), melts__lt=version.grade.melt_limit - 1
    )
    for lot in sorted(lots.exclude(pk__in=spared), key=lambda lot: lot.form == Lot.Form.TRIM):
        take = min(lot.on_hand, room)
        brought = _mix_of(lot, take, items)
        found = mixing.convert(brought, target, base / units.MICRO, tolerance=tolerance)
        if take >= LEAST_ML * units.MICRO and found.reuse_share == 1:
            taken.append((lot, take))
            room -= take
            held = _together(held, brought)
    return taken, held


def _mix_of(lot: Lot, quantity: int, items: dict[str, Item]) -> mixing.Mix:
    contents = queries.contents_of(lot, quantity)
    doses = {str(pk): q / units.MICRO for pk, q in contents.items() if str(pk) in items}
    return mixing.Mix(quantity / units.MICRO, doses, lot.melts)


def _together(one: mixing.Mix, other: mixing.Mix) -> mixing.Mix:
    keys = one.doses.keys() | other.doses.keys()
    doses = {key: one.doses.get(key, 0) + other.doses.get(key, 0) for key in sorted(keys)}
    return mixing.Mix(one.base_ml + other.base_ml, doses, max(one.melts, other.melts))


def _doses(version: RecipeVersion, base: int, held: mixing.Mix) -> list[batches.Part]:
    """What is left to add, as hands measure it."""
    parts = []
    for item, quantity in recipes.doses_for(version, base):
        add = units.from_micro(quantity) - Decimal(held.doses.get(str(item.pk), 0))
        measures = amounts.hand_measures(max(add, Decimal(0)), item.stock_unit, facts=item.facts())
        if not measures:
            continue
        handiest, truest = measures[0], min(measures, key=lambda way: way.error)
        way = handiest if handiest.error <= CLOSE else truest
        if way.error <= TOO_LITTLE:
            parts.append(batches.Part(item, units.to_micro(way.made), said=way.text))
    return parts
