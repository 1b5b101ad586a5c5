"""What earlier orders keep: the whole of what they still need, first accepted, first served."""

from collections.abc import Sequence

from production import promise_left, promise_model, promise_rule
from production.promise_left import Filling, Left
from production.promise_terms import Line, Order


def set_aside(left: Left, earlier: Sequence[Order], until: float, *, quick: bool = False) -> float:
    """Take from `left` what the earlier orders need; return the gap of what was reckoned for them.

    What can be made for an order is taken as late as its own due date allows, so that tonight stays
    free for whoever needs it sooner. Of what cannot, all that is there is kept: the
    rest of it is on its way. `quick`: all of it of fresh plastic, in the first molds that come.
    """
    gap = 0.0
    for order in earlier:
        gap = max(gap, _set_aside(left, order, until, quick))
    return gap


def _set_aside(left: Left, order: Order, until: float, quick: bool) -> float:
    due = max(order.due, left.shelf.today)
    lines = [
        Line(line.product, line.bags - left.take_bags(line.product, line.bags, due))
        for line in order.lines
    ]
    if not any(line.bags for line in lines):
        return 0.0
    in_time = left.evenings(due)
    late = sorted(set(left.hands) - set(in_time), key=lambda e: left.shelf.evenings[e].on)
    evenings = [*reversed(in_time), *late]
    filling, gap = promise_rule.fill(left, lines, due, evenings), 0.0
    if filling.bags != [line.bags for line in lines] and not quick:
        model = promise_model.Model(left, lines, due, evenings)
        objectives = [model.worth([1.0] * len(lines)), model.no_stand_ins()]
        answer = promise_model.lexicographic(model, objectives, until)
        gap = answer.gap
        if answer.point is not None:
            found = model.read(promise_model.tidy(model, answer.point, until))
            filling = found if sum(found.bags) > sum(filling.bags) else filling
    left.take(lines, filling, due)
    missing = [line.bags - bags for line, bags in zip(lines, filling.bags, strict=True)]
    if any(missing):
        left.take(lines, _rest(left, lines, missing, due, evenings), due)
    return gap


def _rest(left: Left, lines: Sequence[Line], bags: list[int], due, evenings) -> Filling:
    """All of fresh plastic, in the hours that there are, and beyond them."""
    shelf, filling = left.shelf, Filling(bags)
    for kind, count in promise_left.baits_wanted(shelf, lines, bags).items():
        count -= sum(amount for _, amount in left.baits(kind, due))
        promise_rule.place_all(left, filling, kind, count, evenings)
    return filling
