"""What planning an evening saves over the rule of thumb, and how near large evenings come to the best.

Run with `pytest tests/bench/test_evening_saving.py -s`. EVENINGS in the environment sets how many are
made (12 unless told), SECONDS how long each may be planned for (5 unless told); they are
`evening_cases.workshop_evening`, whose text says how they are made.
"""

import os
import statistics

import pytest

from production import evening
from tests.reference import evening_cases

EVENINGS = int(os.environ.get("EVENINGS", "12"))
SECONDS = float(os.environ.get("SECONDS", "5"))


def rule_of_thumb_cost(layers: list, jars: list, rules: dict) -> float:
    """The rule written a second time: pale before dark, each jar and heel into the first that can take it."""
    order = sorted(layers, key=lambda layer: _darkness(layers, layer.pattern))
    keys = [layer.key for layer in order]
    fed: dict[tuple[str, str], float] = {}
    for jar in jars:
        _pour(layers, jars, keys, jar.key, jar.base_ml, keys, fed, rules)
    for index, layer in enumerate(order):
        _pour(layers, jars, keys, layer.key, layer.heel_ml, keys[index + 1 :], fed, rules)
    fills = {}
    clean = len(layers) - evening_cases.cups_going_on(layers, set(fed))
    for index, layer in enumerate(order):
        sources = {source: amount for (source, key), amount in fed.items() if key == layer.key}
        base = layer.shots_ml + layer.heel_ml
        additions = {
            key: max(0, dose * base - _brought(layers, jars, sources, key))
            for key, dose in layer.doses.items()
        }
        fresh = base - sum(sources.values())
        # which cups are clean does not matter to the cost, only how many
        fills[layer.key] = evening.Fill(base, sources, fresh, additions, 0, index < clean)
    plan = evening.EveningPlan(tuple(keys), fills, 0, False, 1)
    return evening_cases.cost_of(layers, plan, rules)


def _darkness(layers: list, pattern: str) -> tuple[float, str]:
    totals = [sum(layer.doses.values()) for layer in layers if layer.pattern == pattern]
    return statistics.fmean(totals), pattern


def _brought(layers: list, jars: list, sources: dict, key: str) -> float:
    return sum(
        evening_cases.composition(layers, jars, source).get(key, 0) * amount
        for source, amount in sources.items()
    )


def _pour(layers, jars, order, source, amount, later, fed, rules) -> None:
    """Let `source` go as far as it can into the first later layer that can take the smallest feed."""
    by_key = {layer.key: layer for layer in layers}
    doses = evening_cases.composition(layers, jars, source)
    for key in later:
        layer = by_key[key]
        if source in by_key and by_key[source].pattern == layer.pattern:
            continue
        base = layer.shots_ml + layer.heel_ml
        sources = {name: ml for (name, to), ml in fed.items() if to == key}
        most = min(amount, base - sum(sources.values()))
        for dose, per_ml in doses.items():
            room = evening_cases.most_per_ml(layer, dose, rules) * base
            most = min(most, (room - _brought(layers, jars, sources, dose)) / per_ml)
        feeds = {*fed, (source, key)}
        melts = evening_cases.melts_of(layers, jars, order, feeds)
        if (
            most >= rules.get("min_feed_ml", 1.0)
            and max(melts[layer.key] for layer in layers) <= rules["max_melts"]
            and evening_cases.cups_in_use(layers, order, feeds) <= rules["cups"]
        ):
            fed[source, key] = most
            return


@pytest.mark.bench
def test_planning_is_never_dearer_than_the_rule_of_thumb():
    savings, proven = [], 0
    for seed in range(EVENINGS):
        layers, jars, rules = evening_cases.workshop_evening(seed, layers=8, jars=5)
        plan = evening.plan_evening(layers, jars, **rules, time_limit_s=SECONDS)
        evening_cases.recheck(layers, jars, plan, rules)
        by_rule = rule_of_thumb_cost(layers, jars, rules)
        assert plan.cost <= by_rule * (1 + 1e-9)
        savings.append(1 - plan.cost / by_rule)
        proven += plan.proven_optimal
    print(
        f"\n{EVENINGS} evenings of 8 layers and 5 jars, {SECONDS:g} s each.",
        evening_cases.workshop_evening.__doc__,
    )
    print(
        f"saving over the rule of thumb: average {statistics.fmean(savings):.1%}, "
        f"least {min(savings):.1%}, most {max(savings):.1%}; proven best {proven} of {EVENINGS}"
    )


@pytest.mark.bench
def test_large_evenings_end_near_the_best_plan_known():
    """The plan of the usual five seconds against one of a minute, for 14 layers and 20 jars."""
    for seed in range(max(1, EVENINGS // 6)):
        layers, jars, rules = evening_cases.workshop_evening(seed, layers=14, jars=20)
        quick = evening.plan_evening(layers, jars, **rules)
        evening_cases.recheck(layers, jars, quick, rules)
        by_rule = rule_of_thumb_cost(layers, jars, rules)
        assert quick.cost <= by_rule * (1 + 1e-9)
        slow = evening.plan_evening(layers, jars, **rules, time_limit_s=60)
        print(
            f"\nseed {seed}: the rule of thumb costs {by_rule / slow.cost:.3f} and the plan of 5 s "
            f"{quick.cost / slow.cost:.3f} of the plan of 60 s (gap {slow.gap:.0%})"
        )
