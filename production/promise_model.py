"""Filling an order as a mixed-integer program, solved with HiGHS through scipy.

Whole bags, whole shots and whole cups on each evening; leftovers, stand-ins and additions as
amounts. The same program answers "how many bags?" and, with purchases and overtime let in, "what is
short?".
"""

import datetime
import math
import time
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from production import promise_left
from production.promise_left import NOTHING, OVERTIME, Filling, Left
from production.promise_terms import Line

# A linear expression: a factor for each variable.
Factors = Mapping[int, float]

PROVEN_GAP = 1e-6
# Objectives that go by whole bags or shots, or by whole cents.
STEPS = (1.0, 0.01)
_LESS_THAN_ONE = 0.9
_LEAST_S = 0.02
# Which evenings are first is worth less time than how many bags there are.
_TIDY_SHARE = 0.25
# A share of a cup that is never the whole fill of one.
_NO_CUP = 1e-5


@dataclass
class Program:
    """Variables with their bounds, and rows `low <= factors <= high`; objectives are maximized."""

    lower: list[float] = field(default_factory=list)
    upper: list[float] = field(default_factory=list)
    whole: list[int] = field(default_factory=list)
    rows: list[tuple[Factors, float, float]] = field(default_factory=list)

    def variable(self, upper: float = math.inf, *, whole: bool = False) -> int:
        self.lower.append(0.0)
        self.upper.append(upper)
        self.whole.append(int(whole))
        return len(self.lower) - 1

    def at_most(self, factors: Factors, bound: float) -> None:
        """Add a row, scaled so that the solver's tolerance is a share of what it is about."""
        largest = max((abs(factor) for factor in factors.values()), default=0.0)
        if largest > 0:
            scaled = {variable: factor / largest for variable, factor in factors.items() if factor}
            self.rows.append((scaled, -math.inf, bound / largest))

    def step(self, objective: Factors) -> float:
        """What the objective goes up by at least: whole bags or shots, or whole cents; 0 for amounts."""
        if not all(self.whole[variable] for variable in objective):
            return 0.0
        for step in STEPS:
            if all(abs(f / step - round(f / step)) < NOTHING for f in objective.values()):
                return step
        return 0.0

    def size(self, objective: Factors) -> float:
        """No more than the objective can come to, up or down."""
        return sum(abs(factor) * self.upper[variable] for variable, factor in objective.items())

    def solve(
        self, objective: Factors, time_limit_s: float, *, enough: float = 0.0
    ) -> tuple[list[float] | None, float]:
        """The best point found (None when there was no time for any), and a bound on the
        objective. `enough`: a gap, as a share, with which it need look no further."""
        import numpy as np
        from scipy import optimize, sparse

        count = len(self.lower)
        cost = np.zeros(count)
        for variable, factor in objective.items():
            cost[variable] = -factor
        rows = self.rows or [({0: 0.0}, -math.inf, math.inf)]
        entries = [
            (row, column, factor)
            for row, (factors, _, _) in enumerate(rows)
            for column, factor in factors.items()
        ]
        row, column, factor = zip(*entries, strict=True)
        matrix = sparse.csr_array((factor, (row, column)), shape=(len(rows), count))
        result = optimize.milp(
            cost,
            integrality=np.array(self.whole),
            bounds=optimize.Bounds(np.array(self.lower), np.array(self.upper)),
            constraints=optimize.LinearConstraint(
                matrix, np.array([low for _, low, _ in rows]), np.array([high for *_, high in rows])
            ),
            options={"time_limit": max(_LEAST_S, time_limit_s), "mip_rel_gap": enough},
        )
        bound = math.inf
        if result.mip_dual_bound is not None and math.isfinite(result.mip_dual_bound):
            bound = -result.mip_dual_bound
        return (None if result.x is None else result.x.tolist()), bound


def value(objective: Factors, point: Sequence[float]) -> float:
    return sum(factor * point[variable] for variable, factor in objective.items())


class Model:
    """The program of one order on what is left of a shelf, all evenings given being early
    enough."""

    def __init__(
        self,
        left: Left,
        lines: Sequence[Line],
        due: datetime.date,
        evenings: Sequence[int],
        *,
        whole_order: bool = False,
    ) -> None:
        """With `whole_order` every bag is filled, and purchases and overtime make up what is
        short."""
        self.left, self.lines, self.due = left, lines, due
        self.shelf = left.shelf
        self.evenings = [*evenings, OVERTIME] if whole_order else list(evenings)
        self.program = Program()
        self.bags = [self.program.variable(line.bags, whole=True) for line in lines]
        if whole_order:
            for variable, line in zip(self.bags, lines, strict=True):
                self.program.lower[variable] = line.bags
        self.shots: dict[tuple[int, str, str], int] = {}
        self.feeds: dict[tuple[str, str], int] = {}
        self.stand_ins: dict[tuple[str, str, str], int] = {}
        self.bought: dict[str, int] = {}
        self._uses: defaultdict[str, defaultdict[int, float]] = defaultdict(
            lambda: defaultdict(float)
        )
        self._add_baits()
        base = self._add_batches()
        self._add_plastic(base)
        self._add_items(whole_order)

    def _add_baits(self) -> None:
        shelf, program = self.shelf, self.program
        most = promise_left.baits_wanted(shelf, self.lines, [line.bags for line in self.lines])
        gives: defaultdict[tuple[str, str], dict[int, float]] = defaultdict(dict)
        for pattern in sorted({pattern for _, pattern in most}):
            for mold in shelf.molds:
                wanted = [
                    most[bait, pattern] / promise_left.good_per_shot(shelf, mold, bait)
                    for bait in shelf.molds[mold].cavities
                    if most[bait, pattern] > 0
                ]
                for e in self.evenings if wanted and self._in_use(mold) else ():
                    shots = math.ceil(max(wanted))
                    if e != OVERTIME:
                        shots = min(shots, self.left.shots[e, mold])
                    if shots < 1:
                        continue
                    variable = self.shots[e, mold, pattern] = program.variable(shots, whole=True)
                    for bait in shelf.molds[mold].cavities:
                        good = promise_left.good_per_shot(shelf, mold, bait)
                        gives[bait, pattern][variable] = good
                    for key, each in shelf.molds[mold].parts.items():
                        self._uses[key][variable] += each
        for kind in most:
            balance = {variable: -good for variable, good in gives[kind].items()}
            for variable, line in zip(self.bags, self.lines, strict=True):
                each = shelf.products[line.product].contents.get(kind, 0)
                if each:
                    balance[variable] = each
            program.at_most(balance, sum(n for _, n in self.left.baits(kind, self.due)))
        for variable, line in zip(self.bags, self.lines, strict=True):
            for key, each in shelf.products[line.product].packaging.items():
                self._uses[key][variable] += each

    def _in_use(self, mold: str) -> bool:
        """Not retired, or the only one there is for one of its baits."""
        molds = self.shelf.molds
        return molds[mold].copies > 0 or any(
            all(other.copies == 0 for other in molds.values() if bait in other.cavities)
            for bait in molds[mold].cavities
        )

    def _add_batches(self) -> dict[str, Factors]:
        """Hours and cups; returns the mL of base of each recipe, its heels included."""
        shelf, program = self.shelf, self.program
        hands: defaultdict[int, dict[int, float]] = defaultdict(dict)
        on_mold: defaultdict[tuple[int, str], dict[int, float]] = defaultdict(dict)
        shot_ml: defaultdict[tuple[int, str], dict[int, float]] = defaultdict(dict)
        for (e, mold, pattern), variable in self.shots.items():
            hands[e][variable] = shelf.molds[mold].hand_minutes
            on_mold[e, mold][variable] = 1.0
            for recipe, ml in shelf.base_per_shot(mold, pattern).items():
                shot_ml[e, recipe][variable] = ml
        room = shelf.cup_ml - shelf.heel_ml
        base: defaultdict[str, defaultdict[int, float]] = defaultdict(lambda: defaultdict(float))
        for (e, recipe), factors in shot_ml.items():
            most = sum(ml * program.upper[variable] for variable, ml in factors.items())
            cups = program.variable(math.ceil(most / room), whole=True)
            program.at_most({**factors, cups: -room}, 0.0)
            # and no cup more than they need: an empty one would only be a way to hide leftovers
            program.at_most(
                {cups: room} | {variable: -ml for variable, ml in factors.items()},
                room * (1 - _NO_CUP),
            )
            hands[e][cups] = shelf.mixing_minutes
            base[recipe][cups] += shelf.heel_ml
            for variable, ml in factors.items():
                base[recipe][variable] += ml
        for (e, mold), factors in on_mold.items():
            if e != OVERTIME:
                program.at_most(factors, self.left.shots[e, mold])
        for e, factors in hands.items():
            if e != OVERTIME:
                program.at_most(factors, self.left.hands[e])
        return base

    def _add_plastic(self, base: Mapping[str, Factors]) -> None:
        shelf, program = self.shelf, self.program
        for recipe, base_ml in base.items():
            fed = {}
            for key in shelf.leftovers:
                there = self.left.leftover(key, self.due)
                if there > 0 and shelf.can_become(key, recipe):
                    fed[key] = self.feeds[key, recipe] = program.variable(there)
            less = {variable: -factor for variable, factor in base_ml.items()}
            program.at_most(less | dict.fromkeys(fed.values(), 1.0), 0.0)
            grade = self._uses[shelf.recipes[recipe].grade]
            for variable, factor in base_ml.items():
                grade[variable] += factor
            for variable in fed.values():
                grade[variable] -= 1.0
            self._add_doses(recipe, base_ml, fed)
        for key in shelf.leftovers:
            taken = [variable for (fed, _), variable in self.feeds.items() if fed == key]
            program.at_most(dict.fromkeys(taken, 1.0), self.left.leftover(key, self.due))

    def _add_doses(self, recipe: str, base_ml: Factors, fed: Mapping[str, int]) -> None:
        shelf, program = self.shelf, self.program
        wanted = shelf.recipes[recipe]
        held = {key for leftover in fed for key in shelf.leftovers[leftover].doses}
        for key in sorted(held | set(wanted.doses)):
            brought = {
                variable: shelf.leftovers[leftover].doses[key]
                for leftover, variable in fed.items()
                if shelf.leftovers[leftover].doses.get(key, 0) > 0
            }
            if brought:
                most = shelf.most_per_ml(recipe, key)
                program.at_most(
                    brought | {variable: -most * ml for variable, ml in base_ml.items()}, 0.0
                )
            dose = wanted.doses.get(key, 0)
            if dose > 0:
                made_up = {variable: -amount for variable, amount in brought.items()}
                for variable, ml in base_ml.items():
                    made_up[variable] = dose * ml
                # counted in mL of base at the recipe's dose: as large as the rest of the row
                for item in [key, *wanted.stand_ins.get(key, ())]:
                    added = program.variable()
                    made_up[added] = -dose
                    self._uses[item][added] += dose
                    if item != key:
                        self.stand_ins[recipe, key, item] = added
                program.at_most(made_up, 0.0)

    def _add_items(self, whole_order: bool) -> None:
        for key, factors in self._uses.items():
            row, there = dict(factors), self.left.item(key, self.due)
            if whole_order:
                self.bought[key] = self.program.variable()
                row[self.bought[key]] = -self._size(key)
                # nobody buys a flake to stand in for another
                standing = {
                    variable: self._uses[key][variable]
                    for (_, _, other), variable in self.stand_ins.items()
                    if other == key
                }
                self.program.at_most(standing, there)
            self.program.at_most(row, there)

    def _size(self, key: str) -> float:
        """The largest use of an item, of one bag, shot or mL: purchases are counted in it."""
        return max(map(abs, self._uses[key].values())) or 1.0

    # -- objectives --------------------------------------------------------------------------------

    def worth(self, weights: Iterable[float]) -> Factors:
        return {v: weight for v, weight in zip(self.bags, weights, strict=True) if weight > 0}

    def no_stand_ins(self) -> Factors:
        doses = {key: self.shelf.recipes[key[0]].doses[key[1]] for key in self.stand_ins}
        return {variable: -doses[key] for key, variable in self.stand_ins.items()}

    def early(self) -> Factors:
        """Shots count more, the later the evening: the first evenings fill up first."""
        turn = {e: number for number, e in enumerate(self.evenings, 1)}
        return {variable: -float(turn[e]) for (e, _, _), variable in self.shots.items()}

    def no_overtime(self) -> Factors:
        return {variable: -1.0 for (e, _, _), variable in self.shots.items() if e == OVERTIME}

    def no_purchases(self) -> Factors:
        """Purchases, each as a share of what there is of the item, or counted in single uses."""
        there = {key: self.left.item(key, self.due) / self._size(key) for key in self.bought}
        return {variable: -1.0 / max(1.0, there[key]) for key, variable in self.bought.items()}

    def bought_amount(self, key: str, point: Sequence[float]) -> float:
        return point[self.bought[key]] * self._size(key)

    # -- answers -----------------------------------------------------------------------------------

    def read(self, point: Sequence[float]) -> Filling:
        def amounts(variables: Mapping, scale=lambda key: 1.0) -> dict:
            found = {key: point[variable] * scale(key) for key, variable in variables.items()}
            return {key: amount for key, amount in found.items() if amount > NOTHING}

        return Filling(
            bags=[round(point[variable]) for variable in self.bags],
            shots=Counter(
                {key: n for key, variable in self.shots.items() if (n := round(point[variable]))}
            ),
            leftovers=amounts(self.feeds),
            stand_ins=amounts(self.stand_ins, lambda key: self.shelf.recipes[key[0]].doses[key[1]]),
        )


@dataclass(frozen=True)
class Answer:
    point: list[float] | None
    gap: float


def lexicographic(
    model: Model,
    objectives: Sequence[Factors],
    until: float,
    *,
    point: list[float] | None = None,
) -> Answer:
    """Maximize the objectives one after the other, each without giving up any of those before it.

    `point` is a way that is known already, best in all that was maximized before. The gap is the
    largest of the objectives': how much better, as a share of what was found, it could be; 1 when
    nothing was found.
    """
    gap = 0.0
    for objective in objectives:
        most = sum(
            factor * (model.program.upper[v] if factor > 0 else model.program.lower[v])
            for v, factor in objective.items()
        )
        best = None if point is None else value(objective, point)
        if best is None or best < most - NOTHING * max(1.0, abs(most)):
            # of two whole numbers less than one apart the larger is the best
            step, size = model.program.step(objective), max(1.0, model.program.size(objective))
            found, bound = model.program.solve(
                objective, until - time.monotonic(), enough=_LESS_THAN_ONE * step / size
            )
            if step and math.isfinite(bound):
                bound = math.floor(bound / step + NOTHING) * step
            if found is not None and (best is None or value(objective, found) > best):
                point = found
            if point is None:
                return Answer(None, 1.0)
            best = value(objective, point)
            gap = max(gap, max(0.0, min(bound, most) - best) / max(1.0, abs(best)))
        floor = best - 1e-7 * max(1.0, abs(best))
        model.program.at_most({v: -factor for v, factor in objective.items()}, -floor)
    return Answer(point, 0.0 if gap <= PROVEN_GAP else gap)


def tidy(model: Model, point: list[float], until: float) -> list[float]:
    """The same bags poured on the first evenings, as far as a part of the time that is left
    goes."""
    now = time.monotonic()
    return lexicographic(
        model, [model.early()], now + _TIDY_SHARE * (until - now), point=point
    ).point
