"""The order of pouring, and the rule of thumb that the planner must never do worse than.

The rule: pale before dark, each jar and then each remainder, when poured, as far as it goes into the
first later layer that can take it (common practice, no source).
"""

from collections import defaultdict
from collections.abc import Sequence

from production import evening_problem, evening_terms

Feeds = dict[tuple[int, int], float]


def lay_out(problem: evening_problem.Problem, patterns: Sequence[int]) -> list[int]:
    """Return the layers in the order of pouring, those with a place of their own in it."""
    order: list[int] = []
    for p in patterns:
        free = [k for k in problem.members[p] if k not in problem.places]
        pinned = {problem.places[k]: k for k in problem.members[p] if k in problem.places}
        for index in range(len(order), len(order) + len(problem.members[p])):
            order.append(pinned[index] if index in pinned else free.pop(0))
    return order


def pale_to_dark(problem: evening_problem.Problem) -> list[int]:
    """Return the patterns by ascending mean of their layers' total dose per mL, ties by key.

    Layers that keep their place make it the first such order that leaves them there.
    """
    darkness = [
        sum(sum(problem.layers[k].doses.values()) for k in members) / len(members)
        for members in problem.members
    ]
    ranked = sorted(range(len(problem.patterns)), key=lambda p: (darkness[p], problem.patterns[p]))
    allowed = problem.starts
    dead_ends: set[frozenset[int]] = set()

    def rest(left: list[int], start: int) -> list[int] | None:
        if not left:
            return []
        if frozenset(left) in dead_ends or any(allowed[p][1] < start for p in left):
            return None
        for p in left:
            if allowed[p][0] <= start <= allowed[p][1]:
                after = rest([q for q in left if q != p], start + len(problem.members[p]))
                if after is not None:
                    return [p, *after]
        dead_ends.add(frozenset(left))
        return None

    found = rest(ranked, 0)
    if found is None:
        pinned = ", ".join(problem.layers[k].key for k in sorted(problem.places))
        raise evening_terms.EveningError(f"no order leaves {pinned} in place")
    return found


def rule_of_thumb(problem: evening_problem.Problem, patterns: Sequence[int]) -> Feeds:
    """Return the feeds that the rule of thumb gives when the patterns are poured in this order."""
    order = lay_out(problem, patterns)
    bench = _Bench(problem, patterns)
    for s, source in enumerate(problem.sources):
        if source.melts is not None:
            bench.pour_into_first(s, source.melts, order)
    remains = {source.layer: s for s, source in enumerate(problem.sources)}
    for index, k in enumerate(order):
        bench.pour_into_first(remains[k], bench.melts[k], order[index + 1 :])
    return bench.feeds


class _Bench:
    """What has been decided so far: the feeds, each layer's melts, and the cups in use."""

    def __init__(self, problem: evening_problem.Problem, patterns: Sequence[int]) -> None:
        self.problem = problem
        self.turn = {p: index for index, p in enumerate(patterns)}
        self.patterns = patterns
        self.feeds: Feeds = {}
        self.melts = [1] * len(problem.layers)
        self.cups_in_use = [len(problem.members[p]) for p in patterns]
        self.room_ml = list(problem.need_ml)
        self.brought: list[dict[str, float]] = [defaultdict(float) for _ in problem.layers]

    def pour_into_first(self, s: int, melts: int, later: Sequence[int]) -> None:
        source = self.problem.sources[s]
        for k in later:
            amount = self._most(s, k)
            if amount < self.problem.least_feed_ml or melts + 1 > self.problem.max_melts:
                continue
            waiting = self._turns_between(source, k)
            if any(self.cups_in_use[turn] >= self.problem.cups for turn in waiting):
                continue
            self.feeds[s, k] = amount
            self.melts[k] = max(self.melts[k], melts + 1)
            self.room_ml[k] -= amount
            for key, dose in source.doses.items():
                self.brought[k][key] += dose * amount
            for turn in waiting:
                self.cups_in_use[turn] += 1
            return

    def _turns_between(self, source: evening_problem.Source, k: int) -> range:
        if source.layer is None:
            return range(0)
        return range(self.turn[source.pattern] + 1, self.turn[self.problem.pattern_of[k]])

    def _most(self, s: int, k: int) -> float:
        if (s, k) not in self.problem.feeds:
            return 0.0
        source, base_ml = self.problem.sources[s], self.problem.need_ml[k]
        most = min(source.amount_ml, self.room_ml[k])
        for key, dose in source.doses.items():
            if dose > 0:
                room = self.problem.limit(k, key) * base_ml - self.brought[k][key]
                most = min(most, room / dose)
        return most
