"""An evening made ready for planning: checked, numbered, and with the limits of every feed reckoned once.

Layers, patterns and sources are numbered here; a *feed* is a pair (source, layer) of those numbers.
"""

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from production import evening_terms, mixing

# With `min_feed_ml` 0 a feed is still something that a hand can pour.
SMALLEST_FEED_ML = 1e-3


@dataclass(frozen=True)
class Source:
    """Where plastic can come from. `layer` is set for remains, `pattern` for remains and trim."""

    key: str
    grade: str
    amount_ml: float
    doses: Mapping[str, float]
    melts: int | None = None
    layer: int | None = None
    pattern: int | None = None


@dataclass(frozen=True)
class Problem:
    """One evening. `places` pins layers (by number) to their index in the order of pouring."""

    layers: Sequence[evening_terms.Layer]
    jars: Sequence[evening_terms.Jar]
    prices: Mapping[str, float]
    cups: int
    max_melts: int
    wash_cost: float
    clean_cups: int
    cold_cost: float
    carry: bool
    cup_ml: float | None
    min_feed_ml: float
    tolerance: float | Mapping[str, float]
    trace: Mapping[str, float] | None
    places: Mapping[int, int]

    @cached_property
    def need_ml(self) -> list[float]:
        return [layer.shots_ml + layer.heel_ml for layer in self.layers]

    @cached_property
    def most_ml(self) -> list[float]:
        """The largest batch of each layer: no plan gains from more than all that tonight could use."""
        if not self.carry:
            return self.need_ml
        if self.cup_ml is not None:
            return [max(self.cup_ml, need) for need in self.need_ml]
        most = sum(self.need_ml) + sum(jar.base_ml for jar in self.jars)
        return [most] * len(self.layers)

    @cached_property
    def patterns(self) -> list[str]:
        return list(dict.fromkeys(layer.pattern for layer in self.layers))

    @cached_property
    def pattern_of(self) -> list[int]:
        return [self.patterns.index(layer.pattern) for layer in self.layers]

    @cached_property
    def members(self) -> list[list[int]]:
        """The layers of each pattern."""
        return [
            [k for k, p in enumerate(self.pattern_of) if p == pattern]
            for pattern in range(len(self.patterns))
        ]

    @cached_property
    def sources(self) -> list[Source]:
        jars = [
            Source(jar.key, jar.grade, jar.base_ml, jar.doses, melts=jar.melts) for jar in self.jars
        ]
        remains = [
            Source(
                layer.key,
                layer.grade,
                layer.heel_ml,
                layer.doses,
                layer=k,
                pattern=self.pattern_of[k],
            )
            for k, layer in enumerate(self.layers)
        ]
        return jars + remains + [self._trim(p) for p in range(len(self.patterns))]

    def _trim(self, pattern: int) -> Source:
        members = [self.layers[k] for k in self.members[pattern]]
        amount = sum(layer.trim_ml for layer in members)
        doses: Counter[str] = Counter()
        for layer in members:
            for key, dose in layer.doses.items():
                if amount > 0:
                    doses[key] += dose * layer.trim_ml / amount
        key = f"trim:{self.patterns[pattern]}"
        return Source(key, members[0].grade, amount, dict(doses), pattern=pattern)

    @cached_property
    def least_feed_ml(self) -> float:
        return max(self.min_feed_ml, SMALLEST_FEED_ML)

    def limit(self, k: int, key: str) -> float:
        """The most of `key` per mL of layer `k` that its feeds may bring."""
        layer = self.layers[k]
        trace = self.trace if layer.trace is None else layer.trace
        return mixing.most_per_ml(layer.doses, key, self.tolerance, trace)

    def most_of_source_ml(self, s: int) -> float:
        """The most that source `s` can ever hold; with a carry, remains are more than the heel."""
        source = self.sources[s]
        if source.layer is None:
            return source.amount_ml
        return self.most_ml[source.layer] - self.layers[source.layer].shots_ml

    @cached_property
    def starts(self) -> list[tuple[int, int]]:
        """For each pattern the first and last index at which its block of layers may start."""
        allowed = []
        for p, members in enumerate(self.members):
            places = [self.places[k] for k in members if k in self.places]
            size, last = len(members), len(self.layers) - len(members)
            low, high = 0, last
            if places:
                low, high = max(0, max(places) - size + 1), min(last, min(places))
            if low > high:
                raise evening_terms.EveningError(
                    f"the layers of {self.patterns[p]} must follow each other"
                )
            allowed.append((low, high))
        return allowed

    def _may_follow(self, source: Source, k: int) -> bool:
        """Whether layer `k` can be poured after what `source` comes from."""
        if source.pattern is None:
            return True
        if source.pattern == self.pattern_of[k]:
            return False
        soonest = self.starts[source.pattern][0] + len(self.members[source.pattern])
        return soonest <= self.starts[self.pattern_of[k]][1]

    @cached_property
    def feeds(self) -> dict[tuple[int, int], float]:
        """Every feed that could be at least the smallest one, with the most that it could be."""
        feeds = {}
        for s, source in enumerate(self.sources):
            for k, layer in enumerate(self.layers):
                if source.grade != layer.grade or not self._may_follow(source, k):
                    continue
                if source.melts is not None and source.melts + 1 > self.max_melts:
                    continue
                share = min(
                    (self.limit(k, key) / dose for key, dose in source.doses.items() if dose > 0),
                    default=math.inf,
                )
                most = min(self.most_of_source_ml(s), min(share, 1) * self.most_ml[k])
                if most >= self.least_feed_ml:
                    feeds[s, k] = most
        return feeds

    def origins(self, s: int) -> list[int]:
        """The layers that source `s` comes from: none for a jar."""
        source = self.sources[s]
        if source.layer is not None:
            return [source.layer]
        return [] if source.pattern is None else self.members[source.pattern]

    @cached_property
    def parts(self) -> list[list[int]]:
        """The layers in groups between which no plastic can go and that share no jar.

        Only the order of pouring, the cups on the bench and the clean cups join them; when there might
        be more clean cups than are needed, all layers are one group.
        """
        part_of = list(range(len(self.layers)))
        first_fed: dict[int, int] = {}
        for s, k in self.feeds:
            for joined in [*self.origins(s), first_fed.setdefault(s, k)]:
                old, new = part_of[joined], part_of[k]
                part_of = [new if part == old else part for part in part_of]
        parts = [
            [k for k, part in enumerate(part_of) if part == name] for name in dict.fromkeys(part_of)
        ]
        takes_remains = {k for s, k in self.feeds if self.sources[s].layer is not None}
        # a layer that no remains can feed needs a clean cup, and so does the first of each part
        least_clean = sum(max(1, len(set(part) - takes_remains)) for part in parts)
        if self.wash_cost > 0 and least_clean < self.clean_cups:
            return [list(range(len(self.layers)))]
        return parts


def check(problem: Problem) -> None:
    """Raise EveningError, naming what is wrong, when no plan can exist."""
    _check_keys(problem)
    _check_figures(problem)
    for p, pattern in enumerate(problem.patterns):
        members = [problem.layers[k] for k in problem.members[p]]
        if len({layer.grade for layer in members}) > 1:
            raise evening_terms.EveningError(f"the layers of {pattern} are of different grades")
        if len(members) > problem.cups:
            raise evening_terms.EveningError(
                f"{pattern} needs {len(members)} cups at once and there are {problem.cups}"
            )
    for k, layer in enumerate(problem.layers):
        if problem.cup_ml is not None and problem.need_ml[k] > problem.cup_ml * (1 + 1e-9):
            raise evening_terms.EveningError(
                f"{layer.key} needs {problem.need_ml[k]:g} mL of base and a cup takes {problem.cup_ml:g}"
            )
        if problem.max_melts < 1:
            raise evening_terms.EveningError(f"{layer.key} cannot be made with no melt at all")
        wanted = [layer.grade] + [key for key, dose in layer.doses.items() if dose > 0]
        for key in wanted:
            if key not in problem.prices:
                raise evening_terms.EveningError(f"{layer.key} has no price for {key}")


def _check_keys(problem: Problem) -> None:
    keys = Counter(thing.key for thing in [*problem.layers, *problem.jars])
    keys.update(f"trim:{pattern}" for pattern in problem.patterns)
    for key, times in keys.items():
        if times > 1:
            raise evening_terms.EveningError(f"{key} is named {times} times")


def _check_figures(problem: Problem) -> None:
    for thing in [*problem.layers, *problem.jars]:
        if isinstance(thing, evening_terms.Layer):
            figures = [thing.shots_ml, thing.heel_ml, thing.trim_ml, *(thing.trace or {}).values()]
        else:
            figures = [thing.base_ml, thing.melts]
        if not all(map(_is_figure, [*figures, *thing.doses.values()])):
            raise evening_terms.EveningError(f"{thing.key} has a figure below zero or without end")
    for k, layer in enumerate(problem.layers):
        if problem.need_ml[k] == 0:
            raise evening_terms.EveningError(f"{layer.key} has nothing to pour")
    named = {"wash_cost": problem.wash_cost, "cold_cost": problem.cold_cost, **problem.prices}
    for key, price in named.items():
        if not _is_figure(price):
            raise evening_terms.EveningError(f"{key} cannot cost {price}")
    by_key = isinstance(problem.tolerance, Mapping)
    limits = {
        "cups": problem.cups,
        "max_melts": problem.max_melts,
        "clean_cups": problem.clean_cups,
        "cup_ml": 0 if problem.cup_ml is None else problem.cup_ml,
        "min_feed_ml": problem.min_feed_ml,
        **{f"the trace of {key}": most for key, most in (problem.trace or {}).items()},
        **(
            {f"the tolerance of {key}": most for key, most in problem.tolerance.items()}
            if by_key
            else {"tolerance": problem.tolerance}
        ),
    }
    for name, limit in limits.items():
        if not _is_figure(limit):
            raise evening_terms.EveningError(f"{name} cannot be {limit}")


def _is_figure(figure: float) -> bool:
    """Whether this is a number from zero up, and not without end."""
    return 0 <= figure < math.inf
