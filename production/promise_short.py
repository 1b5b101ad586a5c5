"""What an order lacks: material and hours, exactly how much, and when it could be here."""

import datetime
import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from production import promise_left, promise_model, promise_rule
from production.promise_left import NOTHING, OVERTIME, Filling, Left
from production.promise_terms import HAND_MINUTES, ITEM, MOLD_MINUTES, Line, Short

# What a solver's tolerance may leave of a purchase that is really nothing, as a share of the item's
# stock.
_NO_PURCHASE = 1e-6


@dataclass(frozen=True)
class Shorts:
    """`least` when nothing less than what was found would do, and that is proven."""

    found: tuple[Short, ...]
    whole_on: datetime.date | None
    least: bool


def shorts(
    left: Left,
    lines: Sequence[Line],
    filling: Filling,
    due: datetime.date,
    until: float,
    *,
    quick: bool = False,
) -> Shorts:
    """The least that the whole order lacks beyond `left`: hours first, then purchases.

    Each purchase counts as a share of what there is of the item. Stand-ins help as far as there are
    any; what is then short is the flake itself, never its stand-in. `quick`: as if all of it were poured
    of fresh plastic, which may be more than is needed.
    """
    missing = [line.bags - bags for line, bags in zip(lines, filling.bags, strict=True)]
    after = left.copy()
    after.take(lines, filling, due)
    if not any(missing):
        return Shorts((), _ready(left, lines, filling, due), True)
    evenings = left.evenings(due)
    today, items = left.shelf.today, {}
    least = None if quick else _least(left, lines, due, evenings, until)
    if least is None:
        whole, proven = _all_fresh(left, lines, due, evenings), False
        for key, amount in promise_left.needs(left.shelf, lines, whole).items():
            items[key] = amount - left.item(key, due)
    else:
        items, whole, proven = least
    found = []
    for key, amount in items.items():
        if amount > _NO_PURCHASE * max(1.0, left.item(key, due)):
            days = left.shelf.items[key].lead_days
            here = None if days is None else today + datetime.timedelta(days=math.ceil(days))
            found.append(Short(ITEM, key, amount, here))
    poured_on = when(after, lines, missing, today)
    found += _hours(left, whole, evenings, poured_on)
    arrivals = [short.on for short in found if short.what == ITEM]
    if None in arrivals:
        whole_on = None
    else:
        whole_on = when(after, lines, missing, max(arrivals, default=today))
    return Shorts(tuple(found), whole_on, proven)


def _least(
    left: Left, lines: Sequence[Line], due: datetime.date, evenings: Sequence[int], until: float
) -> tuple[dict[str, float], Filling, bool] | None:
    """The least purchases by item, the way of filling the whole order with them and the least overtime,
    and whether nothing less is proven to do; None when there was no time for any.

    Where no hours are short, one evening that never ends is tried first: it needs no more of anything.
    When its shots find room in the real ones for no more plastic, nothing less would do."""
    model = promise_model.Model(left, lines, due, evenings, whole_order=True)
    hours = promise_model.lexicographic(model, [model.no_overtime()], until)
    if hours.point is None:
        return None
    if hours.gap == 0 and not any(e == OVERTIME for e, *_ in model.read(hours.point).shots):
        endless = promise_model.Model(left, lines, due, [], whole_order=True)
        answer = promise_model.lexicographic(endless, [endless.no_purchases()], until)
        if answer.point is not None and answer.gap == 0:
            bought = _bought(endless, answer.point)
            spread = promise_rule.spread(left, endless.read(answer.point), evenings)
            if spread and _enough(left, lines, spread, bought, due):
                return bought, spread, True
    answer = promise_model.lexicographic(model, [model.no_purchases()], until, point=hours.point)
    proven = hours.gap == answer.gap == 0
    return _bought(model, answer.point), model.read(answer.point), proven


def _bought(model: promise_model.Model, point: Sequence[float]) -> dict[str, float]:
    return {key: model.bought_amount(key, point) for key in model.bought}


def _enough(
    left: Left, lines: Sequence[Line], filling: Filling, bought: dict[str, float], due
) -> bool:
    """Whether the filling takes no more than what is there and what was bought."""
    needs = promise_left.needs(left.shelf, lines, filling)
    return all(
        amount <= (left.item(key, due) + bought.get(key, 0.0)) * (1 + NOTHING)
        for key, amount in needs.items()
    )


def when(
    left: Left, lines: Sequence[Line], bags: list[int], start: datetime.date
) -> datetime.date | None:
    """The day on which these bags could be ready, begun on `start`, if only hours were needed."""
    shelf = left.shelf
    ready = start + datetime.timedelta(days=shelf.packing_days)
    evenings = [e for e in left.evenings(datetime.date.max) if shelf.evenings[e].on >= start]
    filling = Filling([])
    for kind, count in promise_left.baits_wanted(shelf, lines, bags).items():
        for cured, amount in left.baits(kind, datetime.date.max):
            if count > NOTHING:
                ready, count = max(ready, cured), count - amount
        if promise_rule.place(left, filling, kind, count, evenings) > NOTHING:
            return None
    return max([ready, *(shelf.ready_on(shelf.evenings[e]) for e, *_ in filling.shots)])


def _ready(left, lines, filling, due) -> datetime.date:
    """The day on which all is ready when nothing is missing."""
    days = [left.shelf.ready_on(left.shelf.evenings[e]) for e, *_ in filling.shots]
    used = promise_left.loose_used(left, lines, filling, due)
    for kind, count in used.items():
        for ready, amount in left.baits(kind, due):
            if count > NOTHING:
                days.append(ready)
                count -= amount
    return max(days, default=left.shelf.today)


def _all_fresh(left: Left, lines: Sequence[Line], due, evenings) -> Filling:
    """The whole order of fresh plastic, with overtime: more than is needed, when time ran out."""
    filling = Filling([line.bags for line in lines])
    for kind, count in promise_left.baits_wanted(left.shelf, lines, filling.bags).items():
        count -= sum(amount for _, amount in left.baits(kind, due))
        promise_rule.place_all(left, filling, kind, count, evenings)
    return filling


def _hours(
    left: Left, whole: Filling, evenings: Sequence[int], on: datetime.date | None
) -> list[Short]:
    """Mold and hand minutes that the whole order takes beyond those of the evenings."""
    shelf, found = left.shelf, []
    if not any(e == OVERTIME for e, *_ in whole.shots):
        return found
    on_mold: Counter[str] = Counter()
    for (_, mold, _), count in whole.shots.items():
        on_mold[mold] += count
    for mold, count in on_mold.items():
        beyond = count - sum(left.shots[e, mold] for e in evenings)
        if beyond > 0:
            minutes = beyond * shelf.molds[mold].cycle_minutes
            found.append(Short(MOLD_MINUTES, mold, minutes, on))
    # as if the last evening went on: what is in a cup by then need not be mixed again
    last = evenings[-1] if evenings else OVERTIME
    longer: Counter[tuple[int, str, str]] = Counter()
    for (e, mold, pattern), count in whole.shots.items():
        longer[last if e == OVERTIME else e, mold, pattern] += count
    minutes = promise_left.hand_minutes(shelf, Filling([], longer))
    beyond = sum(minutes.values()) - sum(left.hands[e] for e in evenings)
    if beyond > NOTHING:
        found.append(Short(HAND_MINUTES, "", beyond, on))
    elif not found:
        # enough minutes in all, and no evening with enough of them for what is left
        found.append(Short(HAND_MINUTES, "", minutes[last] - left.hands[last], on))
    return found
