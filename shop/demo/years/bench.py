"""The evenings of the years: what is poured, out of which leftovers, and what it gives."""

from collections.abc import Iterator, Sequence
from datetime import date
from decimal import Decimal
from random import Random

from inventory import allocation, amounts, queries, units
from inventory.models import Lot
from inventory.wording import quantity_text
from production import mixing
from production.models import Batch, Cup, Mold, Pattern, Pour, RecipeVersion, RejectReason
from production.services import leftovers, recipes, shots
from production.services.batches import Part
from shop.demo.hours import Hours
from shop.demo.years.things import Things, Work

#: Good baits of all cavities by mold, and seconds beside them. Common practice, no source.
GOOD = {"Stump Craw four": 0.91, "Grub and Wisp": 0.93}
USUALLY_GOOD, SECOND = 0.955, 0.015
#: A mold whose vents clogged for some time: (mold, from, to in years, good baits meanwhile).
CLOGGED = ("Slip Minnow six", 6.1, 6.9, 0.84)
REASONS = [RejectReason.AIR, RejectReason.SHORT, RejectReason.FLASH]
#: The most of a batch that is leftovers, the least worth melting again, and the least worth a puck, in mL.
MOST_REUSED, LEAST_ML, PUCK_ML = 0.45, 8, 25
#: How many leftovers are looked at for a batch, the oldest first.
LOOKED_AT = 30
#: Beyond the shots: what stays in the cup, in mL. Often a little more, for the next color.
SPARE = (8, 10, 12, 12, 15, 20, 35, 45, 60)
#: Part of a cup that is filled at most.
FULL = Decimal("0.93")
CLOSE, TOO_LITTLE = Decimal("0.03"), Decimal("0.5")


class Bench:
    def __init__(
        self, house, things: Things, hours: Hours, keys: Iterator[str], random: Random
    ) -> None:
        self._house, self._things, self._hours = house, things, hours
        self._keys, self._random = keys, random
        self._biggest = units.to_micro(things.cups[-1].most_ml * FULL)

    def tell(self, day: date, years: float, wanted: Sequence[tuple[Work, int]]) -> None:
        """One evening: so many shots of each work, light colors before dark ones."""
        pour = self._house.bench.begin(self._hours.now, day)
        mixed: list[Batch] = []
        for work, count in sorted(wanted, key=lambda one: one[0].depth):
            mixed += self._make(pour, work, count, years)
        for batch in mixed:
            self._settle(batch)
        self._hours.tick(6)
        self._house.bench.close(pour, self._hours.now)

    def most_shots(self, work: Work) -> int:
        """Shots that the largest cups hold, with something to spare."""
        shares = [layer.share for layer in work.pattern.layers.all()]
        room = self._biggest - max(SPARE) * units.MICRO
        return room * units.MICRO // (units.to_micro(work.mold.shot_ml) * max(shares))

    def _make(self, pour: Pour, work: Work, count: int, years: float) -> list[Batch]:
        hot: list[Batch] = []
        shot = units.to_micro(work.mold.shot_ml) * count
        for layer in work.pattern.layers.all():
            total = allocation.portion(shot, layer.share, units.MICRO)
            total += self._random.choice(SPARE) * units.MICRO
            hot.append(self._mix(pour, layer.version, total, hot))
        while count:
            press = min(count, self._random.choice((1, 2, 2, 3)))
            self._shoot(pour, work.mold, work.pattern, hot, press, years)
            count -= press
        return hot

    def _mix(
        self, pour: Pour, version: RecipeVersion, total: int, spared: Sequence[Batch]
    ) -> Batch:
        base = -(-self._things.base_of(version, total) // units.MICRO) * units.MICRO
        sources, held = self._sources(version, base, {batch.lot.pk for batch in spared})
        parts = [
            Part(lot.item, take, lot=lot, said=quantity_text(take, "mL") + " left over")
            for lot, take in sources
        ]
        fresh = base - sum(take for _lot, take in sources)
        parts.append(Part(version.grade, fresh, said=quantity_text(fresh, "mL")))
        parts += self._doses(version, base, held)
        self._hours.tick(self._random.randint(5, 9))
        return self._house.bench.mix(
            next(self._keys),
            pour=pour,
            version=version,
            parts=parts,
            cup=self._cup(total, spared),
            happened_at=self._hours.now,
        )

    def _cup(self, total: int, spared: Sequence[Batch]) -> Cup:
        taken = {batch.cup.pk for batch in spared}
        free = [cup for cup in self._things.cups if cup.pk not in taken]
        fitting = [cup for cup in free if units.to_micro(cup.most_ml) > total]
        return (fitting or free[-1:])[0]

    def _sources(
        self, version: RecipeVersion, base: int, spared: set[int]
    ) -> tuple[list[tuple[Lot, int]], dict[int, int]]:
        """Leftovers that can become this color whole, cups and pucks before trim, and what they bring."""
        target = {str(i.pk): q / base for i, q in recipes.doses_for(version, base)}
        room, taken, inside = int(base * MOST_REUSED), [], {}
        fitting = [lot for lot in self._house.bench.leftovers() if self._may_go_in(lot, version)]
        for lot in sorted(fitting, key=lambda lot: lot.form == Lot.Form.TRIM)[:LOOKED_AT]:
            take = min(lot.on_hand, room)
            if take < LEAST_ML * units.MICRO or lot.pk in spared:
                continue
            brought = queries.share_of(lot, self._house.bench.composition(lot), take)
            doses = {
                str(pk): q / units.MICRO for pk, q in brought.items() if pk != version.grade_id
            }
            if not doses.keys() <= target.keys():
                continue
            mix = mixing.Mix(take / units.MICRO, doses, lot.melts)
            found = mixing.convert(
                mix, target, base / units.MICRO, tolerance=self._things.tolerance
            )
            if found.reuse_share == 1:
                taken.append((lot, take))
                room -= take
                for pk, quantity in brought.items():
                    inside[pk] = inside.get(pk, 0) + quantity
        return taken, inside

    @staticmethod
    def _may_go_in(lot: Lot, version: RecipeVersion) -> bool:
        grade = version.grade
        return lot.item.grades == str(grade.pk) and lot.melts < grade.melt_limit - 1

    def _doses(self, version: RecipeVersion, base: int, held: dict[int, int]) -> list[Part]:
        """What is left to add, as hands measure it."""
        parts = []
        for item, quantity in recipes.doses_for(version, base):
            add = units.from_micro(max(0, quantity - held.get(item.pk, 0)))
            ways = amounts.hand_measures(add, item.stock_unit, facts=item.facts())
            if not ways:
                continue
            way = ways[0] if ways[0].error <= CLOSE else min(ways, key=lambda way: way.error)
            if way.error <= TOO_LITTLE:
                parts.append(Part(item, units.to_micro(way.made), said=way.text))
        return parts

    def _shoot(
        self,
        pour: Pour,
        mold: Mold,
        pattern: Pattern,
        hot: list[Batch],
        count: int,
        years: float,
    ) -> None:
        good_share = self._good(mold, years)
        results = []
        for cavity in mold.cavities.all():
            looks = [self._random.random() for _ in range(cavity.count * count)]
            good = sum(look < good_share for look in looks)
            seconds = sum(good_share <= look < good_share + SECOND for look in looks)
            rejects = len(looks) - good - seconds
            reasons = ((self._random.choice(REASONS), rejects),) if rejects else ()
            results.append(shots.Result(cavity.bait, good, seconds, reasons))
        self._hours.tick(max(1, round(mold.minutes_per_cycle * count / (2 * len(hot)))))
        self._house.bench.shoot(
            next(self._keys),
            pour=pour,
            mold=mold,
            pattern=pattern,
            batches=list(hot),
            count=count,
            results=results,
            happened_at=self._hours.now,
        )

    @staticmethod
    def _good(mold: Mold, years: float) -> float:
        clogged, since, until, good = CLOGGED
        if mold.name == clogged and since <= years < until:
            return good
        return GOOD.get(mold.name, USUALLY_GOOD)

    def _settle(self, batch: Batch) -> None:
        """Measures what is left to the whole mL, a little less than the books say: a film stays."""
        left = self._house.bench.left(batch) // units.MICRO
        if not left:
            return
        self._hours.tick(1)
        puck = left >= PUCK_ML
        self._house.bench.settle(
            next(self._keys),
            batch=batch,
            measured=max(0, left - self._random.randint(0, 2)) * units.MICRO,
            then=leftovers.PUCK if puck else leftovers.THROW,
            reason="" if puck else "The last of the cup.",
            happened_at=self._hours.now,
        )
