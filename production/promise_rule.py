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
            found = _tried(left, lines, filling, bags, due, evenings)
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
) -> Filling | None:
    filling = start.copy()
    filling.bags = list(bags)
    wanted = promise_left.baits_wanted(left.shelf, lines, bags)
    for kind, count in wanted.items():
        count -= sum(amount for _, amount in left.baits(kind, due))
        if place(left, filling, kind, count, evenings) > NOTHING:
            return None
    for key, amount in promise_left.needs(left.shelf, lines, filling).items():
        if amount > left.item(key, due) * (1 + NOTHING):
            return None
    return filling


def place(left: Left, filling: Filling, kind: Kind, count: float, evenings: Sequence[int]) -> float:
    """Add shots until they give `count` baits of the kind; return how many are still lacking."""
    shelf, (bait, pattern) = left.shelf, kind
    good = {key: promise_left.good_per_shot(shelf, key, bait) for key in shelf.molds}
    molds = sorted((key for key in good if good[key] > 0), key=lambda key: -good[key])
    lacking = count - promise_left.baits_poured(shelf, filling.shots)[kind]
    for e in evenings:
        for mold in molds:
            if lacking <= NOTHING * max(1.0, count):
                return 0.0
            there = left.shots[e, mold] - _used(filling, e, mold)
            most = min(there, math.ceil(lacking / good[mold] - NOTHING))
            shots = _most_that_hands_can(left, filling, (e, mold, pattern), most)
            if shots > 0:
                filling.shots[e, mold, pattern] += shots
                lacking -= shots * good[mold]
    return max(0.0, lacking)


def place_all(
    left: Left, filling: Filling, kind: Kind, count: float, evenings: Sequence[int]
) -> None:
    """As `place`, and what no evening has room for goes into overtime."""
    lacking = place(left, filling, kind, count, evenings)
    if lacking > NOTHING:
        bait, pattern = kind
        good = {key: promise_left.good_per_shot(left.shelf, key, bait) for key in left.shelf.molds}
        mold = max(good, key=lambda key: good[key])
        filling.shots[OVERTIME, mold, pattern] += math.ceil(lacking / good[mold] - NOTHING)


def _used(filling: Filling, e: int, mold: str) -> int:
    return sum(count for (on, used, _), count in filling.shots.items() if on == e and used == mold)


def _most_that_hands_can(
    left: Left, filling: Filling, where: tuple[int, str, str], most: int
) -> int:
    e = where[0]
    tonight = Filling([], Counter({key: n for key, n in filling.shots.items() if key[0] == e}))
    before, low, high = tonight.shots[where], 0, max(0, most)
    while low < high:
        middle = high if low == 0 and high == most else (low + high + 1) // 2
        tonight.shots[where] = before + middle
        minutes = promise_left.hand_minutes(left.shelf, tonight)[e]
        if minutes <= left.hands[e] + NOTHING:
            low = middle
        else:
            high = middle - 1
    return low
