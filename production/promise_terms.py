"""The words of a promise: the order, the shelf it is asked of, and the answer.

Plastic is in mL of base, doses in their own unit per mL of base, a shot in mL of its total volume.
Loose baits are known by their *kind*: the bait and the pattern. Days are dates, work is minutes.
"""

import datetime
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from production import mixing

Kind = tuple[str, str]


class PromiseError(ValueError):
    """What was asked cannot be reckoned with; the text names the line, product or figure."""


# -- the shelf -------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Lot:
    """So much of one thing: units of an item, bags, or baits. It counts until the day it expires.

    `cured_on` is the first day on which loose baits may be bagged; None: they may be now.
    """

    amount: float
    expires: datetime.date | None = None
    cured_on: datetime.date | None = None


@dataclass(frozen=True)
class Item:
    """A grade of base (mL), a colorant or flake, packaging or a part: what of it is available.

    `lead_days` are from ordering to delivery; None: nobody knows.
    """

    lots: Sequence[Lot] = ()
    lead_days: int | None = None


@dataclass(frozen=True)
class Recipe:
    """`doses` per mL of base; `base_share` is mL of base in one mL of the mix.

    `stand_ins` names, for a flake, those that may replace it, unit for unit. `trace` is how much
    per mL of base a leftover may bring of what the recipe lacks; None: the shelf's.
    """

    grade: str
    doses: Mapping[str, float]
    base_share: float = 1.0
    stand_ins: Mapping[str, Sequence[str]] = field(default_factory=dict)
    trace: Mapping[str, float] | None = None


@dataclass(frozen=True)
class Mold:
    """`cavities` is how many baits one shot makes; `good` the share of each expected to be good.

    `shot_ml` is one shot's total volume, `cycle_minutes` how long it keeps a copy of the mold,
    `hand_minutes` how long it keeps a pair of hands. `parts` is what lies in the cavities of one
    shot. A retired mold has no copies.
    """

    cavities: Mapping[str, int]
    shot_ml: float
    good: Mapping[str, float]
    copies: int = 1
    cycle_minutes: float = 6.0
    hand_minutes: float = 1.0
    parts: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Leftover:
    """Kept plastic or trim: mL of base, and what one mL of it holds."""

    grade: str
    base_ml: float
    doses: Mapping[str, float]
    melts: int = 1
    expires: datetime.date | None = None


@dataclass(frozen=True)
class Product:
    """One bag: baits by kind, packaging by item, and its price in any one unit of money."""

    contents: Mapping[Kind, int]
    packaging: Mapping[str, float] = field(default_factory=dict)
    price: float = 0.0


@dataclass(frozen=True)
class Evening:
    """An evening at the bench: as many minutes for the hands as for every copy of every mold."""

    on: datetime.date
    minutes: float


@dataclass(frozen=True)
class Shelf:
    """All that a promise can be kept with. Amounts are what is available, not what is on hand.

    `patterns` maps a pattern to its recipes' shares of a shot (they sum to 1). `heel_ml` stays in
    cup and injector of each batch, `cup_ml` is the largest batch. Baits poured on an evening are
    bagged `cure_hours` later, and ready `packing_days` after that. `max_melts` limits what a
    leftover may go into.
    """

    today: datetime.date
    items: Mapping[str, Item]
    recipes: Mapping[str, Recipe]
    patterns: Mapping[str, Mapping[str, float]]
    molds: Mapping[str, Mold]
    products: Mapping[str, Product]
    evenings: Sequence[Evening] = ()
    bagged: Mapping[str, Sequence[Lot]] = field(default_factory=dict)
    loose: Mapping[Kind, Sequence[Lot]] = field(default_factory=dict)
    leftovers: Mapping[str, Leftover] = field(default_factory=dict)
    cure_hours: float = 24.0
    packing_days: int = 0
    mixing_minutes: float = 12.0
    heel_ml: float = 10.0
    cup_ml: float = 400.0
    max_melts: int = 5
    tolerance: float | Mapping[str, float] = mixing.DEFAULT_TOLERANCE
    trace: Mapping[str, float] | None = None

    def ready_on(self, evening: Evening) -> datetime.date:
        """The day on which what is poured that evening is bagged and ready."""
        days = math.ceil(self.cure_hours / 24) + self.packing_days
        return evening.on + datetime.timedelta(days=days)

    def base_per_shot(self, mold: str, pattern: str) -> dict[str, float]:
        """The mL of base that one shot takes of each of the pattern's recipes."""
        return {
            recipe: self.molds[mold].shot_ml * share * self.recipes[recipe].base_share
            for recipe, share in self.patterns[pattern].items()
        }

    def most_per_ml(self, recipe: str, key: str) -> float:
        """The most of `key` per mL of base that leftovers may bring into the recipe."""
        wanted = self.recipes[recipe]
        trace = self.trace if wanted.trace is None else wanted.trace
        return mixing.most_per_ml(wanted.doses, key, self.tolerance, trace)

    def can_become(self, leftover: str, recipe: str) -> bool:
        """Whether any of the leftover can go into a batch of the recipe."""
        plastic = self.leftovers[leftover]
        return (
            plastic.grade == self.recipes[recipe].grade
            and plastic.melts + 1 <= self.max_melts
            and all(
                self.most_per_ml(recipe, key) > 0 for key, dose in plastic.doses.items() if dose > 0
            )
        )


# -- the order -------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Line:
    """So many bags of a product. For an earlier order: those that it does not hold yet.

    `price` is what one bag earns here; None: the product's.
    """

    product: str
    bags: int
    price: float | None = None


@dataclass(frozen=True)
class Order:
    """Lines, those that matter most first, and the day on which all of them must be ready."""

    lines: Sequence[Line]
    due: datetime.date


# -- the answer ------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Shots:
    on: datetime.date
    mold: str
    pattern: str
    count: int


@dataclass(frozen=True)
class Batches:
    """So many cups of one recipe on one evening, and the mL of base in them together, heels
    included."""

    on: datetime.date
    recipe: str
    count: int
    base_ml: float


@dataclass(frozen=True)
class StandIn:
    """So much of one flake taken in place of another, in the flake's unit."""

    recipe: str
    instead_of: str
    item: str
    amount: float


@dataclass(frozen=True)
class Plan:
    """How a promise can be kept: one way, not the plan of the evening itself.

    `uses` is what it takes of each item in the item's unit; `leftovers` maps a leftover and the
    recipe that it goes into to mL of base; `loose` is how many loose baits it bags.
    """

    shots: tuple[Shots, ...] = ()
    batches: tuple[Batches, ...] = ()
    uses: Mapping[str, float] = field(default_factory=dict)
    leftovers: Mapping[tuple[str, str], float] = field(default_factory=dict)
    stand_ins: tuple[StandIn, ...] = ()
    loose: Mapping[Kind, float] = field(default_factory=dict)


#: What can be short. Material is in the item's unit; hours are in minutes.
ITEM, MOLD_MINUTES, HAND_MINUTES = "item", "mold minutes", "hand minutes"


@dataclass(frozen=True)
class Short:
    """What the whole order lacks: the item or mold by its key ("" for hands), and how much of it.

    `on` is the day on which it could be here: an item ordered today, or the day on which what is
    missing would be ready if only the hours of later evenings were needed. None: nobody knows.
    """

    what: str
    key: str
    amount: float
    on: datetime.date | None


@dataclass(frozen=True)
class Later:
    """So many bags that are ready on that day."""

    on: datetime.date
    bags: int


@dataclass(frozen=True)
class LinePromise:
    """Where one line's bags come from: `ready` + `bagging` + `pouring` + `short` are all its bags.

    `limits` are those of the order's shortages that this line runs into; empty when nothing is
    short.
    """

    product: str
    bags: int
    ready: int
    bagging: tuple[Later, ...]
    pouring: tuple[Later, ...]
    short: int
    limits: tuple[Short, ...] = ()
    stand_ins: tuple[StandIn, ...] = ()

    @property
    def after_bagging(self) -> int:
        return sum(later.bags for later in self.bagging)

    @property
    def after_pouring(self) -> int:
        return sum(later.bags for later in self.pouring)

    @property
    def promised(self) -> int:
        return self.bags - self.short


@dataclass(frozen=True)
class Promise:
    """The answer to an order.

    `ready_on` is the day on which all that is promised is ready (None when nothing is); `whole_on`
    that on which the whole order could be, bought and poured after what is promised (None: nobody
    knows). `set_aside` is what earlier orders keep of each item. `gap` is how much better, as a
    share, the promise could still be; `proven` when that is nothing. `least` says that less than
    `shorts` would not do: else there was no time to prove it, and a little less might.
    """

    lines: tuple[LinePromise, ...]
    shorts: tuple[Short, ...]
    least: bool
    ready_on: datetime.date | None
    whole_on: datetime.date | None
    plan: Plan
    set_aside: Mapping[str, float]
    proven: bool
    gap: float

    @property
    def whole(self) -> bool:
        """Whether the order can be promised as it stands."""
        return all(line.short == 0 for line in self.lines)
