"""Small seeded shelves and orders, and every combination of whole bags tried on them.

`possible` shares no code with the promise: it tries every number of shots on every evening, and
only what goes from a leftover or a stand-in into which recipe is left to a small linear program.
"""

import dataclasses
import datetime
import itertools
import math
import random
from collections.abc import Mapping
from functools import cache

from scipy import optimize

from production import promise

TODAY = datetime.date(2031, 5, 5)
DUE = TODAY + datetime.timedelta(days=3)
SLACK = 1e-6


def day(number: int) -> datetime.date:
    return TODAY + datetime.timedelta(days=number)


def small_case(seed: int) -> tuple[promise.Order, promise.Shelf]:
    """Two or three products of two recipes that share a colorant, a flake, a base and a
    packaging."""
    chance = random.Random(seed)
    recipes = {
        "dusk": promise.Recipe("soft", {"soot": 0.01, "glint": 0.004}),
        "night": promise.Recipe(
            "soft",
            {"soot": 0.03, "glint": 0.006, "plum": 0.002},
            stand_ins={"glint": ["spark"]} if seed % 3 == 0 else {},
        ),
    }
    patterns = {"dusk": {"dusk": 1.0}, "night": {"night": 1.0}, "both": {"dusk": 0.4, "night": 0.6}}
    molds = {
        "long mold": promise.Mold(
            {"long": chance.choice([4, 6])},
            shot_ml=60,
            good={"long": chance.choice([0.8, 0.9, 1.0])},
            cycle_minutes=chance.choice([6, 10]),
            hand_minutes=2,
        ),
        "short mold": promise.Mold(
            {"short": 8}, shot_ml=40, good={"short": 0.95}, cycle_minutes=8, hand_minutes=2
        ),
    }
    names = ["long", "short", "long"][: chance.choice([2, 3])]
    made_of = chance.sample(["dusk", "night", "both"], len(names))
    products = {
        f"{bait} {pattern}": promise.Product(
            {(bait, pattern): chance.choice([4, 5, 6])},
            {"bag": 1},
            price=chance.choice([4, 5, 7]),
        )
        for bait, pattern in zip(names, made_of, strict=True)
    }
    minutes = chance.choice([18, 24, 60, 120])
    stock = {
        "soft": chance.choice([90, 180, 260, 900]),
        "soot": chance.choice([1.2, 6.0, 20, 20]),
        "glint": chance.choice([0.4, 1.5, 9, 9]),
        "plum": chance.choice([0.2, 3, 3]),
        "spark": 0.5,
        "bag": chance.choice([2, 5, 30, 30]),
    }
    shelf = promise.Shelf(
        today=TODAY,
        items={key: promise.Item([promise.Lot(amount)], 7) for key, amount in stock.items()},
        recipes=recipes,
        patterns=patterns,
        molds=molds,
        products=products,
        evenings=[promise.Evening(day(n), minutes) for n in range(chance.choice([1, 2]))],
        loose={(names[0], made_of[0]): [promise.Lot(chance.choice([0, 3, 7]))]},
        leftovers={
            "puck": promise.Leftover(
                "soft", chance.choice([30, 60]), {"soot": chance.choice([0.01, 0.02, 0.06])}
            )
        },
        mixing_minutes=chance.choice([4, 8]),
        heel_ml=10,
        cup_ml=150,
    )
    lines = [promise.Line(product, chance.choice([2, 3, 4])) for product in products]
    return promise.Order(lines, DUE), shelf


def every_choice(order: promise.Order):
    """Every number of bags of every line."""
    return itertools.product(*[range(line.bags + 1) for line in order.lines])


@dataclasses.dataclass(frozen=True)
class Busy:
    """Hours of the one evening that an earlier order has: hand minutes, and shots of each mold."""

    hands: float = 0.0
    cycles: Mapping[str, int] = dataclasses.field(default_factory=dict)


def all_possible(
    order: promise.Order, shelf: promise.Shelf, busy: Busy = Busy()
) -> set[tuple[int, ...]]:
    """Every choice of bags that the shelf can give. Fewer bags than a possible choice are
    possible."""
    found: set[tuple[int, ...]] = set()
    for bags in sorted(every_choice(order), key=sum, reverse=True):
        fewer = any(all(a <= b for a, b in zip(bags, more, strict=True)) for more in found)
        if fewer or possible(order, shelf, bags, busy):
            found.add(bags)
    return found


def after_earlier(line: promise.Line, shelf: promise.Shelf) -> tuple[promise.Shelf, Busy] | None:
    """The shelf without what an earlier order of one line needs, all of fresh plastic, on one
    evening.

    None when there is not enough for it.
    """
    shelf = dataclasses.replace(shelf, evenings=shelf.evenings[:1])
    product = shelf.products[line.product]
    ((kind, each),) = product.contents.items()
    if not possible(promise.Order([line], DUE), shelf, (line.bags,)):
        return None
    loose = sum(lot.amount for lot in shelf.loose.get(kind, ()))
    lacking = max(0, each * line.bags - loose)
    ((name, mold),) = [(n, m) for n, m in shelf.molds.items() if kind[0] in m.cavities]
    shots = math.ceil(lacking / (mold.cavities[kind[0]] * mold.good[kind[0]]) - SLACK)
    need, hands = {"bag": line.bags}, mold.hand_minutes * shots
    for recipe, share in shelf.patterns[kind[1]].items() if shots else ():
        shot_ml = mold.shot_ml * share * shots
        cups = math.ceil(shot_ml / (shelf.cup_ml - shelf.heel_ml) - SLACK)
        base, hands = shot_ml + cups * shelf.heel_ml, hands + cups * shelf.mixing_minutes
        need["soft"] = need.get("soft", 0) + base
        for key, dose in shelf.recipes[recipe].doses.items():
            need[key] = need.get(key, 0) + dose * base
    left = {key: _there(shelf, key) - need.get(key, 0) for key in shelf.items}
    if min(left.values()) < 0:
        return None
    items = {key: promise.Item([promise.Lot(amount)]) for key, amount in left.items()}
    loose_left = {**shelf.loose, kind: [promise.Lot(max(0, loose - each * line.bags))]}
    return dataclasses.replace(shelf, items=items, loose=loose_left), Busy(hands, {name: shots})


def possible(
    order: promise.Order, shelf: promise.Shelf, bags: tuple[int, ...], busy: Busy = Busy()
) -> bool:
    """Whether these bags can be made: some shots on some evenings, with hours and material for
    them."""
    lacking: dict[tuple[str, str], float] = {}
    packaging = 0
    for line, count in zip(order.lines, bags, strict=True):
        ((kind, each),) = shelf.products[line.product].contents.items()
        lacking[kind] = lacking.get(kind, 0) + each * count
        packaging += count
    if packaging > _there(shelf, "bag"):
        return False
    choices = []
    for (bait, pattern), count in lacking.items():
        count -= sum(lot.amount for lot in shelf.loose.get((bait, pattern), ()))
        ((name, mold),) = [(n, m) for n, m in shelf.molds.items() if bait in m.cavities]
        good = mold.cavities[bait] * mold.good[bait]
        shots = 0
        while shots * good < count - SLACK:
            shots += 1
        spread = [
            split
            for split in itertools.product(range(shots + 1), repeat=len(shelf.evenings))
            if sum(split) == shots
        ]
        choices.append([(name, pattern, split) for split in spread])
    return any(_works(shelf, choice, busy) for choice in itertools.product(*choices))


def _works(shelf: promise.Shelf, choice, busy: Busy) -> bool:
    base: dict[str, float] = {}
    for number, evening in enumerate(shelf.evenings):
        hands, in_mold, in_cups = busy.hands, dict(busy.cycles), {}
        for name, pattern, split in choice:
            mold, count = shelf.molds[name], split[number]
            hands += mold.hand_minutes * count
            in_mold[name] = in_mold.get(name, 0) + count
            for recipe, share in shelf.patterns[pattern].items():
                in_cups[recipe] = in_cups.get(recipe, 0) + mold.shot_ml * share * count
        for recipe, shot_ml in in_cups.items():
            cups = math.ceil(shot_ml / (shelf.cup_ml - shelf.heel_ml) - SLACK)
            hands += shelf.mixing_minutes * cups
            base[recipe] = base.get(recipe, 0) + shot_ml + cups * shelf.heel_ml
        if hands > evening.minutes + SLACK:
            return False
        for name, count in in_mold.items():
            if (
                count
                > evening.minutes // shelf.molds[name].cycle_minutes * shelf.molds[name].copies
            ):
                return False
    wanted = tuple(sorted((recipe, ml) for recipe, ml in base.items() if ml > 0))
    return _plastic(_Frozen(shelf), wanted)


class _Frozen:
    """A shelf that can be remembered by: the same one is the same, whatever it holds."""

    def __init__(self, shelf: promise.Shelf) -> None:
        self.shelf = shelf

    def __hash__(self) -> int:
        return id(self.shelf)

    def __eq__(self, other) -> bool:
        return self.shelf is other.shelf


@cache
def _plastic(frozen: _Frozen, wanted: tuple[tuple[str, float], ...]) -> bool:
    """Whether base, doses and leftovers are enough: amounts fed, and amounts of stand-ins taken."""
    shelf = frozen.shelf
    if _all_fresh_is_enough(shelf, wanted):
        return True
    names = [("feed", recipe) for recipe, _ in wanted]
    names += [("add", recipe, key) for recipe, _ in wanted for key in shelf.recipes[recipe].doses]
    names += [
        ("stand", recipe, key, other)
        for recipe, _ in wanted
        for key, others in shelf.recipes[recipe].stand_ins.items()
        for other in others
    ]
    column = {name: index for index, name in enumerate(names)}
    puck = shelf.leftovers["puck"]
    rows, most = [], []

    def row(factors: dict, bound: float) -> None:
        rows.append([0.0] * len(names))
        for name, factor in factors.items():
            rows[-1][column[name]] = factor
        most.append(bound)

    row({("feed", recipe): 1 for recipe, _ in wanted}, puck.base_ml)
    row(
        {("feed", recipe): -1 for recipe, _ in wanted},
        _there(shelf, "soft") - sum(ml for _, ml in wanted),
    )
    for recipe, ml in wanted:
        doses = shelf.recipes[recipe].doses
        share = min(1.0, 1.05 * doses["soot"] / puck.doses["soot"])
        row({("feed", recipe): 1}, share * ml)
        for key, dose in doses.items():
            brings = {("add", recipe, key): -1.0, ("feed", recipe): -puck.doses.get(key, 0)}
            for name in names:
                if name[:3] == ("stand", recipe, key):
                    brings[name] = -1.0
            row(brings, -dose * ml)
    for item in ("soot", "glint", "plum", "spark"):
        taken = {n: 1 for n in names if (n[0], n[-1]) in [("add", item), ("stand", item)]}
        row(taken, _there(shelf, item))
    answer = optimize.linprog([0.0] * len(names), A_ub=rows, b_ub=most)
    return answer.status == 0


def _all_fresh_is_enough(shelf: promise.Shelf, wanted: tuple[tuple[str, float], ...]) -> bool:
    need = {"soft": sum(ml for _, ml in wanted)}
    for recipe, ml in wanted:
        for key, dose in shelf.recipes[recipe].doses.items():
            need[key] = need.get(key, 0) + dose * ml
    return all(amount <= _there(shelf, key) for key, amount in need.items())


def _there(shelf: promise.Shelf, key: str) -> float:
    return sum(lot.amount for lot in shelf.items[key].lots)


def recheck(order: promise.Order, shelf: promise.Shelf, answer: promise.Promise) -> None:
    """Assert that the plan gives the promised bags and takes no more than there is of anything."""
    plan, uses, base, baits, minutes, cycles = answer.plan, {}, {}, {}, {}, {}
    for told, line in zip(answer.lines, order.lines, strict=True):
        assert told.ready + told.after_bagging + told.after_pouring + told.short == line.bags
        assert min(told.ready, told.after_bagging, told.after_pouring, told.short) >= 0
        assert all(later.on <= order.due for later in (*told.bagging, *told.pouring))
        made = told.after_bagging + told.after_pouring
        for kind, each in shelf.products[line.product].contents.items():
            baits[kind] = baits.get(kind, 0) - each * made
        for key, each in shelf.products[line.product].packaging.items():
            uses[key] = uses.get(key, 0) + each * made
    for shots in plan.shots:
        mold = shelf.molds[shots.mold]
        evening = next(e for e in shelf.evenings if e.on == shots.on)
        assert shelf.ready_on(evening) <= order.due
        minutes[shots.on] = minutes.get(shots.on, 0) + mold.hand_minutes * shots.count
        cycles[shots.on, shots.mold] = cycles.get((shots.on, shots.mold), 0) + shots.count
        for bait, count in mold.cavities.items():
            kind = (bait, shots.pattern)
            baits[kind] = baits.get(kind, 0) + count * mold.good[bait] * shots.count
        for key, each in mold.parts.items():
            uses[key] = uses.get(key, 0) + each * shots.count
    for kind, count in plan.loose.items():
        assert count <= sum(lot.amount for lot in shelf.loose.get(kind, ())) + SLACK
        baits[kind] += count
    assert all(left >= -SLACK for left in baits.values())
    for batch in plan.batches:
        assert batch.base_ml <= batch.count * shelf.cup_ml + SLACK
        minutes[batch.on] += shelf.mixing_minutes * batch.count
        base[batch.recipe] = base.get(batch.recipe, 0) + batch.base_ml
    for evening in shelf.evenings:
        assert minutes.get(evening.on, 0) <= evening.minutes + SLACK
        for key, mold in shelf.molds.items():
            room = math.floor(evening.minutes / mold.cycle_minutes + SLACK) * mold.copies
            assert cycles.get((evening.on, key), 0) <= room
    for recipe, ml in base.items():
        _recheck_plastic(shelf, plan, recipe, ml, uses)
    for key, amount in uses.items():
        there = sum(lot.amount for lot in shelf.items[key].lots if _lasts(lot, order.due))
        assert amount <= there * (1 + 1e-5) + SLACK, key
        assert math.isclose(amount, plan.uses.get(key, 0), rel_tol=1e-5, abs_tol=1e-5)
    for key, leftover in shelf.leftovers.items():
        taken = sum(ml for (fed, _), ml in plan.leftovers.items() if fed == key)
        assert taken <= leftover.base_ml + SLACK


def _recheck_plastic(shelf, plan, recipe: str, ml: float, uses: dict) -> None:
    wanted = shelf.recipes[recipe]
    fed = {key: taken for (key, into), taken in plan.leftovers.items() if into == recipe}
    assert sum(fed.values()) <= ml + SLACK
    uses[wanted.grade] = uses.get(wanted.grade, 0) + ml - sum(fed.values())
    held = {key for name in fed for key in shelf.leftovers[name].doses}
    for key in held | set(wanted.doses):
        brought = sum(shelf.leftovers[name].doses.get(key, 0) * n for name, n in fed.items())
        dose = wanted.doses.get(key, 0)
        assert brought <= max(1.05 * dose, (shelf.trace or {}).get(key, 0)) * ml + SLACK
        for stand_in in plan.stand_ins:
            if (stand_in.recipe, stand_in.instead_of) == (recipe, key):
                uses[stand_in.item] = uses.get(stand_in.item, 0) + stand_in.amount
                brought += stand_in.amount
        uses[key] = uses.get(key, 0) + max(0.0, dose * ml - brought)


def _lasts(lot: promise.Lot, due: datetime.date) -> bool:
    return lot.expires is None or lot.expires >= due


# -- other shelves ---------------------------------------------------------------------------------


def on_one_evening(shelf: promise.Shelf) -> promise.Shelf:
    return dataclasses.replace(shelf, evenings=shelf.evenings[:1])


def with_purchases(shelf: promise.Shelf, shorts, *, but_less_of: str = "") -> promise.Shelf:
    """The shelf with what was short of each item, and a thousandth less than that of one of
    them."""
    items = dict(shelf.items)
    for short in shorts:
        amount = short.amount * (0.999 if short.key == but_less_of else 1 + 1e-7)
        lots = [*items[short.key].lots, promise.Lot(amount)]
        items[short.key] = promise.Item(lots)
    return dataclasses.replace(shelf, items=items)


def without(shelf: promise.Shelf, plan: promise.Plan) -> promise.Shelf:
    """The shelf after the plan has been poured and bagged; the hours stay as they were."""
    items = {}
    for key, item in shelf.items.items():
        there = sum(lot.amount for lot in item.lots) - plan.uses.get(key, 0)
        items[key] = promise.Item([promise.Lot(max(0.0, there))])
    leftovers = {}
    for key, leftover in shelf.leftovers.items():
        taken = sum(ml for (fed, _), ml in plan.leftovers.items() if fed == key)
        leftovers[key] = dataclasses.replace(leftover, base_ml=max(0, leftover.base_ml - taken))
    loose = {
        kind: [promise.Lot(max(0, sum(lot.amount for lot in lots) - plan.loose.get(kind, 0)))]
        for kind, lots in shelf.loose.items()
    }
    return dataclasses.replace(shelf, items=items, leftovers=leftovers, loose=loose)
