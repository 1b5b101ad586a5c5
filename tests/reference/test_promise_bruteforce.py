"""The promise against every combination of whole bags, shots and evenings on small shelves.

The reference in `promise_cases` shares no code with the promise. Each plan is added up again from
its shots and batches, and never takes more than there is of anything.
"""

import dataclasses
from functools import cache

import pytest

from production import promise
from tests.reference import promise_cases

SEEDS = range(66)
# Long enough for a busy machine: every one of these is finished, with proof, in far less.
PATIENT_S = 60


@cache
def case(seed):
    """An order, a shelf, and all choices of bags that it can give."""
    order, shelf = promise_cases.small_case(seed)
    return order, shelf, promise_cases.all_possible(order, shelf)


@cache
def answered(seed, worth="bags"):
    order, shelf = promise_cases.small_case(seed)
    return promise.promise(order, shelf, worth=worth, time_limit_s=PATIENT_S)


def _prices(order, shelf):
    return [shelf.products[line.product].price for line in order.lines]


def _money(bags, prices):
    return sum(count * price for count, price in zip(bags, prices, strict=True))


@pytest.mark.parametrize(
    ("seed", "worth"),
    [(seed, worth) for seed in SEEDS for worth in ("bags", ["value", "rank"][seed % 2])],
)
def test_no_combination_of_bags_is_better_than_the_promised(seed, worth):
    order, shelf, possible = case(seed)
    answer = answered(seed, worth)
    promise_cases.recheck(order, shelf, answer)
    assert answer.proven and answer.least
    prices = _prices(order, shelf)
    score = {
        "bags": sum,
        "value": lambda bags: (_money(bags, prices), sum(bags)),
        "rank": lambda bags: bags,
    }[worth]
    promised = tuple(line.promised for line in answer.lines)
    assert promised in possible
    assert score(promised) == max(map(score, possible))


@pytest.mark.parametrize("seed", SEEDS)
def test_what_an_order_lacks_is_what_makes_it_fit(seed):
    """With the purchases that the answer names, and evenings without end, every bag can be made."""
    order, shelf, possible = case(seed)
    answer = answered(seed)
    whole = tuple(line.bags for line in order.lines)
    assert answer.whole == (whole in possible) == (not answer.shorts)
    hours = [short for short in answer.shorts if short.what != "item"]
    if answer.shorts and not hours:
        bought = promise_cases.with_purchases(shelf, answer.shorts)
        assert promise_cases.possible(order, bought, whole)
        for short in answer.shorts:
            less = promise_cases.with_purchases(shelf, answer.shorts, but_less_of=short.key)
            assert not promise_cases.possible(order, less, whole)


@pytest.mark.parametrize("seed", SEEDS[::4])
def test_the_most_bags_of_one_product_are_the_most(seed):
    order, shelf, _ = case(seed)
    product = order.lines[0].product
    most = promise.most_bags(product, shelf, due=order.due, time_limit_s=PATIENT_S)
    assert most.answer.proven
    bags = 0
    while promise_cases.possible(
        promise.Order([promise.Line(product, bags + 1)], order.due), shelf, (bags + 1,)
    ):
        bags += 1
    assert most.bags == bags
    assert most.answer.shorts or most.bags == most.answer.lines[0].bags


@pytest.mark.parametrize("seed", range(66, 106))
def test_the_best_beside_an_earlier_order_is_the_best_of_what_it_leaves(seed):
    order, shelf = promise_cases.small_case(seed)
    first = promise.Line(order.lines[0].product, 1 + seed % 2)
    left = promise_cases.after_earlier(first, shelf)
    if left is None:
        earlier_alone(first, order, shelf)
        return
    less, busy = left
    shelf = promise_cases.on_one_evening(shelf)
    earlier = [promise.Order([first], order.due)]
    answer = promise.promise(order, shelf, earlier=earlier, time_limit_s=PATIENT_S)
    promise_cases.recheck(order, less, answer)
    possible = promise_cases.all_possible(order, less, busy)
    assert sum(line.promised for line in answer.lines) == max(map(sum, possible))


def earlier_alone(first, order, shelf):
    """An earlier order that needs more than the fresh plastic there is still gets all that it
    can."""
    alone = promise.Order([first], order.due)
    before = promise.promise(alone, shelf, time_limit_s=PATIENT_S)
    answer = promise.promise(order, shelf, earlier=[alone], time_limit_s=PATIENT_S)
    promise_cases.recheck(order, shelf, answer)
    after = promise_cases.without(shelf, answer.plan)
    assert promise.promise(alone, after, time_limit_s=PATIENT_S).lines[0].promised >= (
        before.lines[0].promised
    )


@pytest.mark.parametrize(
    "kind", ["soft", "soot", "glint", "plum", "bag", "long mold", "short mold", "", "nothing"]
)
def test_the_seeded_shelves_run_out_of_everything(kind):
    """Else the brute force would prove nothing about it."""
    answers = [answered(seed) for seed in SEEDS]
    if kind == "nothing":
        assert any(answer.whole for answer in answers)
    else:
        assert any(short.key == kind for answer in answers for short in answer.shorts)


def test_the_seeded_shelves_use_leftovers_and_stand_ins():
    answers = [answered(seed) for seed in SEEDS]
    assert any(answer.plan.leftovers for answer in answers)
    assert any(answer.plan.stand_ins for answer in answers)


def test_the_second_reckoning_notices_a_wrong_plan():
    seed = next(seed for seed in SEEDS if answered(seed).plan.shots)
    order, shelf, answer = *case(seed)[:2], answered(seed)
    promise_cases.recheck(order, shelf, answer)
    fewer = dataclasses.replace(answer.plan, shots=answer.plan.shots[1:])
    with pytest.raises(AssertionError):
        promise_cases.recheck(order, shelf, dataclasses.replace(answer, plan=fewer))
