"""A plan written out: what each layer is mixed from, its melts, its cup, and what it all costs."""

from collections.abc import Mapping, Sequence

from production import evening_problem, evening_rule, evening_terms

# What a solver's tolerance may leave of an amount that is really nothing.
_NOTHING_ML = 1e-7


def write_out(
    problem: evening_problem.Problem,
    patterns: Sequence[int],
    feeds: evening_rule.Feeds,
    base_ml: Sequence[float],
) -> evening_terms.EveningPlan:
    """Return the plan with these feeds (source, layer) and batches, its gap still unknown."""
    order = evening_rule.lay_out(problem, patterns)
    goes_on = _cups_that_go_on(problem, feeds)
    melts = _melts(problem, order, feeds)
    fills = {}
    for k in order:
        layer = problem.layers[k]
        into = {s: float(ml) for (s, fed), ml in feeds.items() if fed == k}
        mixed_ml = float(base_ml[k])
        fresh_ml = mixed_ml - sum(into.values())
        fills[layer.key] = evening_terms.Fill(
            base_ml=mixed_ml,
            sources={problem.sources[s].key: ml for s, ml in into.items()},
            fresh_ml=fresh_ml if fresh_ml > _NOTHING_ML else 0.0,
            additions={
                key: _addition(dose * mixed_ml, _brought(problem, into, key))
                for key, dose in layer.doses.items()
            },
            melts=melts[k],
            clean_cup=k not in goes_on,
            cup_of=problem.sources[goes_on[k]].key if k in goes_on else "",
        )
    keys = tuple(problem.layers[k].key for k in order)
    return evening_terms.EveningPlan(
        keys, fills, _cost(problem, fills), proven_optimal=False, gap=1.0
    )


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


def _cost(problem: evening_problem.Problem, fills: Mapping[str, evening_terms.Fill]) -> float:
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
