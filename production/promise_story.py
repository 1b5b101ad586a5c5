"""An answer written out: where each line's bags come from and when, and the plan behind it."""

import datetime
from collections import Counter
from collections.abc import Sequence

from production import promise_left, promise_short
from production.promise_left import NOTHING, Filling, Left
from production.promise_terms import (
    HAND_MINUTES,
    MOLD_MINUTES,
    Batches,
    Kind,
    Later,
    Line,
    LinePromise,
    Order,
    Plan,
    Short,
    Shots,
    StandIn,
)


def tell(
    order: Order,
    ready: Sequence[int],
    rest: Sequence[Line],
    filling: Filling,
    left: Left,
    shorts: promise_short.Shorts,
) -> tuple[tuple[LinePromise, ...], Plan]:
    """Return the lines and the plan. `left` is the shelf before the filling is taken."""
    shelf = left.shelf
    plan = _plan(rest, filling, left, order.due)
    baits = _Baits(left, rest, filling, order.due)
    told = []
    for number, line in enumerate(order.lines):
        product = shelf.products[line.product]
        bagging, pouring = baits.bag(product.contents, filling.bags[number])
        short = rest[number].bags - filling.bags[number]
        recipes = {key for _, pattern in product.contents for key in shelf.patterns[pattern]}
        told.append(
            LinePromise(
                product=line.product,
                bags=line.bags,
                ready=ready[number],
                bagging=bagging,
                pouring=pouring,
                short=short,
                limits=_limits(line, left, shorts.found) if short else (),
                stand_ins=tuple(s for s in plan.stand_ins if pouring and s.recipe in recipes),
            )
        )
    return tuple(told), plan


def _plan(lines: Sequence[Line], filling: Filling, left: Left, due: datetime.date) -> Plan:
    shelf = left.shelf
    shots = [
        Shots(shelf.evenings[e].on, mold, pattern, count)
        for (e, mold, pattern), count in filling.shots.items()
        if count
    ]
    cups = [
        Batches(shelf.evenings[e].on, recipe, count, base_ml)
        for (e, recipe), (count, base_ml) in promise_left.batches(shelf, filling.shots).items()
    ]
    return Plan(
        shots=tuple(sorted(shots, key=lambda s: (s.on, s.mold, s.pattern))),
        batches=tuple(sorted(cups, key=lambda b: (b.on, b.recipe))),
        uses=promise_left.needs(shelf, lines, filling),
        leftovers=dict(filling.leftovers),
        stand_ins=tuple(
            StandIn(recipe, flake, other, amount)
            for (recipe, flake, other), amount in sorted(filling.stand_ins.items())
        ),
        loose=promise_left.loose_used(left, lines, filling, due),
    )


class _Baits:
    """The baits that go into bags, those that are ready first before the others."""

    def __init__(
        self, left: Left, lines: Sequence[Line], filling: Filling, due: datetime.date
    ) -> None:
        wanted = promise_left.baits_wanted(left.shelf, lines, filling.bags)
        # a day, whether poured for it, and how many
        self.heaps: dict[Kind, list[list]] = {
            kind: [[on, False, amount] for on, amount in left.baits(kind, due)] for kind in wanted
        }
        for (e, mold, pattern), count in filling.shots.items():
            ready = left.shelf.ready_on(left.shelf.evenings[e])
            for bait in left.shelf.molds[mold].cavities:
                if (bait, pattern) in self.heaps:
                    good = promise_left.good_per_shot(left.shelf, mold, bait) * count
                    self.heaps[bait, pattern].append([ready, True, good])
        for heaps in self.heaps.values():
            heaps.sort(key=lambda heap: (heap[1], heap[0]))

    def bag(self, contents, bags: int) -> tuple[tuple[Later, ...], tuple[Later, ...]]:
        """Fill the bags; return those that need bagging only, and those that are poured for."""
        found: dict[bool, Counter[datetime.date]] = {False: Counter(), True: Counter()}
        for _ in range(bags):
            taken = [self._take(kind, each) for kind, each in contents.items()]
            on = max(day for day, _ in taken)
            found[any(poured for _, poured in taken)][on] += 1
        bagging, pouring = (
            tuple(Later(on, count) for on, count in sorted(found[poured].items()))
            for poured in (False, True)
        )
        return bagging, pouring

    def _take(self, kind: Kind, count: float) -> tuple[datetime.date, bool]:
        heaps, poured, on = self.heaps[kind], False, datetime.date.min
        while count > NOTHING and heaps:
            day, fresh, amount = heaps[0]
            part = min(amount, count)
            if part > NOTHING:
                on, poured = max(on, day), poured or fresh
            heaps[0][2] -= part
            count -= part
            if heaps[0][2] <= NOTHING:
                heaps.pop(0)
        return on, poured


def _limits(line: Line, left: Left, shorts: Sequence[Short]) -> tuple[Short, ...]:
    """The order's shortages that this line runs into; all of them when it runs into none by
    itself."""
    product = left.shelf.products[line.product]
    items = promise_left.touched(product, left.shelf)
    baits = {bait for bait, _ in product.contents}
    limits = tuple(
        short
        for short in shorts
        if short.key in items
        or short.what == HAND_MINUTES
        or (short.what == MOLD_MINUTES and baits & set(left.shelf.molds[short.key].cavities))
    )
    return limits or tuple(shorts)
