"""The quick way to fill an order: shots into the first evenings with room, all of fresh plastic.

When everything fits like this nothing better can be found; when not, the program of
`promise_model` looks at leftovers, stand-ins and every other way of spreading the shots.
"""

import datetime
import math
from collections import Counter
from collections.abc import Sequence

from production import promise_left
from production.promise_left import NOTHING, OVERTIME, Filling, Left
from production.promise_terms import Kind, Line


def fill(left: Left, lines: Sequence[Line], due: datetime.date, evenings: Sequence[int]) -> Filling:
    """Fill the lines in their order, each as far as it goes, using the evenings in theirs."""
    whole = _tried(
        left, lines, Filling([0] * len(lines)), [line.bags for line in lines], due, evenings
    )
    if whole is not None:
        return whole
    filling = Filling([0] * len(lines))
    for number, line in enumerate(lines):
        low, high = 0, line.bags
        while low < high:
            middle = high if low == 0 and high == line.bags else (low + high + 1) // 2
            bags = [*filling.bags[:number], middle, *filling.bags[number + 1 :]]
            found = _tried(left, lines, filling, bags, due, evenings, only=line)
            if found is None:
                high = middle - 1
            else:
                low, best = middle, found
        if low > 0:
            filling = best
    return filling


def _tried(
    left: Left,
    lines: Sequence[Line],
    start: Filling,
    bags: list[int],
    due: datetime.date,
    evenings: Sequence[int],
    *,
    only: Line | None = None,
) -> Filling | None:
    """`start` with so many bags of each line; None where that does not fit. `only`: nothing but this line
    differs from `start`."""
    filling = start.copy()
    filling.bags = list(bags)
    wanted = promise_left.baits_wanted(left.shelf, lines, bags)
    kinds = left.shelf.products[only.product].contents if only else wanted
    for kind in kinds:
        count = wanted[kind]
        count -= sum(amount for _, amount in left.baits(kind, due))
        if place(left, filling, kind, count, evenings) > NOTHING:
            return None
    for key, amount in promise_left.needs(left.shelf, lines, filling).items():
        if amount > left.item(key, due) * (1 + NOTHING):
            return None
    return filling


def place(left: Left, filling: Filling, kind: Kind, count: float, evenings: Sequence[int]) -> float:
    """Add shots until they give `count` baits of the kind; return how many are still lacking."""
    bait, pattern = kind
    good = left.good(bait)
    poured = (
        good[mold] * shots
        for (_, mold, of), shots in filling.shots.items()
        if of == pattern and mold in good
    )
    lacking = count - sum(poured)
    for e in evenings:
        for mold in good:
            if lacking <= NOTHING * max(1.0, count):
                return 0.0
            wanted = math.ceil(lacking / good[mold] - NOTHING)
            shots = _room(left, filling, (e, mold, pattern), wanted)
            if shots > 0:
                filling.shots[e, mold, pattern] += shots
                lacking -= shots * good[mold]
    return max(0.0, lacking)


def spread(left: Left, endless: Filling, evenings: Sequence[int]) -> Filling | None:
    """The shots of one endless evening in real ones, each pattern in as few of them as can be; None where
    there is no room."""
    filling = endless.copy()
    filling.shots = Counter()
    shots = sorted(endless.shots.items(), key=lambda pair: (-pair[1], pair[0]))
    for (_, mold, pattern), count in shots:
        rest = count
        room = {e: _room(left, filling, (e, mold, pattern), count) for e in evenings}
        # where a cup of it stands already, then where all of it has room, then wherever most has
        poured = {e for e, _, of in filling.shots if of == pattern}
        for e in sorted(evenings, key=lambda e: (e not in poured, -room[e])):
            part = min(rest, _room(left, filling, (e, mold, pattern), rest))
            if part > 0:
                filling.shots[e, mold, pattern] += part
                rest -= part
        if rest:
            return None
    return filling


def _room(left: Left, filling: Filling, where: tuple[int, str, str], wanted: int) -> int:
    """How many more of these shots the evening's molds and hands can do, `wanted` at most."""
    e, mold, _ = where
    most = min(wanted, left.shots[e, mold] - _used(filling, e, mold))
    return _most_that_hands_can(left, filling, where, most) if most > 0 else 0


def place_all(
    left: Left, filling: Filling, kind: Kind, count: float, evenings: Sequence[int]
) -> None:
    """As `place`, and what no evening has room for goes into overtime."""
    lacking = place(left, filling, kind, count, evenings)
    if lacking > NOTHING:
        bait, pattern = kind
        mold, most = next(iter(left.good(bait).items()))
        filling.shots[OVERTIME, mold, pattern] += math.ceil(lacking / most - NOTHING)


def _used(filling: Filling, e: int, mold: str) -> int:
    return sum(count for (on, used, _), count in filling.shots.items() if on == e and used == mold)


def _most_that_hands_can(
    left: Left, filling: Filling, where: tuple[int, str, str], most: int
) -> int:
    e = where[0]
    if left.hands[e] < left.shelf.molds[where[1]].hand_minutes:
        return 0
    tonight = Filling([], Counter({key: n for key, n in filling.shots.items() if key[0] == e}))
    before, low, high = tonight.shots[where], 0, most
    while low < high:
        middle = high if low == 0 and high == most else (low + high + 1) // 2
        tonight.shots[where] = before + middle
        minutes = promise_left.hand_minutes(left.shelf, tonight)[e]
        if minutes <= left.hands[e] + NOTHING:
            low = middle
        else:
            high = middle - 1
    return low
