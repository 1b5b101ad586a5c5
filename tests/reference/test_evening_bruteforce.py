"""The planner against every order and every choice of which source feeds which.

The reference is a brute force in `evening_cases`, which shares no code with the planner; each choice is
a linear program of its own. Each plan's limits and cost are worked out again from its fills.
"""

import dataclasses
import functools

import pytest

from production import evening
from tests.reference import evening_cases

SMALL = [evening_cases.small_evening(seed) for seed in range(60)]
LAMINATE = [evening_cases.laminate_evening(seed) for seed in range(3, 13)]
# Long enough for a busy machine: every one of these is finished, with proof, in far less.
PATIENT_S = 60


@functools.cache
def small_plan(number: int) -> evening.EveningPlan:
    """The plan of a small evening; three tests look at it."""
    layers, jars, rules = SMALL[number]
    return evening.plan_evening(layers, jars, **rules, time_limit_s=PATIENT_S)


@pytest.mark.parametrize("number", range(len(SMALL)))
def test_no_order_and_no_choice_of_feeds_is_cheaper(number):
    layers, jars, rules = SMALL[number]
    plan = small_plan(number)
    evening_cases.recheck(layers, jars, plan, rules)
    assert plan.proven_optimal
    assert plan.cost == pytest.approx(evening_cases.least_cost(layers, jars, rules), rel=1e-6)


@pytest.mark.parametrize("case", LAMINATE, ids=range(len(LAMINATE)))
def test_no_order_of_laminates_and_no_choice_of_feeds_is_cheaper(case):
    layers, jars, rules = case
    plan = evening.plan_evening(layers, jars, **rules, time_limit_s=PATIENT_S)
    evening_cases.recheck(layers, jars, plan, rules)
    assert plan.proven_optimal
    assert plan.cost == pytest.approx(evening_cases.least_cost(layers, jars, rules), rel=1e-6)


@pytest.mark.parametrize(
    ("limit", "looser"),
    [
        ("cups", 9),
        ("max_melts", 9),
        ("cup_ml", 2000),
        ("min_feed_ml", 0.5),
        ("clean_cups", 9),
        ("cold_cost", 0),
        ("wash_cost", 0),
        ("tolerance", 0.5),
        ("trace", {"plum": 0.001, "glint": 0.001, "soot": 0.001}),
    ],
)
def test_the_seeded_evenings_feel_every_limit(limit, looser):
    """Each limit costs money on some evening: else the brute force would prove nothing about it."""
    assert any(
        _cost(layers, jars, rules | {limit: looser}) < small_plan(number).cost * (1 - 1e-4)
        for number, (layers, jars, rules) in enumerate(SMALL)
    )


@pytest.mark.parametrize("use", ["carry", "trim", "remains", "jar", "several"])
def test_the_seeded_evenings_use_every_kind_of_source(use):
    plans = [(case, small_plan(number)) for number, case in enumerate(SMALL)]
    fills = [(case, key, fill) for case, plan in plans for key, fill in plan.fills.items()]
    of_kind = {
        "carry": [
            fill
            for (layers, _, _), key, fill in fills
            for layer in layers
            if layer.key == key and fill.base_ml > layer.shots_ml + layer.heel_ml + 1
        ],
        "trim": [fill for *_, fill in fills if any(s.startswith("trim:") for s in fill.sources)],
        "remains": [fill for *_, fill in fills if any(s.startswith("batch") for s in fill.sources)],
        "jar": [fill for *_, fill in fills if "jar" in fill.sources],
        "several": [fill for *_, fill in fills if len(fill.sources) > 2],
    }
    assert of_kind[use]


def test_the_second_reckoning_notices_a_wrong_plan():
    layers, jars, rules = SMALL[0]
    plan = evening.plan_evening(layers, jars, **rules)
    evening_cases.recheck(layers, jars, plan, rules)
    key = plan.order[-1]
    fill = plan.fills[key]
    wrong = [
        dataclasses.replace(fill, fresh_ml=fill.fresh_ml + 1),
        dataclasses.replace(fill, melts=fill.melts + 1),
        dataclasses.replace(fill, clean_cup=not fill.clean_cup),
        dataclasses.replace(fill, additions=dict.fromkeys(fill.additions, 9.0)),
    ]
    for other in wrong:
        with pytest.raises(AssertionError):
            evening_cases.recheck(
                layers, jars, dataclasses.replace(plan, fills=plan.fills | {key: other}), rules
            )
    with pytest.raises(AssertionError):
        evening_cases.recheck(layers, jars, dataclasses.replace(plan, cost=plan.cost * 1.01), rules)


def _cost(layers: list, jars: list, rules: dict) -> float:
    return evening.plan_evening(layers, jars, **rules, time_limit_s=PATIENT_S).cost
