"""How soon an evening is planned, how often with proof, and how that grows with the evening.

Run with `pytest tests/bench/test_evening_speed.py -s` on a machine that does nothing else. The evenings are
`evening_cases.workshop_evening`, whose text says how they are made; every third may carry more than its
heel. Cost is wall time, with the processor's time beside it. EVENINGS in the environment sets how many of
each size there are (50 unless told).
"""

import os
import statistics
import time
from dataclasses import dataclass

import pytest

from production import evening
from tests.reference import evening_cases

EVENINGS = int(os.environ.get("EVENINGS", "50"))
pytestmark = pytest.mark.bench


@dataclass
class Run:
    """One evening planned: seconds by the clock and of the processor, and what came out."""

    wall_s: float
    processor_s: float
    plan: evening.EveningPlan


def run(seed: int, layers: int, jars: int, time_limit_s: float) -> Run:
    batches, kept, rules = evening_cases.workshop_evening(seed, layers, jars)
    rules |= {"carry": seed % 3 == 0}
    began, busy = time.perf_counter(), time.process_time()
    plan = evening.plan_evening(batches, kept, **rules, time_limit_s=time_limit_s)
    wall_s, processor_s = time.perf_counter() - began, time.process_time() - busy
    evening_cases.recheck(batches, kept, plan, rules)
    return Run(wall_s, processor_s, plan)


def tell(name: str, runs: list[Run]) -> None:
    wall, processor = [r.wall_s for r in runs], [r.processor_s for r in runs]
    gaps = [r.plan.gap for r in runs]
    print(
        f"\n{name}: proven {sum(r.plan.proven_optimal for r in runs)} of {len(runs)}; median "
        f"{statistics.median(wall):.2f} s (processor {statistics.median(processor):.2f} s), longest "
        f"{max(wall):.2f} s ({max(processor):.2f} s); average gap {statistics.fmean(gaps):.2%}, "
        f"largest {max(gaps):.1%}"
    )


def test_eight_layers_and_six_jars_are_mostly_proven_best_within_five_seconds():
    run(0, 2, 1, 5)  # scipy is imported by the first evening
    runs = [run(seed, layers=8, jars=6, time_limit_s=5) for seed in range(EVENINGS)]
    tell("8 layers and 6 jars, 5 s each", runs)
    assert statistics.median(r.wall_s for r in runs) < 2
    assert sum(r.plan.proven_optimal for r in runs) >= 0.9 * len(runs)
    assert max(r.wall_s for r in runs) < 6


def test_twelve_layers_and_twelve_jars_answer_within_ten_seconds():
    runs = [run(seed, layers=12, jars=12, time_limit_s=9) for seed in range(max(1, EVENINGS // 5))]
    tell("12 layers and 12 jars, 9 s each", runs)
    assert max(r.wall_s for r in runs) < 10
    assert all(0 <= r.plan.gap <= 1 for r in runs)


@pytest.mark.parametrize("layers", range(2, 15))
def test_time_grows_with_the_layers(layers):
    """As many jars as layers; no more than the limit at any size."""
    runs = [run(seed, layers, layers, time_limit_s=5) for seed in range(max(1, EVENINGS // 10))]
    tell(f"{layers} layers and {layers} jars, 5 s each", runs)
    assert max(r.wall_s for r in runs) < 6


def test_a_limit_of_five_seconds_holds_for_the_largest_evening():
    for seed in range(3):
        assert run(seed, layers=14, jars=20, time_limit_s=5).wall_s < 6


@pytest.mark.parametrize("make", [evening_cases.four_colors, evening_cases.laminate_evening])
def test_evenings_of_four_layers_cost_what_the_brute_force_says(make):
    """Against every order and every choice of feeds; as many evenings of four colors as with laminates."""
    for seed in range(100, 100 + EVENINGS):
        layers, jars, rules = make(seed)
        plan = evening.plan_evening(layers, jars, **rules, time_limit_s=60)
        evening_cases.recheck(layers, jars, plan, rules)
        assert plan.proven_optimal, seed
        least = evening_cases.least_cost(layers, jars, rules)
        assert plan.cost == pytest.approx(least, rel=1e-6), seed
