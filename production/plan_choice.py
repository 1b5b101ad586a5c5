"""The cheapest evening that this bench can pour: the planner asked in a few ways, and its answers held
against the cups as they are and against what each grade takes.

The planner knows one number of cups and one of melts. Cups differ in size, grades in how often they can
be melted; and a batch may be mixed larger than its shots need, so that its remains go on while still hot.
"""

import dataclasses
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from production import evening, plan_cups
from production.evening_terms import EveningError, EveningPlan, Fill, Jar, Layer
from production.plan_layers import Piece, Step

#: A teaspoon of a source is the least that is worth a hand's while (our own choice).
LEAST_FEED_ML = 5.0
#: A fuller cup must save so much of the evening's cost, or hands are spared it (our own choice).
WORTH_LARGER = 0.005
#: What is less than this over a batch's need is the solver's rounding.
_NO_EXTRA_ML = 0.05
#: A relative gap of at most this is a proof (design: an evening).
_PROVEN = 1e-6


@dataclass(frozen=True)
class Terms:
    """What the evening costs and allows. `melts`: the most for each grade; `base_share`: by layer.

    `larger`: whether batches may be mixed larger than their shots need."""

    prices: Mapping[str, float]
    wash_cost: float
    cold_cost: float
    cups: Sequence[plan_cups.Cup]
    melts: Mapping[str, int]
    tolerance: Mapping[str, float]
    trace: Mapping[str, float]
    base_share: Mapping[str, float]
    larger: bool = True

    @property
    def clean_cups(self) -> int:
        return sum(cup.clean for cup in self.cups)


@dataclass(frozen=True)
class Choice:
    """A plan that the cups can hold, with the cup of each layer (`seats` empty: no way was found).

    `extra_ml`: mL of base that a layer is mixed larger; `saved`: what that saves. `few_cups`: only so
    many cups were planned to be in use at once (0: all). `melts_together`: one limit of melts was
    taken for all grades, as each one's own could not be held."""

    plan: EveningPlan
    spans: list[plan_cups.Span]
    seats: dict[str, str]
    extra_ml: dict[str, float]
    saved: float = 0.0
    few_cups: int = 0
    melts_together: int = 0


class Chooser:
    """One evening's layers and jars; `timeline` says when pieces are at the bench in a given order."""

    def __init__(
        self,
        pieces: Sequence[Piece],
        jars: Sequence[Jar],
        terms: Terms,
        timeline: Callable[[Sequence[Piece]], Sequence[Step]],
    ) -> None:
        self.pieces = list(pieces)
        self.layers = {layer.key: layer for piece in pieces for layer in piece.layers}
        self.jars, self.terms, self.timeline = list(jars), terms, timeline

    def choose(
        self, seconds: float, *, order: Sequence[str] | None = None, locked: Sequence[str] = ()
    ) -> Choice:
        """The best in `seconds`. `order` and `locked` name layers, as for the planner.

        Raises EveningError when no plan exists."""
        until = time.monotonic() + seconds
        asked = {"order": order, "locked": locked}
        plain = self._seated(self._share(until, 0.5), carry=False, **asked)
        if not self.terms.larger:
            return plain
        try:
            larger = self._seated(self._share(until, 1.0), carry=True, **asked)
        except EveningError:
            return plain
        saved = plain.plan.cost - larger.plan.cost
        if not larger.extra_ml or not larger.seats or saved < WORTH_LARGER * plain.plan.cost:
            if larger.plan.proven_optimal:
                return plain
            held = _held_against(plain.plan, larger.plan)
            return plain if held.gap <= WORTH_LARGER else dataclasses.replace(plain, plan=held)
        return dataclasses.replace(larger, saved=saved)

    @staticmethod
    def _share(until: float, share: float) -> float:
        return max(0.0, until - time.monotonic()) * share

    def _seated(self, seconds: float, **asked) -> Choice:
        """A plan for which the cups do. Where their sizes forbid the best one, fewer are in use at once: as
        many as hold the largest batch, or else no more than a laminate needs, so that nothing waits."""
        cups = self.terms.cups
        found = self._choice(seconds, len(cups), self.terms.clean_cups, **asked)
        if found.seats:
            return found
        largest = max(span.total_ml for span in found.spans)
        large = [cup for cup in cups if cup.most_ml >= largest * (1 - 1e-9)]
        least = max(len(piece.layers) for piece in self.pieces)
        ways = {len(large): sum(cup.clean for cup in large), least: self.terms.clean_cups}
        for few, clean in ways.items():
            if not least <= few < len(cups):
                continue
            try:
                fewer = self._choice(seconds, few, clean, **asked)
            except EveningError:
                continue
            if fewer.seats:
                plan = _held_against(fewer.plan, found.plan)
                return dataclasses.replace(fewer, plan=plan, few_cups=few)
        return found

    def _choice(self, seconds: float, cups: int, clean: int, *, carry: bool, **asked) -> Choice:
        rules = {
            "prices": self.terms.prices,
            "wash_cost": self.terms.wash_cost,
            "cold_cost": self.terms.cold_cost,
            "tolerance": self.terms.tolerance,
            "trace": self.terms.trace,
            "min_feed_ml": LEAST_FEED_ML,
            "cups": cups,
            "clean_cups": clean,
            "carry": carry,
            "cup_ml": self._room_ml() if carry else None,
            "time_limit_s": seconds,
        }
        plan, together = self._within_melts({**rules, **asked})
        place = {key: index for index, key in enumerate(plan.order)}
        pieces = sorted(self.pieces, key=lambda piece: place[piece.layers[0].key])
        total = {key: fill.base_ml / self.terms.base_share[key] for key, fill in plan.fills.items()}
        spans = plan_cups.spans(pieces, self.timeline(pieces), plan.fills, total)
        extra = {
            key: fill.base_ml - self.layers[key].shots_ml - self.layers[key].heel_ml
            for key, fill in plan.fills.items()
        }
        return Choice(
            plan,
            spans,
            plan_cups.seats(spans, self.terms.cups) or {},
            {key: ml for key, ml in extra.items() if ml > _NO_EXTRA_ML},
            melts_together=together,
        )

    def _room_ml(self) -> float:
        """mL of base that any batch may be mixed to: the planner takes one cup for all of them.

        A laminate's layers stand hot together, so the smallest of its cups counts."""
        sizes = sorted((cup.most_ml for cup in self.terms.cups), reverse=True)
        room = min(
            sizes[len(piece.layers) - 1] * self.terms.base_share[layer.key]
            for piece in self.pieces
            for layer in piece.layers
        )
        return max(room, *(layer.shots_ml + layer.heel_ml for layer in self.layers.values()))

    def _within_melts(self, rules: dict) -> tuple[EveningPlan, int]:
        """A plan in which no grade is melted oftener than it takes.

        The planner is asked with the largest limit, jars of other grades counting as older by the
        difference: that is exact but for plastic that begins fresh tonight. Where such a chain of colors is
        too long for its grade, it is asked again with the smallest limit for all, which is given back."""
        limits = {layer.grade: self.terms.melts[layer.grade] for layer in self.layers.values()}
        plan = self._melted(rules, limits, max(limits.values()))
        if all(fill.melts <= limits[self.layers[key].grade] for key, fill in plan.fills.items()):
            return plan, 0
        least = min(limits.values())
        return _held_against(self._melted(rules, limits, least), plan), least

    def _melted(self, rules: dict, limits: Mapping[str, int], most: int) -> EveningPlan:
        jars = [
            dataclasses.replace(jar, melts=max(0, jar.melts + most - limits[jar.grade]))
            for jar in self.jars
            if jar.grade in limits and jar.melts + 1 <= limits[jar.grade]
        ]
        layers = list(self.layers.values())
        plan = evening.plan_evening(layers, jars, max_melts=most, **rules)
        return dataclasses.replace(plan, fills=real_melts(layers, self.jars, plan))


def real_melts(layers: Sequence[Layer], jars: Sequence[Jar], plan: EveningPlan) -> dict[str, Fill]:
    """The plan's fills with their melts reckoned from the jars as they are."""
    pattern = {layer.key: layer.pattern for layer in layers}
    melts = {jar.key: jar.melts for jar in jars}
    fills = {}
    for key in plan.order:
        fill = plan.fills[key]
        melts[key] = 1 + max((melts[source] for source in fill.sources), default=0)
        trim = f"trim:{pattern[key]}"
        melts[trim] = max(melts.get(trim, 0), melts[key])
        fills[key] = dataclasses.replace(fill, melts=melts[key])
    return fills


def _held_against(plan: EveningPlan, looser: EveningPlan) -> EveningPlan:
    """A plan with the gap and the proof that it has under looser rules, whose best plan was sought too."""
    if plan.cost <= 0:
        return plan
    gap = max(0.0, 1 - looser.cost * (1 - looser.gap) / plan.cost)
    return dataclasses.replace(plan, gap=gap, proven_optimal=gap <= _PROVEN)
