"""Which batch when, and what goes into which: the least-cost plan of an evening's pouring.

Money is in the currency of the prices, volumes are mL of base. The model is a small mixed-integer
program (`evening_model`); its answer is never dearer than the rule of thumb's (`evening_rule`).
"""

import dataclasses
import math
import time
from collections.abc import Mapping, Sequence

from production import (
    evening_problem,
    evening_reckoning,
    evening_rule,
    evening_search,
    evening_terms,
)

# The words of a plan are read as evening.Layer, evening.Jar and so on.
EveningError = evening_terms.EveningError
EveningPlan = evening_terms.EveningPlan
Fill = evening_terms.Fill
Jar = evening_terms.Jar
Layer = evening_terms.Layer


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
    feeds = evening_rule.rule_of_thumb(problem, patterns)
    by_rule = evening_reckoning.write_out(problem, patterns, feeds, problem.need_ml)
    if not problem.feeds:
        return dataclasses.replace(by_rule, proven_optimal=True, gap=0.0)
    return evening_search.improve(problem, patterns, by_rule, until)


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
