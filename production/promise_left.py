"""What is left of a shelf while orders take their share, and what a way of filling an order
takes."""

import datetime
import math
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass, field

from production.promise_terms import Kind, Line, Lot, Product, Shelf

#: A share of an amount that no scale at the bench sees, and that a solver may leave.
NOTHING = 1e-6
#: The number of an evening that has no end and no date: for asking what is short.
OVERTIME = -1


@dataclass
class Filling:
    """One way of filling lines: bags made for each, and how.

    `shots` is keyed by the evening's number, mold and pattern; `leftovers` by leftover and recipe;
    `stand_ins` by recipe, the flake replaced and the one taken.
    """

    bags: list[int]
    shots: Counter[tuple[int, str, str]] = field(default_factory=Counter)
    leftovers: dict[tuple[str, str], float] = field(default_factory=dict)
    stand_ins: dict[tuple[str, str, str], float] = field(default_factory=dict)

    def copy(self) -> "Filling":
        return Filling(
            list(self.bags), Counter(self.shots), dict(self.leftovers), dict(self.stand_ins)
        )


class Left:
    """The part of a shelf that nobody has taken yet. Evenings are known by their number."""

    def __init__(self, shelf: Shelf) -> None:
        self.shelf = shelf
        self.items = {key: _oldest_first(item.lots) for key, item in shelf.items.items()}
        self.bagged = {key: _oldest_first(lots) for key, lots in shelf.bagged.items()}
        self.loose = {kind: _oldest_first(lots) for kind, lots in shelf.loose.items()}
        self.leftovers = {key: leftover.base_ml for key, leftover in shelf.leftovers.items()}
        self.hands = {e: float(evening.minutes) for e, evening in enumerate(shelf.evenings)}
        self.shots = {
            (e, key): int(mold.copies) * math.floor(evening.minutes / mold.cycle_minutes + NOTHING)
            for e, evening in enumerate(shelf.evenings)
            for key, mold in shelf.molds.items()
        }
        self._good: dict[str, dict[str, float]] = {}

    def copy(self) -> "Left":
        other = Left.__new__(Left)
        other.shelf, other._good = self.shelf, self._good
        for name in ("items", "bagged", "loose"):
            setattr(other, name, deepcopy(getattr(self, name)))
        for name in ("leftovers", "hands", "shots"):
            setattr(other, name, dict(getattr(self, name)))
        return other

    def good(self, bait: str) -> dict[str, float]:
        """The molds that cast the bait, and the good ones that a shot of each gives: the most first."""
        if bait not in self._good:
            found = {key: good_per_shot(self.shelf, key, bait) for key in self.shelf.molds}
            ranked = sorted((key for key in found if found[key] > 0), key=lambda key: -found[key])
            self._good[bait] = {key: found[key] for key in ranked}
        return self._good[bait]

    # -- what there is for an order due on a day ---------------------------------------------------

    def item(self, key: str, due: datetime.date) -> float:
        return sum(lot[0] for lot in self.items[key] if _lasts(lot[1], due))

    def bags(self, product: str, due: datetime.date) -> int:
        return sum(int(lot[0]) for lot in self.bagged.get(product, ()) if _lasts(lot[1], due))

    def baits(self, kind: Kind, due: datetime.date) -> list[tuple[datetime.date, float]]:
        """The loose baits that can be bagged and ready by then: the day they are ready, how
        many."""
        packing = datetime.timedelta(days=self.shelf.packing_days)
        return sorted(
            (ready, amount)
            for amount, expires, cured_on in self.loose.get(kind, ())
            if amount > 0
            and _lasts(expires, due)
            and (ready := max(self.shelf.today, cured_on or self.shelf.today) + packing) <= due
        )

    def leftover(self, key: str, due: datetime.date) -> float:
        return self.leftovers[key] if _lasts(self.shelf.leftovers[key].expires, due) else 0.0

    def evenings(self, due: datetime.date) -> list[int]:
        """The numbers of the evenings whose baits are ready by then, the first evening first."""
        numbers = [e for e, ev in enumerate(self.shelf.evenings) if self.shelf.ready_on(ev) <= due]
        return sorted(numbers, key=lambda e: self.shelf.evenings[e].on)

    # -- taking ------------------------------------------------------------------------------------

    def take_bags(self, product: str, most: int, due: datetime.date) -> int:
        return int(_take(self.bagged.get(product, ()), most, due, whole=True))

    def take_item(self, key: str, amount: float, due: datetime.date) -> float:
        return _take(self.items[key], amount, due)

    def take(self, lines: Sequence[Line], filling: Filling, due: datetime.date) -> None:
        """Take all that the filling needs."""
        for key, amount in needs(self.shelf, lines, filling).items():
            self.take_item(key, amount, due)
        for (key, _), amount in filling.leftovers.items():
            self.leftovers[key] = max(0.0, self.leftovers[key] - amount)
        for kind, amount in loose_used(self, lines, filling, due).items():
            packing = datetime.timedelta(days=self.shelf.packing_days)
            cured = [
                lot
                for lot in self.loose.get(kind, ())
                if (lot[2] or self.shelf.today) + packing <= due
            ]
            # those that cure last: what is ready now stays for whoever needs it sooner
            cured.sort(key=lambda lot: lot[2] or self.shelf.today, reverse=True)
            _take(cured, amount, due)
        for (e, mold, _), count in filling.shots.items():
            if e != OVERTIME:
                self.shots[e, mold] -= count
        for e, minutes in hand_minutes(self.shelf, filling).items():
            if e != OVERTIME:
                self.hands[e] = max(0.0, self.hands[e] - minutes)


def _oldest_first(lots: Sequence[Lot]) -> list[list]:
    ordered = sorted(lots, key=lambda lot: lot.expires or datetime.date.max)
    return [[lot.amount, lot.expires, lot.cured_on] for lot in ordered]


def _lasts(expires: datetime.date | None, due: datetime.date) -> bool:
    return expires is None or expires >= due


def _take(lots: Sequence[list], amount: float, due: datetime.date, *, whole: bool = False) -> float:
    taken = 0.0
    for lot in lots:
        if _lasts(lot[1], due) and taken < amount:
            part = min(int(lot[0]) if whole else lot[0], amount - taken)
            lot[0] -= part
            taken += part
    return taken


def good_per_shot(shelf: Shelf, mold: str, bait: str) -> float:
    """How many good baits one shot of the mold is expected to give."""
    return shelf.molds[mold].cavities.get(bait, 0) * shelf.molds[mold].good.get(bait, 0)


def baits_wanted(shelf: Shelf, lines: Sequence[Line], bags: Sequence[int]) -> Counter[Kind]:
    wanted: Counter[Kind] = Counter()
    for line, count in zip(lines, bags, strict=True):
        for kind, each in shelf.products[line.product].contents.items():
            wanted[kind] += each * count
    return wanted


def baits_poured(shelf: Shelf, shots: Mapping[tuple[int, str, str], int]) -> Counter[Kind]:
    poured: Counter[Kind] = Counter()
    for (_, mold, pattern), count in shots.items():
        for bait in shelf.molds[mold].cavities:
            poured[bait, pattern] += good_per_shot(shelf, mold, bait) * count
    return poured


def loose_used(
    left: Left, lines: Sequence[Line], filling: Filling, due: datetime.date
) -> dict[Kind, float]:
    """Loose baits that go into the bags: all that there are, before any that is poured."""
    wanted = baits_wanted(left.shelf, lines, filling.bags)
    there = {kind: sum(amount for _, amount in left.baits(kind, due)) for kind in wanted}
    return {
        kind: used for kind, count in wanted.items() if (used := min(float(count), there[kind])) > 0
    }


def batches(
    shelf: Shelf, shots: Mapping[tuple[int, str, str], int]
) -> dict[tuple[int, str], tuple[int, float]]:
    """The cups of each recipe on each evening, and the mL of base in them together with their
    heels."""
    shot_ml: defaultdict[tuple[int, str], float] = defaultdict(float)
    for (e, mold, pattern), count in shots.items():
        if count:
            for recipe, base_ml in shelf.base_per_shot(mold, pattern).items():
                shot_ml[e, recipe] += base_ml * count
    room = shelf.cup_ml - shelf.heel_ml
    cups = {key: math.ceil(ml / room - NOTHING) for key, ml in shot_ml.items()}
    return {key: (cups[key], ml + cups[key] * shelf.heel_ml) for key, ml in shot_ml.items()}


def hand_minutes(shelf: Shelf, filling: Filling) -> dict[int, float]:
    minutes: defaultdict[int, float] = defaultdict(float)
    for (e, mold, _), count in filling.shots.items():
        minutes[e] += shelf.molds[mold].hand_minutes * count
    for (e, _), (cups, _) in batches(shelf, filling.shots).items():
        minutes[e] += shelf.mixing_minutes * cups
    return minutes


def needs(shelf: Shelf, lines: Sequence[Line], filling: Filling) -> dict[str, float]:
    """What the filling takes of each item: packaging, parts, fresh base and additions."""
    uses: defaultdict[str, float] = defaultdict(float)
    for line, count in zip(lines, filling.bags, strict=True):
        for key, each in shelf.products[line.product].packaging.items():
            uses[key] += each * count
    for (_, mold, _), count in filling.shots.items():
        for key, each in shelf.molds[mold].parts.items():
            uses[key] += each * count
    base: defaultdict[str, float] = defaultdict(float)
    for (_, recipe), (_, base_ml) in batches(shelf, filling.shots).items():
        base[recipe] += base_ml
    for recipe, base_ml in base.items():
        _add_plastic(uses, shelf, recipe, base_ml, filling)
    return {key: amount for key, amount in uses.items() if amount > 0}


def _add_plastic(
    uses: defaultdict[str, float], shelf: Shelf, recipe: str, base_ml: float, filling: Filling
) -> None:
    wanted = shelf.recipes[recipe]
    fed = {key: ml for (key, into), ml in filling.leftovers.items() if into == recipe}
    uses[wanted.grade] += _more_than_nothing(base_ml - sum(fed.values()), base_ml)
    for key, dose in wanted.doses.items():
        brought = sum(shelf.leftovers[left].doses.get(key, 0) * ml for left, ml in fed.items())
        for other in wanted.stand_ins.get(key, ()):
            taken = filling.stand_ins.get((recipe, key, other), 0.0)
            uses[other] += taken
            brought += taken
        uses[key] += _more_than_nothing(dose * base_ml - brought, dose * base_ml)


def _more_than_nothing(amount: float, whole: float) -> float:
    return amount if amount > NOTHING * whole else 0.0


def touched(product: Product, shelf: Shelf) -> set[str]:
    """Every item that may go into a bag of the product, stand-ins among them."""
    found = set(product.packaging)
    for bait, pattern in product.contents:
        for mold in shelf.molds.values():
            if bait in mold.cavities:
                found |= set(mold.parts)
        for key in shelf.patterns[pattern]:
            recipe = shelf.recipes[key]
            found |= {recipe.grade, *recipe.doses}
            found |= {other for others in recipe.stand_ins.values() for other in others}
    return found
