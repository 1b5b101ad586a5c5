"""The search for the least-cost plan: the whole program first, then ever other parts of it.

A small evening is solved whole, with proof. A large one is improved part by part: the order of a few
patterns and the melts of their layers are freed, the rest keeps its order and melts, and every feed is
chosen anew. With order and melts given the program is easy, so that many parts are tried in a second.
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
# A program of more feeds than this is seldom finished whole: then improve first, and bound at the end.
_MANY_FEEDS = 120
# Shares of the time limit.
_WHOLE_SHARE, _BOUND_SHARE = 0.6, 0.2
_FIXED_ORDER_SHARE = 0.15
_PART_SHARE = 0.12
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
    if len(problem.feeds) <= _MANY_FEEDS:
        search.whole(_WHOLE_SHARE * search.limit_s)
    if not search.proven():
        search.in_this_order()
        search.part_by_part(until - _BOUND_SHARE * search.limit_s)
    if not search.proven():
        search.whole(search.left_s())
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

    def whole(self, limit_s: float) -> None:
        """Solve everything at once, looking only for what is cheaper than the best plan so far."""
        dearest = self.plan.cost
        answer = evening_model.solve(self.model, limit_s, dearest=dearest)
        proven = dearest if answer.finished and answer.patterns is None else answer.bound
        self.bound = max(self.bound, proven)
        self.keep(answer)

    def in_this_order(self) -> None:
        fixed = self.model.order_fixed(self.patterns)
        limit_s = min(self.left_s(), _FIXED_ORDER_SHARE * self.limit_s)
        if limit_s > 0:
            self.keep(evening_model.solve(self.model, limit_s, fixed=fixed))

    def part_by_part(self, until: float) -> None:
        """Free a few patterns at a time: more of them while that is quick, fewer when it is not."""
        pick = random.Random(len(self.problem.feeds))
        size = 3
        while time.monotonic() < until and not self.proven():
            size = max(1, min(size, len(self.patterns)))
            dearest = self.plan.cost * (1 - PROVEN_GAP)
            answer = evening_model.solve(
                self.model,
                min(until - time.monotonic(), _PART_SHARE * self.limit_s),
                fixed=self.all_but(self.part(pick, size)),
                dearest=dearest,
            )
            if self.keep(answer):
                continue
            if answer.finished and size == len(self.patterns):
                self.bound = max(self.bound, dearest)
                return
            size += pick.random() < 0.3 if answer.finished else -1

    def part(self, pick: random.Random, size: int) -> set[int]:
        """Return patterns that follow each other, or any."""
        if pick.random() < 0.5:
            return set(pick.sample(self.patterns, size))
        first = pick.randrange(len(self.patterns) - size + 1)
        return set(self.patterns[first : first + size])

    def all_but(self, free: set[int]) -> dict[int, float]:
        melts = [self.plan.fills[layer.key].melts for layer in self.problem.layers]
        return self.model.order_fixed(self.patterns, free) | self.model.melts_fixed(melts, free)

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
