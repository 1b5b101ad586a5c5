"""Before saying yes to a customer: what of an order is ready, and what can be made by when.

Bagged bags first, then loose baits that only need bagging, then what the coming evenings can pour
from this shelf, after what earlier orders hold: available-to-promise in the sense of the ASCM
(APICS) dictionary, the uncommitted part of stock and planned output (definition from memory).

What is counted and what is not:

- Whole bags, whole shots, whole cups; good baits as expected by the yield. Baits that shots give
  beyond what is asked are not counted for anybody, and neither is anything that tonight's heels
  might give.
- Each batch leaves its heel. Shots of one evening fit the evening's minutes: those of each mold's
  copies in whole cycles, and those of one pair of hands for mixing each cup and for each shot. How
  many cups are hot at once is the business of the evening's own plan (`evening`).
- A lot that expires before the order is due does not count for it.
- Leftovers go only into colors that `mixing.convert` would let them become, in its shares.
  Stand-ins of flake are taken as little as can be.
- Earlier orders keep their whole unfilled need, first accepted first served (`promise_aside`).
"""

import datetime
import time
from collections.abc import Sequence
from dataclasses import dataclass

from production import (
    promise_aside,
    promise_checks,
    promise_left,
    promise_model,
    promise_rule,
    promise_short,
    promise_story,
    promise_terms,
)
from production.promise_left import Filling, Left

# The words of a promise are read as promise.Order, promise.Shelf and so on.
Batches = promise_terms.Batches
Evening = promise_terms.Evening
Item = promise_terms.Item
Leftover = promise_terms.Leftover
Line = promise_terms.Line
LinePromise = promise_terms.LinePromise
Lot = promise_terms.Lot
Mold = promise_terms.Mold
Order = promise_terms.Order
Plan = promise_terms.Plan
Product = promise_terms.Product
Promise = promise_terms.Promise
PromiseError = promise_terms.PromiseError
Recipe = promise_terms.Recipe
Later = promise_terms.Later
ITEM = promise_terms.ITEM
MOLD_MINUTES, HAND_MINUTES = promise_terms.MOLD_MINUTES, promise_terms.HAND_MINUTES
Shelf = promise_terms.Shelf
Short = promise_terms.Short
Shots = promise_terms.Shots
StandIn = promise_terms.StandIn

#: At most so many bags of a line.
MOST_BAGS = promise_checks.MOST_BAGS

#: What the best part of an order is: the most bags, the most money, or the lines as they are
#: ranked.
BAGS, VALUE, RANK = "bags", "value", "rank"

# The rest of the time is for what is short.
_BEST_SHARE = 0.6


@dataclass(frozen=True)
class Most:
    """The most bags of one product; `answer` promises one bag more, and says what that lacks."""

    bags: int
    answer: Promise


def promise(
    order: Order,
    shelf: Shelf,
    *,
    earlier: Sequence[Order] = (),
    worth: str = BAGS,
    time_limit_s: float = 5.0,
    quick: bool = False,
) -> Promise:
    """Say what of the order can be ready when it is due, and what the rest lacks.

    `earlier` are the accepted orders, first accepted first, with the bags that they still need.
    When the order does not fit, the part that is promised is the best by `worth`: "bags" (most
    bags), "value" (most money) or "rank" (as much of the first line as can be, then of the second,
    …). Within `time_limit_s` seconds or so; what could not be proven by then has a gap. `quick`: by
    the rule of `promise_rule` alone, in milliseconds; a whole order is then proven, the part of another
    one and what it lacks are not. Raises PromiseError naming what makes no sense.
    """
    until = time.monotonic() + time_limit_s
    if worth not in (BAGS, VALUE, RANK):
        raise PromiseError(f"the best part of an order is not by {worth}")
    promise_checks.check_shelf(shelf)
    for each in (*earlier, order):
        promise_checks.check_order(each, shelf)
    left = Left(shelf)
    gap = promise_aside.set_aside(left, earlier, until, quick=quick)
    set_aside = _taken(Left(shelf), left)
    ready = _bagged(order, left, worth)
    rest = [
        Line(line.product, line.bags - there, line.price)
        for line, there in zip(order.lines, ready, strict=True)
    ]
    now = time.monotonic()
    if quick:
        # what earlier orders keep by the rule is never less than they need
        filling, gap = promise_rule.fill(left, rest, order.due, left.evenings(order.due)), 0.0
        made_gap = float(filling.bags != [line.bags for line in rest])
    else:
        filling, made_gap = _best(rest, left, order.due, worth, now + _BEST_SHARE * (until - now))
    shorts = promise_short.shorts(left, rest, filling, order.due, until, quick=quick)
    gap = max(gap, made_gap)
    lines, plan = promise_story.tell(order, ready, rest, filling, left, shorts)
    return Promise(
        lines=lines,
        shorts=shorts.found,
        least=shorts.least,
        ready_on=_ready_on(lines, shelf.today),
        whole_on=shorts.whole_on,
        plan=plan,
        set_aside=set_aside,
        proven=gap == 0,
        gap=gap,
    )


def best_part(
    order: Order,
    shelf: Shelf,
    *,
    worth: str = VALUE,
    earlier: Sequence[Order] = (),
    time_limit_s: float = 5.0,
) -> Promise:
    """The best part of an order that does not fit: the most money, or the first lines first
    ("rank").

    Of two parts worth the same money, the one with more bags. As `promise`, and raises what it
    raises.
    """
    return promise(order, shelf, earlier=earlier, worth=worth, time_limit_s=time_limit_s)


def most_bags(
    product: str,
    shelf: Shelf,
    *,
    due: datetime.date,
    earlier: Sequence[Order] = (),
    time_limit_s: float = 5.0,
) -> Most:
    """Say how many bags of one product could be promised by then, and what one more would lack."""
    until = time.monotonic() + time_limit_s
    promise_checks.check_shelf(shelf)
    promise_checks.check_product(product, shelf)
    ceiling = min(MOST_BAGS, _ceiling(product, Left(shelf), due) + 1)
    order = Order([Line(product, ceiling)], due)
    # half of the time for the number, half for what one bag more lacks
    answer = promise(order, shelf, earlier=earlier, time_limit_s=time_limit_s / 2)
    bags = answer.lines[0].promised
    if bags + 1 < ceiling:
        more = Order([Line(product, bags + 1)], due)
        answer = promise(more, shelf, earlier=earlier, time_limit_s=until - time.monotonic())
        bags = max(bags, answer.lines[0].promised)
    return Most(bags, answer)


def _ceiling(product: str, left: Left, due: datetime.date) -> int:
    """No more bags than this, even if plastic and packaging had no end."""
    shelf, most = left.shelf, []
    for kind, each in shelf.products[product].contents.items():
        baits = sum(amount for _, amount in left.baits(kind, due))
        for e in left.evenings(due):
            for mold in shelf.molds:
                baits += left.shots[e, mold] * promise_left.good_per_shot(shelf, mold, kind[0])
        most.append(int(baits / each + promise_left.NOTHING))
    return left.bags(product, due) + min(most)


def _bagged(order: Order, left: Left, worth: str) -> list[int]:
    """Bags that are ready, to the lines that earn most or come first when two want the same."""
    ready = [0] * len(order.lines)
    turns = list(range(len(ready)))
    if worth == VALUE:
        turns.sort(key=lambda number: -_price(order.lines[number], left))
    for number in turns:
        line = order.lines[number]
        ready[number] = left.take_bags(line.product, line.bags, order.due)
    return ready


def _price(line: Line, left: Left) -> float:
    return left.shelf.products[line.product].price if line.price is None else line.price


def _best(
    lines: Sequence[Line], left: Left, due: datetime.date, worth: str, until: float
) -> tuple[Filling, float]:
    evenings = left.evenings(due)
    by_rule = promise_rule.fill(left, lines, due, evenings)
    if by_rule.bags == [line.bags for line in lines]:
        return by_rule, 0.0
    model = promise_model.Model(left, lines, due, evenings)
    ones = [1.0] * len(lines)
    weights = {
        BAGS: [ones],
        VALUE: [[_price(line, left) for line in lines], ones],
        RANK: [[float(k == number) for k in range(len(lines))] for number in range(len(lines))],
    }[worth]

    def score(filling: Filling) -> list[float]:
        return [sum(w * n for w, n in zip(each, filling.bags, strict=True)) for each in weights]

    best = promise_model.lexicographic(model, [model.worth(each) for each in weights], until)
    if best.point is None or score(by_rule) >= score(model.read(best.point)):
        return by_rule, best.gap
    few = promise_model.lexicographic(model, [model.no_stand_ins()], until, point=best.point)
    point = promise_model.tidy(model, few.point, until)
    return model.read(point), max(best.gap, few.gap)


def _taken(before: Left, after: Left) -> dict[str, float]:
    amounts = {
        key: sum(lot[0] for lot in lots) - sum(lot[0] for lot in after.items[key])
        for key, lots in before.items.items()
    }
    return {key: amount for key, amount in amounts.items() if amount > 0}


def _ready_on(lines: Sequence[LinePromise], today: datetime.date) -> datetime.date | None:
    days = [later.on for line in lines for later in (*line.bagging, *line.pouring)]
    days += [today for line in lines if line.ready]
    return max(days, default=None)
