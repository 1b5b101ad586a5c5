"""Which batch when, and what goes into which: the least-cost plan of an evening's pouring.

Money is in the currency of the prices, volumes are mL of base. The model is a small mixed-integer
program (`evening_model`); its answer is never dearer than the rule of thumb's (`evening_rule`).
"""

import dataclasses
import math
import time
from collections.abc import Mapping, Sequence

from production import evening_model, evening_problem, evening_rule, evening_terms

# The words of a plan are read as evening.Layer, evening.Jar and so on.
EveningError = evening_terms.EveningError
EveningPlan = evening_terms.EveningPlan
Fill = evening_terms.Fill
Jar = evening_terms.Jar
Layer = evening_terms.Layer

# What the solver's own tolerance may leave of an amount that is really nothing.
_NOTHING_ML = 1e-7
_PROVEN_GAP = 1e-6
# With every decision fixed the program is linear and takes milliseconds.
_SETTLE_S = 2.0


def plan_evening(
    layers: Sequence[Layer],
    jars: Sequence[Jar],
    *,
    prices: Mapping[str, float],
    cups: int,
    max_melts: int,
    wash_cost: float,
    clean_cups: int = 0,
    cold_cost: float = 0,
    carry: bool = False,
    cup_ml: float | None = None,
    min_feed_ml: float = 1.0,
    tolerance: float | Mapping[str, float] = 0.05,
    trace: Mapping[str, float] | None = None,
    order: Sequence[str] | None = None,
    locked: Sequence[str] = (),
    time_limit_s: float = 5.0,
) -> EveningPlan:
    """Plan the evening at least cost: the order of the layers and what each is mixed from.

    `prices` maps each grade to money per mL of base and each dose key to money per unit. `order` fixes
    the whole order; with `locked`, only these layers keep their place in it (or, without `order`, in
    `layers`). The best plan found within `time_limit_s` seconds is returned, with its gap. Raises
    EveningError, naming the layer or pattern, when no plan can exist.
    """
    until = time.monotonic() + time_limit_s
    problem = evening_problem.Problem(
        layers=tuple(layers),
        jars=tuple(jars),
        prices=prices,
        cups=cups,
        max_melts=max_melts,
        wash_cost=wash_cost,
        clean_cups=clean_cups,
        cold_cost=cold_cost,
        carry=carry,
        cup_ml=cup_ml,
        min_feed_ml=min_feed_ml,
        tolerance=tolerance,
        trace=trace,
        places=_places([layer.key for layer in layers], order, locked),
    )
    evening_problem.check(problem)
    patterns = evening_rule.pale_to_dark(problem)
    plan = _plan(problem, patterns, evening_rule.rule_of_thumb(problem, patterns), problem.need_ml)
    if not problem.feeds:
        return dataclasses.replace(plan, proven_optimal=True, gap=0.0)
    return _search(problem, patterns, plan, until)


def split(layer: Layer, fill_ml: float) -> list[Layer]:
    """Split a layer whose batch is larger than `fill_ml` into the fewest equal batches that are not.

    Each batch leaves its own heel. The pieces are patterns of their own, poured one after another in any
    order, so that what remains of one can go on in the next; a laminate's layers must be split into
    equally many. Raises EveningError when the heel alone fills the cup.
    """
    if layer.shots_ml + layer.heel_ml <= fill_ml:
        return [layer]
    if layer.heel_ml >= fill_ml:
        raise EveningError(f"the heel of {layer.key} alone fills {fill_ml:g} mL")
    pieces = math.ceil(layer.shots_ml / (fill_ml - layer.heel_ml) * (1 - 1e-12))
    return [
        dataclasses.replace(
            layer,
            key=f"{layer.key}/{piece}",
            pattern=f"{layer.pattern}/{piece}",
            shots_ml=layer.shots_ml / pieces,
            trim_ml=layer.trim_ml / pieces,
        )
        for piece in range(1, pieces + 1)
    ]


def _places(
    keys: Sequence[str], order: Sequence[str] | None, locked: Sequence[str]
) -> dict[int, int]:
    if order is not None and sorted(order) != sorted(keys):
        odd = set(order) ^ set(keys) or {key for key in order if list(order).count(key) > 1}
        raise EveningError(f"the order does not name each layer once: see {', '.join(sorted(odd))}")
    for key in locked:
        if key not in keys:
            raise EveningError(f"{key} cannot keep its place: there is no such layer")
    reference = list(keys if order is None else order)
    kept = reference if order is not None and not locked else locked
    return {list(keys).index(key): reference.index(key) for key in kept}


def _search(
    problem: evening_problem.Problem, patterns: list[int], plan: EveningPlan, until: float
) -> EveningPlan:
    """Improve on the rule of thumb: first in its own order, then in any, then once more in the best."""
    model = evening_model.build(problem, 1000 / plan.cost if plan.cost > 0 else 1.0)

    def better(answer: evening_model.Answer) -> bool:
        nonlocal plan, patterns
        if answer.patterns is None:
            return False
        found = _settle(model, answer)
        if found is None or found.cost >= plan.cost:
            return False
        plan, patterns = found, answer.patterns
        return True

    def left_s() -> float:
        return until - time.monotonic()

    better(evening_model.solve(model, 0.2 * left_s(), patterns=patterns))
    free = evening_model.solve(model, 0.7 * left_s())
    if better(free) and not free.finished and left_s() > 0:
        better(evening_model.solve(model, left_s(), patterns=patterns))
    gap = max(0.0, plan.cost - free.bound) / plan.cost if plan.cost > 0 else 0.0
    return dataclasses.replace(plan, gap=gap, proven_optimal=gap <= _PROVEN_GAP)


def _settle(model: evening_model.Model, answer: evening_model.Answer) -> EveningPlan | None:
    """Reckon the amounts again with every decision fixed, so that no tolerance of the solver is left."""
    exact = evening_model.solve(
        model, _SETTLE_S, patterns=answer.patterns, feeds=list(answer.feeds)
    )
    if exact.patterns is None:
        return None
    return _plan(model.problem, exact.patterns, exact.feeds, exact.base_ml)


def _plan(
    problem: evening_problem.Problem,
    patterns: Sequence[int],
    feeds: evening_rule.Feeds,
    base_ml: Sequence[float],
) -> EveningPlan:
    """Write out the fills of a plan and what they cost by the prices."""
    order = evening_rule.lay_out(problem, patterns)
    goes_on = _cups_that_go_on(problem, feeds)
    melts = _melts(problem, order, feeds)
    fills = {}
    for k in order:
        layer = problem.layers[k]
        into = {s: ml for (s, fed), ml in feeds.items() if fed == k}
        fresh_ml = base_ml[k] - sum(into.values())
        fills[layer.key] = Fill(
            base_ml=base_ml[k],
            sources={problem.sources[s].key: ml for s, ml in into.items()},
            fresh_ml=fresh_ml if fresh_ml > _NOTHING_ML else 0.0,
            additions={
                key: _addition(dose * base_ml[k], _brought(problem, into, key))
                for key, dose in layer.doses.items()
            },
            melts=melts[k],
            clean_cup=k not in goes_on,
        )
    keys = tuple(problem.layers[k].key for k in order)
    return EveningPlan(keys, fills, _cost(problem, fills), proven_optimal=False, gap=1.0)


def _brought(problem: evening_problem.Problem, into: Mapping[int, float], key: str) -> float:
    return sum(problem.sources[s].doses.get(key, 0) * ml for s, ml in into.items())


def _addition(wanted: float, brought: float) -> float:
    short = wanted - brought
    return short if short > 1e-9 * wanted else 0.0


def _melts(
    problem: evening_problem.Problem, order: Sequence[int], feeds: evening_rule.Feeds
) -> list[int]:
    melts = [1] * len(problem.layers)
    for k in order:
        for s, fed in feeds:
            if fed == k:
                source = problem.sources[s]
                if source.melts is not None:
                    before = source.melts
                elif source.layer is not None:
                    before = melts[source.layer]
                else:
                    before = max(melts[member] for member in problem.members[source.pattern])
                melts[k] = max(melts[k], before + 1)
    return melts


def _cups_that_go_on(problem: evening_problem.Problem, feeds: evening_rule.Feeds) -> dict[int, int]:
    """Match as many layers as can be with a cup whose remains feed them: layer to source."""
    cups = {
        k: [s for s, fed in feeds if fed == k and problem.sources[s].layer is not None]
        for k in range(len(problem.layers))
    }
    taken: dict[int, int] = {}

    def find(k: int, seen: set[int]) -> bool:
        for s in cups[k]:
            if s not in seen:
                seen.add(s)
                if s not in taken or find(taken[s], seen):
                    taken[s] = k
                    return True
        return False

    for k in cups:
        find(k, set())
    return {k: s for s, k in taken.items()}


def _cost(problem: evening_problem.Problem, fills: Mapping[str, Fill]) -> float:
    plastic = washes = cold = 0.0
    remains = {layer.key for layer in problem.layers}
    for layer in problem.layers:
        fill = fills[layer.key]
        plastic += fill.fresh_ml * problem.prices[layer.grade]
        plastic += sum(
            amount * problem.prices[key] for key, amount in fill.additions.items() if amount
        )
        washes += fill.clean_cup
        cold += fill.fresh_ml > 0 or any(key not in remains for key in fill.sources)
    washes = max(0.0, washes - problem.clean_cups)
    return plastic + problem.wash_cost * washes + problem.cold_cost * cold
