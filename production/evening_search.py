"""The search for the least-cost plan: the whole program first, then ever other parts of it.

A small evening is solved whole, with proof. A large one is then improved part by part: a few patterns
get a new place, new melts and new feeds, while the rest keeps its order, its melts and mostly its feeds.
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
# Shares of the time limit: for the whole program, for the best order found so far, for one part.
# With more feeds than this the whole program is seldom finished, and the parts need the time more.
_MANY_FEEDS = 120
_WHOLE_SHARE, _WHOLE_SHARE_OF_MANY, _ORDER_SHARE, _PART_SHARE = 0.8, 0.4, 0.2, 0.12
# How often a part lets the other layers choose their feeds anew, too.
_WIDE = 0.3
# A part is left when its answer is this near to its best; and it must gain something to be kept.
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
    search.whole()
    if not search.proven():
        search.in_this_order()
        search.part_by_part()
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

    def whole(self) -> None:
        """Solve everything at once: the only step that says how cheap a plan could be."""
        many = len(self.problem.feeds) > _MANY_FEEDS
        share = _WHOLE_SHARE_OF_MANY if many else _WHOLE_SHARE
        answer = evening_model.solve(self.model, share * self.limit_s)
        self.bound = max(self.bound, answer.bound)
        self.keep(answer)

    def in_this_order(self) -> None:
        limit_s = min(self.left_s(), _ORDER_SHARE * self.limit_s)
        if limit_s > 0:
            fixed = self.model.order_fixed(self.patterns)
            self.keep(evening_model.solve(self.model, limit_s, fixed=fixed))

    def part_by_part(self) -> None:
        """Free a few patterns at a time: more of them while that is quick, fewer when it is not."""
        pick = random.Random(len(self.problem.feeds))
        size = 3
        while self.left_s() > 0:
            size = max(1, min(size, len(self.patterns)))
            answer = evening_model.solve(
                self.model,
                min(self.left_s(), _PART_SHARE * self.limit_s),
                fixed=self.all_but(self.part(pick, size), wide=pick.random() < _WIDE),
                dearest=self.plan.cost * (1 - PROVEN_GAP),
                near=_NEAR,
            )
            if not self.keep(answer):
                size += pick.random() < 0.5 if answer.finished else -1

    def part(self, pick: random.Random, size: int) -> set[int]:
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
