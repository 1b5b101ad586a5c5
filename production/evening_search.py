"""The search for the least-cost plan, and for a proof that it is one.

First each part of the evening that shares no plastic with another is solved by itself, the order of the
parts, the cups in use and the smallest feed left out: the sum of these costs is a bound under which no plan
can lie. Then the feeds so found are joined into a plan that keeps every limit. Mostly it costs no more than
the bound and so is the best there is. Else the whole program is solved, first without the smallest feed and
then with it. What time is left goes into improving the plan a few patterns at a time: they get a new place,
new melts and new feeds, while the rest keeps its order, its melts and mostly its feeds.
"""

import dataclasses
import random
import time
from collections.abc import Sequence

from production import (
    evening_model,
    evening_problem,
    evening_reckoning,
    evening_terms,
)

PROVEN_GAP = 1e-6
# Shares of the time limit: for all parts, for joining them, and of the rest for the whole program.
_PARTS_SHARE, _JOIN_SHARE, _WHOLE_SHARE = 0.7, 0.2, 0.7
# Share of the time limit for a few patterns at a time.
_FEW_SHARE = 0.12
# How often the other layers may then choose their feeds anew, too.
_WIDE = 0.3
# A few patterns are left when their answer is this near to its best; it must gain something to be kept.
_NEAR = 1e-3
# With every decision fixed the program is linear and takes milliseconds.
_SETTLE_S = 2.0


def improve(
    problem: evening_problem.Problem,
    patterns: Sequence[int],
    plan: evening_terms.EveningPlan,
    until: float,
) -> evening_terms.EveningPlan:
    """Return the best plan found before `until` (monotonic seconds), never dearer than `plan`."""
    search = _Search(problem, patterns, plan, until)
    for step in (search.by_parts, search.loosely, search.whole, search.few_by_few):
        if not search.proven():
            step()
    return dataclasses.replace(
        search.plan, gap=search.gap(), proven_optimal=search.gap() <= PROVEN_GAP
    )


class _Search:
    """The best plan so far, the order of its patterns, and the bound under which none can lie."""

    def __init__(
        self,
        problem: evening_problem.Problem,
        patterns: Sequence[int],
        plan: evening_terms.EveningPlan,
        until: float,
    ) -> None:
        self.problem = problem
        self.patterns = list(patterns)
        self.plan = plan
        self.bound = 0.0
        # whether every part was solved to its end: else the whole program would not be either
        self.finished = False
        self.until = until
        self.limit_s = self.left_s()
        self.model = evening_model.build(problem, 1000 / plan.cost if plan.cost > 0 else 1.0)

    def left_s(self) -> float:
        return self.until - time.monotonic()

    def gap(self) -> float:
        if self.plan.cost <= 0:
            return 0.0
        return max(0.0, self.plan.cost - self.bound) / self.plan.cost

    def proven(self) -> bool:
        return self.gap() <= PROVEN_GAP

    def by_parts(self) -> None:
        """Solve each part by itself for a bound, and join what was found.

        Only when that is no proof are feeds held to the smallest feed, and only those that came out smaller.
        """
        end = self.until - (1 - _PARTS_SHARE) * self.limit_s
        problem, scale = self.problem, self.model.cost_scale
        models = [
            evening_model.build_part(problem, scale, part, 0 if index else problem.clean_cups)
            for index, part in enumerate(problem.parts)
        ]
        strict: list[set[tuple[int, int]]] = [set() for _ in models]
        answers: dict[int, evening_model.Answer] = {}
        again = list(range(len(models)))
        while again and not self.proven() and time.monotonic() < end:
            feeds_left = sum(1 + len(models[index].used) for index in again)
            for index in again:
                feeds = 1 + len(models[index].used)
                answers[index] = evening_model.solve(
                    models[index],
                    (end - time.monotonic()) * feeds / feeds_left,
                    strict=strict[index],
                )
                feeds_left -= feeds
            self.finished = all(answer.finished for answer in answers.values())
            self.bound = max(self.bound, sum(answer.bound for answer in answers.values()))
            self.join({feed for answer in answers.values() for feed in answer.feeds})
            small = {index: self.small(answer) - strict[index] for index, answer in answers.items()}
            again = [index for index in small if small[index] and answers[index].finished]
            for index in again:
                strict[index] |= small[index]

    def small(self, answer: evening_model.Answer) -> set[tuple[int, int]]:
        """Feeds that came out smaller than the smallest one."""
        least = self.problem.least_feed_ml * (1 - 1e-6)
        return {feed for feed, amount in answer.feeds.items() if amount < least}

    def join(self, feeds: set[tuple[int, int]]) -> None:
        """Make the best plan of these feeds that keeps every limit."""
        limit_s = min(self.left_s(), _JOIN_SHARE * self.limit_s)
        if limit_s > 0:
            fixed = self.model.feeds_left_out(feeds)
            self.keep(evening_model.solve(self.model, limit_s, fixed=fixed))

    def loosely(self) -> None:
        """Solve everything at once but for the smallest feed, and join what was found."""
        if self.finished and self.left_s() > 0:
            answer = evening_model.solve(self.model, _WHOLE_SHARE * self.left_s(), strict=())
            self.bound = max(self.bound, answer.bound)
            self.join(set(answer.feeds))

    def whole(self) -> None:
        """Solve everything at once."""
        if self.finished and self.left_s() > 0:
            answer = evening_model.solve(self.model, _WHOLE_SHARE * self.left_s())
            self.bound = max(self.bound, answer.bound)
            self.keep(answer)

    def few_by_few(self) -> None:
        """Free a few patterns at a time: more of them while that is quick, fewer when it is not."""
        pick = random.Random(len(self.problem.feeds))
        size = 3
        while self.left_s() > 0:
            size = max(1, min(size, len(self.patterns)))
            answer = evening_model.solve(
                self.model,
                min(self.left_s(), _FEW_SHARE * self.limit_s),
                fixed=self.all_but(self.few(pick, size), wide=pick.random() < _WIDE),
                dearest=self.plan.cost * (1 - PROVEN_GAP),
                near=_NEAR,
            )
            if not self.keep(answer):
                size += pick.random() < 0.5 if answer.finished else -1

    def few(self, pick: random.Random, size: int) -> set[int]:
        """Return patterns that follow each other, or any."""
        if pick.random() < 0.5:
            return set(pick.sample(self.patterns, size))
        first = pick.randrange(len(self.patterns) - size + 1)
        return set(self.patterns[first : first + size])

    def all_but(self, free: set[int], *, wide: bool) -> dict[int, float]:
        """Fix the order and the melts of all patterns but these, and their feeds unless `wide`."""
        model, layers = self.model, self.problem.layers
        melts = [self.plan.fills[layer.key].melts for layer in layers]
        fixed = model.order_fixed(self.patterns, free) | model.melts_fixed(melts, free)
        if wide:
            return fixed
        used = {
            (s, k)
            for s, source in enumerate(self.problem.sources)
            for k, layer in enumerate(layers)
            if source.key in self.plan.fills[layer.key].sources
        }
        return fixed | model.feeds_fixed(used, free)

    def keep(self, answer: evening_model.Answer) -> bool:
        """Keep the answer when it is cheaper, its amounts reckoned again with every decision fixed.

        The second reckoning leaves nothing of what the solver tolerates in a yes or no.
        """
        if answer.patterns is None:
            return False
        fixed = self.model.order_fixed(answer.patterns) | self.model.feeds_fixed(answer.feeds)
        exact = evening_model.solve(self.model, _SETTLE_S, fixed=fixed)
        if exact.patterns is None:
            return False
        plan = evening_reckoning.write_out(self.problem, exact.patterns, exact.feeds, exact.base_ml)
        if plan.cost >= self.plan.cost:
            return False
        self.plan, self.patterns = plan, exact.patterns
        return True
