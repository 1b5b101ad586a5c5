"""The evening, or a part of it, as a mixed-integer program solved with HiGHS through scipy.

For each feed an amount and a yes or no; for each layer whether its plastic is of 2, 3, … melts or more; for
each two patterns which comes first. Amounts of a dose key are counted in mL of base at the recipe's dose,
so that every row of the program is in mL.

`build` writes the whole evening. `build_part` writes less than the truth about some layers, as a bound that
is quickly found: the cups in use are left out, and the order of the patterns need not be whole. A feed goes
from fewer melts to more, so the melts alone keep the plastic from going in circles; only the layers of a
laminate, of different melts, could make their patterns do so, and there the order stays in.
"""

import dataclasses
import itertools
import math
from collections import defaultdict
from collections.abc import Container, Mapping, Sequence, Set
from dataclasses import dataclass, field
from functools import cached_property

from production import evening_problem, evening_rule

# A linear expression: a constant, and a factor for each variable.
Expression = tuple[float, dict[int, float]]

# scipy's milp: 0 is solved, 2 proven to have no answer
_FINISHED = (0, 2)


@dataclass(frozen=True)
class Answer:
    """What the solver said: decisions when it found any, and a bound below which no cost can lie."""

    patterns: list[int] | None
    feeds: evening_rule.Feeds
    base_ml: list[float]
    bound: float
    finished: bool


@dataclass
class Model:
    """The program of one evening; `build` fills it in, `solve` may be called many times."""

    problem: evening_problem.Problem
    cost_scale: float
    layers: Sequence[int]
    patterns: Sequence[int]
    lower: list[float] = field(default_factory=list)
    upper: list[float] = field(default_factory=list)
    whole: list[int] = field(default_factory=list)
    cost: list[float] = field(default_factory=list)
    rows: list[tuple[dict[int, float], float, float]] = field(default_factory=list)
    base: dict[int, Expression] = field(default_factory=dict)
    amount: dict[tuple[int, int], int] = field(default_factory=dict)
    used: dict[tuple[int, int], int] = field(default_factory=dict)
    before: dict[tuple[int, int], int] = field(default_factory=dict)
    melts: dict[int, dict[int, int]] = field(default_factory=dict)
    fixed_cost: float = 0.0

    def variable(self, lower: float, upper: float, cost: float = 0, *, whole: bool = False) -> int:
        self.lower.append(lower)
        self.upper.append(upper)
        self.cost.append(cost)
        self.whole.append(int(whole))
        return len(self.cost) - 1

    def at_least(self, expression: Expression, bound: float) -> None:
        constant, factors = expression
        self.rows.append((factors, bound - constant, math.inf))

    def first(self, p: int, q: int) -> Expression:
        """1 when pattern p comes before pattern q, else 0."""
        if p < q:
            return 0.0, {self.before[p, q]: 1.0}
        return 1.0, {self.before[q, p]: -1.0}

    @cached_property
    def matrix(self):
        """The rows as a sparse matrix with their bounds; the last row is the cost itself."""
        import numpy as np
        from scipy import sparse

        cost = {variable: cost for variable, cost in enumerate(self.cost) if cost}
        rows = [*self.rows, (cost, -math.inf, math.inf)]
        row = [index for index, (factors, _, _) in enumerate(rows) for _ in factors]
        column = [variable for factors, _, _ in rows for variable in factors]
        value = [value for factors, _, _ in rows for value in factors.values()]
        matrix = sparse.csr_array((value, (row, column)), shape=(len(rows), len(self.cost)))
        return matrix, np.array([low for _, low, _ in rows]), np.array([high for *_, high in rows])

    def order_fixed(
        self, patterns: Sequence[int], free: Set[int] = frozenset()
    ) -> dict[int, float]:
        """Fix which comes first, but not for the patterns that are `free`."""
        turn = {p: index for index, p in enumerate(patterns)}
        return {
            variable: float(turn[p] < turn[q])
            for (p, q), variable in self.before.items()
            if p not in free and q not in free
        }

    def melts_fixed(self, melts: Sequence[int], free: Set[int] = frozenset()) -> dict[int, float]:
        """Fix the melts of each layer, but not of the patterns that are `free`."""
        return {
            variable: float(melts[k] >= level)
            for k, levels in self.melts.items()
            for level, variable in levels.items()
            if self.problem.pattern_of[k] not in free
        }

    def feeds_fixed(
        self, feeds: Container[tuple[int, int]], free: Set[int] = frozenset()
    ) -> dict[int, float]:
        """Fix which feeds there are, but not those from or into the patterns that are `free`."""
        return {
            variable: float((s, k) in feeds)
            for (s, k), variable in self.used.items()
            if self.problem.pattern_of[k] not in free
            and self.problem.sources[s].pattern not in free
        }

    def feeds_left_out(self, feeds: Container[tuple[int, int]]) -> dict[int, float]:
        """Fix that there is no feed but these."""
        return {variable: 0.0 for feed, variable in self.used.items() if feed not in feeds}

    def into(self, k: int) -> list[tuple[int, int]]:
        return [feed for feed in self.amount if feed[1] == k]


def plus(*terms: tuple[float, Expression]) -> Expression:
    """Return the sum of expressions, each times its factor."""
    constant, factors = 0.0, defaultdict(float)
    for factor, (term_constant, term_factors) in terms:
        constant += factor * term_constant
        for variable, value in term_factors.items():
            factors[variable] += factor * value
    return constant, dict(factors)


def one(variable: int) -> Expression:
    return 0.0, {variable: 1.0}


def build(problem: evening_problem.Problem, cost_scale: float) -> Model:
    """Write the evening down as a program whose cost is `cost_scale` times money."""
    model = _begin(problem, cost_scale, range(len(problem.layers)))
    _add_order(model)
    _add_places(model)
    _add_feeds(model)
    _add_mixes(model)
    _add_melts(model)
    _add_cups_in_use(model)
    _add_clean_cups(model, problem.clean_cups, least=0)
    return _end(model)


def build_part(
    problem: evening_problem.Problem, cost_scale: float, part: Sequence[int], clean_cups: int
) -> Model:
    """Write down one of `problem.parts`: no plan has a lower cost for these layers than its answer.

    The parts' costs add up to a bound for the evening. When the part is one of several, `clean_cups` are
    taken as used in any case, as `problem.parts` makes sure of; give them to one part only.
    """
    model = _begin(problem, cost_scale, part)
    laminate = len(model.patterns) < len(part)
    melts_limit = _melts_limit(problem)
    if laminate or not melts_limit:
        _add_order(model)
    _add_feeds(model)
    _add_mixes(model)
    _add_melts(model)
    _add_twins(model)
    alone = len(part) == len(problem.layers)
    _add_clean_cups(model, clean_cups, least=0 if alone else -clean_cups)
    if melts_limit:
        for variable in model.before.values():
            model.whole[variable] = 0
    return _end(model)


def _begin(problem: evening_problem.Problem, cost_scale: float, layers: Sequence[int]) -> Model:
    return Model(problem, cost_scale, layers, sorted({problem.pattern_of[k] for k in layers}))


def _end(model: Model) -> Model:
    # a cost that nothing changes: without it the solver's gap would not be that of the plan's cost
    model.variable(1, 1, model.fixed_cost)
    return model


def _melts_limit(problem: evening_problem.Problem) -> bool:
    """Whether plastic could be melted too often at all."""
    highest = max((jar.melts for jar in problem.jars), default=0) + len(problem.patterns)
    return highest > problem.max_melts


def _add_order(model: Model) -> None:
    pairs = itertools.combinations(model.patterns, 2)
    model.before = {pair: model.variable(0, 1, whole=True) for pair in pairs}
    for p, q, r in itertools.combinations(model.patterns, 3):
        # p before q before r before p is no order, and neither is the other way round
        factors = {model.before[p, q]: 1.0, model.before[q, r]: 1.0, model.before[p, r]: -1.0}
        model.rows.append((factors, 0.0, 1.0))


def _add_places(model: Model) -> None:
    problem = model.problem
    sizes = [len(members) for members in problem.members]
    for p, (low, high) in enumerate(problem.starts):
        if any(k in problem.places for k in problem.members[p]):
            others = [(sizes[q], model.first(q, p)) for q in model.patterns if q != p]
            constant, factors = plus(*others)
            model.rows.append((factors, low - constant, high - constant))


def _add_feeds(model: Model) -> None:
    problem = model.problem
    for k in model.layers:
        spare = problem.most_ml[k] - problem.need_ml[k]
        carry = {model.variable(0, spare): 1.0} if spare > 0 else {}
        model.base[k] = (problem.need_ml[k], carry)
    for feed, most in problem.feeds.items():
        s, k = feed
        if k not in model.base:
            continue
        amount = model.amount[feed] = model.variable(0, most)
        used = model.used[feed] = model.variable(0, 1, whole=True)
        model.at_least((0, {used: most, amount: -1.0}), 0)
        model.at_least((0, {amount: 1.0, used: -problem.least_feed_ml}), 0)
        source = problem.sources[s]
        if source.pattern is not None and model.before:
            model.at_least(
                plus((1, model.first(source.pattern, problem.pattern_of[k])), (-1, one(used))), 0
            )
    for s, source in enumerate(problem.sources):
        taken = {amount: -1.0 for feed, amount in model.amount.items() if feed[0] == s}
        if taken and source.layer is None:
            model.at_least((source.amount_ml, taken), 0)
        elif taken:
            left = plus((1, model.base[source.layer]), (1, (0, taken)))
            model.at_least(left, problem.layers[source.layer].shots_ml)


def _add_mixes(model: Model) -> None:
    for k in model.layers:
        into = model.into(k)
        _add_doses(model, k, into)
        _add_fresh(model, k, into)


def _add_doses(model: Model, k: int, into: Sequence[tuple[int, int]]) -> None:
    problem, layer = model.problem, model.problem.layers[k]
    held = {key for s, _ in into for key, dose in problem.sources[s].doses.items() if dose > 0}
    for key in sorted(held | set(layer.doses)):
        brought = {
            model.amount[s, k]: problem.sources[s].doses[key]
            for s, _ in into
            if problem.sources[s].doses.get(key, 0) > 0
        }
        limit, target = problem.limit(k, key), layer.doses.get(key, 0)
        if brought:
            model.at_least(plus((1, model.base[k]), (-1 / limit, (0, brought))), 0)
        price = target * problem.prices.get(key, 0) * model.cost_scale
        if price > 0:
            added = model.variable(0, problem.most_ml[k], price)
            made_up = plus((1, one(added)), (1 / target, (0, brought)), (-1, model.base[k]))
            model.at_least(made_up, 0)


def _add_fresh(model: Model, k: int, into: Sequence[tuple[int, int]]) -> None:
    problem = model.problem
    fresh = plus((1, model.base[k]), (-1, (0, {model.amount[feed]: 1.0 for feed in into})))
    model.at_least(fresh, 0)
    price = problem.prices[problem.layers[k].grade] * model.cost_scale
    model.fixed_cost += price * fresh[0]
    for variable, factor in fresh[1].items():
        model.cost[variable] += price * factor
    cold_cost = problem.cold_cost * model.cost_scale
    warm = [feed for feed in into if problem.sources[feed[0]].layer is not None]
    if sum(problem.feeds[feed] for feed in warm) < problem.need_ml[k]:
        model.fixed_cost += cold_cost
    elif cold_cost > 0:
        cold = model.variable(0, 1, cold_cost, whole=True)
        model.at_least(plus((problem.most_ml[k], one(cold)), (-1, fresh)), 0)
        for feed in into:
            if feed not in warm:
                model.at_least((0, {cold: 1.0, model.used[feed]: -1.0}), 0)


def _add_melts(model: Model) -> None:
    problem = model.problem
    if not _melts_limit(problem):
        return
    levels = range(2, problem.max_melts + 1)
    # 1 when the plastic is of that many melts or more: a row for each level keeps the program tight
    model.melts = {k: {m: model.variable(0, 1, whole=True) for m in levels} for k in model.layers}
    for melts in model.melts.values():
        for m in levels[1:]:
            model.at_least((0, {melts[m - 1]: 1.0, melts[m]: -1.0}), 0)
    trims = {p: _melts_of_trim(model, p) for p in model.patterns}
    for (s, k), used in model.used.items():
        source, after = problem.sources[s], model.melts[k]
        if source.melts is not None:
            if source.melts > 0:
                model.at_least((0, {after[source.melts + 1]: 1.0, used: -1.0}), 0)
            continue
        before = trims[source.pattern] if source.layer is None else model.melts[source.layer]
        for m in range(1, problem.max_melts + 1):
            # used and of m melts or more: then one more melt
            had = (-1.0, one(before[m])) if m > 1 else (-1.0, (1.0, {}))
            has = (1.0, one(after[m + 1])) if m < problem.max_melts else (1.0, (0.0, {}))
            model.at_least(plus((1.0, (1.0, {})), (-1.0, one(used)), had, has), 0)


def _melts_of_trim(model: Model, p: int) -> dict[int, int]:
    """The melts of a pattern's trim: the most of its layers'."""
    members = [model.melts[k] for k in model.problem.members[p] if k in model.melts]
    if len(members) == 1:
        return members[0]
    trim = {m: model.variable(0, 1) for m in members[0]}
    for melts in members:
        for m, variable in trim.items():
            model.at_least((0, {variable: 1.0, melts[m]: -1.0}), 0)
    return trim


def _add_twins(model: Model) -> None:
    """Of two layers that are alike in everything, as after a split, let the first have fewer melts.

    Their names can be swapped in any plan, so that nothing is lost; without melts, it is poured first.
    """
    problem = model.problem
    single = [k for k in model.layers if len(problem.members[problem.pattern_of[k]]) == 1]
    alike = defaultdict(list)
    for k in single:
        layer = dataclasses.replace(problem.layers[k], key="", pattern="")
        if k not in problem.places:
            alike[repr(layer)].append(k)
    for twins in alike.values():
        for one_of_them, next_of_them in itertools.pairwise(twins):
            for m, variable in model.melts.get(one_of_them, {}).items():
                model.at_least((0, {model.melts[next_of_them][m]: 1.0, variable: -1.0}), 0)
            if not model.melts:
                pair = problem.pattern_of[one_of_them], problem.pattern_of[next_of_them]
                model.at_least(model.first(*pair), 1)


def _add_cups_in_use(model: Model) -> None:
    problem = model.problem
    remains = [feed for feed in model.used if problem.sources[feed[0]].layer is not None]
    for q, members in enumerate(problem.members):
        waiting: dict[int, int] = {}
        for s, k in remains:
            p, r = problem.sources[s].pattern, problem.pattern_of[k]
            if q in (p, r):
                continue
            if s not in waiting:
                waiting[s] = model.variable(0, 1)
            overlap = plus(
                (1, one(model.used[s, k])), (1, model.first(p, q)), (1, model.first(q, r))
            )
            model.at_least(plus((1, one(waiting[s])), (-1, overlap)), -2)
        room = problem.cups - len(members)
        model.rows.append((dict.fromkeys(waiting.values(), 1.0), -math.inf, room))


def _add_clean_cups(model: Model, clean_cups: int, least: int) -> None:
    problem = model.problem
    if problem.wash_cost == 0:
        return
    # Which cup goes on as which is a matching: with the feeds whole, its best answer is whole too.
    goes_on = {
        feed: model.variable(0, 1)
        for feed in model.used
        if problem.sources[feed[0]].layer is not None
    }
    for feed, variable in goes_on.items():
        model.at_least((0, {model.used[feed]: 1.0, variable: -1.0}), 0)
    for end in (0, 1):
        groups = defaultdict(dict)
        for feed, variable in goes_on.items():
            groups[feed[end]][variable] = 1.0
        for group in groups.values():
            model.rows.append((group, -math.inf, 1.0))
    needed = len(model.layers)
    washed = model.variable(least, needed, problem.wash_cost * model.cost_scale)
    model.at_least((0, {washed: 1.0, **dict.fromkeys(goes_on.values(), 1.0)}), needed - clean_cups)


def solve(
    model: Model,
    time_limit_s: float,
    *,
    fixed: Mapping[int, float] | None = None,
    strict: Container[tuple[int, int]] | None = None,
    dearest: float = math.inf,
    near: float = 1e-7,
) -> Answer:
    """Solve the program with some variables fixed, looking only for plans of cost `dearest` at most.

    Only the feeds in `strict` (all when None) are held to their yes or no and so to the smallest feed; others
    may come in any amount. The solver stops when its answer is within the share `near` of the best.
    """
    import numpy as np
    from scipy import optimize

    lower, upper = np.array(model.lower), np.array(model.upper)
    for variable, value in (fixed or {}).items():
        lower[variable] = upper[variable] = value
    whole = np.array(model.whole)
    loose = [] if strict is None else [feed for feed in model.used if feed not in strict]
    whole[[model.used[feed] for feed in loose]] = 0
    matrix, low, high = model.matrix
    high[-1] = dearest * model.cost_scale
    result = optimize.milp(
        np.array(model.cost),
        integrality=whole,
        bounds=optimize.Bounds(lower, upper),
        constraints=optimize.LinearConstraint(matrix, low, high),
        options={"time_limit": max(0.01, time_limit_s), "mip_rel_gap": near},
    )
    return _read(model, result, loose)


def _read(model: Model, result, loose: Sequence[tuple[int, int]]) -> Answer:
    bound = -math.inf
    if result.mip_dual_bound is not None and math.isfinite(result.mip_dual_bound):
        bound = result.mip_dual_bound / model.cost_scale
    finished = result.status in _FINISHED
    if result.x is None:
        return Answer(None, {}, [], bound, finished)
    x = result.x.tolist()
    feeds = {feed for feed, used in model.used.items() if x[used] > 0.5}
    feeds |= {feed for feed in loose if x[model.amount[feed]] > evening_problem.SMALLEST_FEED_ML}
    ahead = dict.fromkeys(model.patterns, 0)
    for (p, q), variable in model.before.items():
        ahead[q if x[variable] > 0.5 else p] += 1
    return Answer(
        patterns=sorted(model.patterns, key=lambda p: ahead[p]),
        feeds={feed: x[model.amount[feed]] for feed in feeds},
        base_ml=[
            constant + sum(factor * x[variable] for variable, factor in factors.items())
            for constant, factors in model.base.values()
        ],
        bound=bound,
        finished=finished,
    )
