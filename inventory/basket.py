"""One order list for several items over several suppliers, at the least cost.

A mixed-integer program: whole packs by price break, a yes or no for each supplier and for its free
shipping. Solved by HiGHS through `scipy.optimize.milp` to a zero gap.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from inventory import cover as cover_
from inventory import packs as packs_
from inventory.packs import Pack, Purchase, Terms


@dataclass(frozen=True)
class Basket:
    """What to order, beside the cheapest order from one supplier that has everything.

    `single_supplier` is None when no supplier has every item that can be bought. `missing` names items
    that nobody sells; the rest is bought without them.
    """

    purchase: Purchase
    single_supplier: Purchase | None
    missing: tuple[str, ...]


@dataclass(frozen=True)
class _Choice:
    """One price tier of one pack: between `least` and `most` packs at `each`, or none."""

    pack: Pack
    least: int
    most: int
    each: float


def basket(
    needs: Mapping[str, float],
    packs: Sequence[Pack],
    *,
    on_hand: Mapping[str, float] | None = None,
    terms: Iterable[Terms] = (),
    time_limit: float = 5.0,
) -> Basket:
    """Return the cheapest basket that brings every item up to its need (item to stock units).

    The purchase is never dearer than `single_supplier`; where both cost the same it is that one.
    `time_limit` is in seconds for each solve; a purchase from a solve that ran out has `proven` False.
    Raises ValueError for a need or stock that is not a finite number.
    """
    short = _short(needs, on_hand or {})
    sold = {pack.item for pack in packs}
    missing = tuple(sorted(item for item in short if item not in sold))
    short = {item: amount for item, amount in short.items() if item in sold}
    if not short:
        return Basket(Purchase(covers=not missing), None, missing)
    packs = [pack for pack in packs if pack.item in short]
    by_supplier = packs_.terms_by_supplier(packs, terms)
    singles = [
        _cheapest(short, mine, by_supplier, time_limit)
        for mine in _packs_of_each(packs, by_supplier)
        if {pack.item for pack in mine} == set(short)
    ]
    single = min((one for one in singles if one), key=lambda one: one.total, default=None)
    mixed = _cheapest(short, packs, by_supplier, time_limit)
    candidates = [one for one in (single, mixed) if one]
    if not candidates:
        return Basket(Purchase(covers=False), None, missing)
    best = min(candidates, key=lambda one: one.total)
    proven = bool(mixed and mixed.proven)
    chosen = Purchase(best.lines, best.goods, best.shipping, covers=not missing, proven=proven)
    return Basket(chosen, single, missing)


def _short(needs: Mapping[str, float], on_hand: Mapping[str, float]) -> dict[str, int]:
    """Millionths short of each item that is short."""
    short = {}
    for item, need in needs.items():
        held = packs_.amount_micro(on_hand.get(item, 0), f"{item} on hand")
        amount = packs_.amount_micro(need, f"the need of {item}") - held
        if amount > 0:
            short[item] = amount
    return short


def _packs_of_each(packs: Sequence[Pack], terms: Mapping[str, Terms]) -> list[list[Pack]]:
    return [[pack for pack in packs if pack.supplier == supplier] for supplier in terms]


def _cheapest(
    short: Mapping[str, int], packs: Sequence[Pack], terms: Mapping[str, Terms], time_limit: float
) -> Purchase | None:
    """The cheaper of the program's answer and item by item; None when neither found an order."""
    separate = _item_by_item(short, packs, terms)
    solved = _solve(short, packs, terms, time_limit)
    if separate and (solved is None or separate.total < solved.total):
        return separate
    return solved


def _item_by_item(
    short: Mapping[str, int], packs: Sequence[Pack], terms: Mapping[str, Terms]
) -> Purchase | None:
    """Each item's cheapest cover, ordered together: something to fall back on."""
    counts: dict[Pack, int] = {}
    for item, amount in short.items():
        mine = [pack for pack in packs if pack.item == item]
        alone = cover_.cover(amount / packs_.MICRO, mine, terms=terms.values())
        if not alone.covers:
            return None
        counts |= {line.pack: line.count for line in alone.lines}
    return packs_.priced(counts.items(), terms, proven=False)


def _solve(
    short: Mapping[str, int], packs: Sequence[Pack], terms: Mapping[str, Terms], time_limit: float
) -> Purchase | None:
    """Build and solve the program; None when it ran out of time with nothing, or its rounded answer
    doesn't hold."""
    from scipy import optimize

    choices = [choice for pack in packs for choice in _choices(pack, short, terms)]
    suppliers = list(terms)
    program = _Program(choices, suppliers)
    _cover_needs(program, short)
    _one_tier_a_pack(program)
    _keep_terms(program, terms)
    answer = optimize.milp(
        program.costs(terms),
        constraints=program.constraints(),
        integrality=1,
        bounds=program.bounds(),
        options={"mip_rel_gap": 0, "time_limit": time_limit},
    )
    if answer.x is None:
        return None
    counts: dict[Pack, int] = {}
    for choice, count in zip(choices, answer.x, strict=False):
        counts[choice.pack] = counts.get(choice.pack, 0) + round(count)
    if not _covered(short, counts):
        return None
    return packs_.priced(counts.items(), terms, proven=answer.status == 0)


def _choices(pack: Pack, short: Mapping[str, int], terms: Mapping[str, Terms]) -> list[_Choice]:
    threshold = terms[pack.supplier].threshold_micro
    top = packs_.most_worth_buying(pack, short[pack.item], threshold)
    ends = [start - 1 for start, _ in pack.tiers[1:]] + [top]
    tiers = [
        _Choice(pack, max(start, pack.least), end, each)
        for (start, each), end in zip(pack.tiers, ends, strict=True)
    ]
    return [tier for tier in tiers if tier.least <= tier.most]


def _covered(short: Mapping[str, int], counts: Mapping[Pack, int]) -> bool:
    """Whether rounded counts cover the needs; the solver's own tolerance adds a millionth or two."""
    for item, amount in short.items():
        bought = sum(n * pack.quantity_micro for pack, n in counts.items() if pack.item == item)
        if bought < amount - 3 * amount // packs_.MICRO:
            return False
    return True


class _Program:
    """Columns: packs of each choice, its yes or no, then each supplier's yes or no and free shipping."""

    def __init__(self, choices: list[_Choice], suppliers: list[str]) -> None:
        self.choices = choices
        self.size = 2 * len(choices) + 2 * len(suppliers)
        self.taken = {i: len(choices) + i for i in range(len(choices))}
        self.used = {name: 2 * len(choices) + i for i, name in enumerate(suppliers)}
        self.free = {name: at + len(suppliers) for name, at in self.used.items()}
        self.rows: list[tuple[dict[int, float], float]] = []

    def at_least(self, row: dict[int, float], least: float) -> None:
        """Add a row: the sum of coefficient times column is at least `least`."""
        self.rows.append((row, least))

    def costs(self, terms: Mapping[str, Terms]) -> list[float]:
        costs = [choice.each for choice in self.choices] + [0.0] * (self.size - len(self.choices))
        for name, at in self.used.items():
            costs[at] = terms[name].shipping
            costs[self.free[name]] = -terms[name].shipping
        return costs

    def bounds(self):
        from scipy import optimize

        ones = [1] * (self.size - len(self.choices))
        return optimize.Bounds(0, [choice.most for choice in self.choices] + ones)

    def constraints(self):
        from scipy import optimize, sparse

        triples = [(v, r, c) for r, (row, _) in enumerate(self.rows) for c, v in row.items()]
        values, rows, columns = zip(*triples, strict=True)
        matrix = sparse.csr_array((values, (rows, columns)), (len(self.rows), self.size))
        return optimize.LinearConstraint(matrix, [least for _, least in self.rows])


def _cover_needs(program: _Program, short: Mapping[str, int]) -> None:
    """Rows are shares of the need, so that the solver's tolerance is one too."""
    for item, amount in short.items():
        row = {
            i: choice.pack.quantity_micro / amount
            for i, choice in enumerate(program.choices)
            if choice.pack.item == item
        }
        program.at_least(row, packs_.target_micro(amount) / amount)


def _one_tier_a_pack(program: _Program) -> None:
    """Packs are bought in one tier, within its ends, from a supplier that is used."""
    tiers: dict[Pack, dict[int, float]] = {}
    for i, choice in enumerate(program.choices):
        taken = program.taken[i]
        if choice.least == 1 and not choice.pack.breaks:
            # Any count will do, so that the supplier's yes is enough.
            program.at_least({i: -1, program.used[choice.pack.supplier]: choice.most}, 0)
            program.at_least({taken: -1}, 0)
            continue
        program.at_least({i: -1, taken: choice.most}, 0)
        program.at_least({i: 1, taken: -choice.least}, 0)
        tiers.setdefault(choice.pack, {})[taken] = -1
    for pack, row in tiers.items():
        program.at_least(row | {program.used[pack.supplier]: 1}, 0)


def _keep_terms(program: _Program, terms: Mapping[str, Terms]) -> None:
    """A used supplier gets its minimum; shipping is free only when its sum is reached."""
    for name, used in program.used.items():
        term, free = terms[name], program.free[name]
        goods = {i: c.each for i, c in enumerate(program.choices) if c.pack.supplier == name}
        program.at_least({used: 1, free: -1}, 0)
        program.at_least(goods | {used: -term.minimum}, 0)
        if term.free_from is None:
            program.at_least({free: -1}, 0)
        else:
            program.at_least(goods | {free: -term.free_from}, 0)
