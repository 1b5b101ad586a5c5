"""What lies ahead for one item: when to order, how much, and when it runs out.

Quantities are in the item's stock unit, times in days. A forecast is the mean use of the history with a
band of normal width: lumpy use strays further than it says. The reorder point itself is resampled where
use is lumpy (inventory/replenish.py)."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from statistics import NormalDist

from inventory import replenish
from inventory.demand import History
from inventory.replenish import Level

#: The share of lead times that the stock is to last through; common practice, no source.
SERVICE = 0.95
#: So many weeks of use are bought at once, beyond what the lead time takes; our own choice.
WEEKS = 4
#: The share of cases inside a band.
BAND = 0.8
#: Less than any pack holds: asks for one.
LEAST = 1e-6
#: Further ahead than this no date is given.
HORIZON = 730


@dataclass(frozen=True)
class Lead:
    """How long goods take: days, their spread, and from how many deliveries that is known (0: as the
    supplier's page says)."""

    days: float
    sd: float = 0.0
    seen: int = 0


@dataclass(frozen=True)
class Stock:
    """What is there of an item and what will happen to it: on hand, what open work needs, deliveries as
    (day, quantity), and the owner's own levels. `whole`: it comes by the piece."""

    on_hand: float
    needed: float = 0.0
    deliveries: tuple[tuple[date, float], ...] = ()
    minimum: float = 0.0
    target: float = 0.0
    whole: bool = False

    @property
    def on_order(self) -> float:
        return math.fsum(quantity for _, quantity in self.deliveries)

    @property
    def position(self) -> float:
        """What counts when ordering: on hand and on order less what open work needs."""
        return self.on_hand + self.on_order - self.needed


@dataclass(frozen=True)
class Outlook:
    """When to order and up to how much. `point` is None while neither history nor owner gives one.

    `computed` is the reorder point from the history alone, None while that is too short; then the owner's
    minimum stands in. `buy` is how much is short of `level` now, 0 when there is enough."""

    stock: Stock
    lead: Lead
    history: History
    weeks: float
    computed: float | None
    point: float | None
    level: float
    buy: float

    @property
    def learned(self) -> bool:
        return self.computed is not None

    @property
    def by_owner(self) -> bool:
        """Whether the owner's minimum, not the history, sets the reorder point."""
        return self.point is not None and self.point != self.computed

    @property
    def level_by_owner(self) -> bool:
        """Whether the owner's target or minimum, not the use, says up to how much."""
        return self.level in (self.stock.target, self.stock.minimum)

    @property
    def rate(self) -> float:
        """Use per day, 0 while the history is too short to say."""
        return self.history.mean if self.learned else 0.0

    @property
    def weekly(self) -> tuple[float, float]:
        """Use in a week and its spread."""
        return self.history.mean * 7, (self.history.sd or 0) * math.sqrt(7)


def look(
    usage: Sequence[float],
    stock: Stock,
    lead: Lead,
    *,
    service: float = SERVICE,
    weeks: float = WEEKS,
) -> Outlook:
    """Return when to order and how much, from daily use and what is there.

    The reorder point is the history's, at least the owner's minimum; with too short a history it is the
    minimum alone. What is bought brings the item up to the use of a lead time with its safety stock and
    `weeks` more, or to the owner's target where that is higher. Open work that leaves less than nothing
    is bought for, whatever the levels. Raises ValueError for a service outside .5 to 1.
    """
    return look_at_each([(usage, stock, lead)], service=service, weeks=weeks)[0]


def look_at_each(
    items: Sequence[tuple[Sequence[float], Stock, Lead]],
    *,
    service: float = SERVICE,
    weeks: float = WEEKS,
) -> list[Outlook]:
    """Return `look` for many items at once, each with its daily use, its stock and its lead time."""
    levels = replenish.levels(
        [usage for usage, _, _ in items],
        [(lead.days, lead.sd) for _, _, lead in items],
        service=service,
    )
    return [
        _outlook(level, stock, lead, weeks)
        for level, (_, stock, lead) in zip(levels, items, strict=True)
    ]


def _outlook(level: Level, stock: Stock, lead: Lead, weeks: float) -> Outlook:
    computed = level.reorder_point
    if computed is not None and stock.whole:
        # Never below the level asked for; a figure such as 60.0000001 is 60.
        computed = float(math.ceil(computed - 1e-6))
    point = max(computed or 0.0, stock.minimum)
    if computed is None and not stock.minimum:
        point = None
    full = max(
        (computed or 0.0) + (level.history.mean * 7 * weeks if computed is not None else 0.0),
        stock.target,
        stock.minimum,
    )
    buy = 0.0
    if point is not None and stock.position <= point:
        buy = max(full - stock.position, 0.0)
        if not buy:
            # At the minimum with nothing above it to reach: one pack.
            buy = LEAST
    elif stock.position < 0:
        buy = -stock.position
    return Outlook(stock, lead, level.history, weeks, computed, point, full, buy)


def out_on(outlook: Outlook, today: date) -> date | None:
    """The day on which mean use and open work will have taken all, deliveries of open orders counted;
    None where nothing says so within two years.

    What open work needs is taken today: nobody knows the evening."""
    left, day, rate = outlook.stock.on_hand - outlook.stock.needed, today, outlook.rate
    for when, quantity in sorted(outlook.stock.deliveries):
        waiting = max(0, (when - day).days)
        if left <= rate * waiting:
            break
        left += quantity - rate * waiting
        day = max(day, when)
    if left <= 0:
        return day
    days = math.ceil(left / rate) if rate else math.inf
    return day + timedelta(days=days) if days <= HORIZON else None


def due_in(outlook: Outlook) -> int | None:
    """Days until the stock comes down to its reorder point at mean use; 0: now. None: not foreseeable."""
    if outlook.point is None:
        return None
    above = outlook.stock.position - outlook.point
    if above <= 0:
        return 0
    if not outlook.rate:
        return None
    return math.ceil(above / outlook.rate)


@dataclass(frozen=True)
class Point:
    """Expected on hand at a day's end, and the band that holds BAND of the cases."""

    on: date
    expected: float
    low: float
    high: float


def run_down(outlook: Outlook, today: date, until: date) -> list[Point]:
    """On hand from today on, day by day, never under nothing; open work is taken today.

    The band is normal, its spread that of daily use times the root of the days."""
    z = NormalDist().inv_cdf((1 + BAND) / 2)
    rate, sd = outlook.rate, (outlook.history.sd or 0.0) if outlook.learned else 0.0
    arriving: dict[date, float] = {}
    for when, quantity in outlook.stock.deliveries:
        arriving[max(when, today)] = arriving.get(max(when, today), 0.0) + quantity
    held = outlook.stock.on_hand - outlook.stock.needed
    points = []
    for number in range((until - today).days + 1):
        day = today + timedelta(days=number)
        held += arriving.get(day, 0.0)
        expected, spread = held - rate * number, z * sd * math.sqrt(number)
        levels = (max(0.0, level) for level in (expected, expected - spread, expected + spread))
        points.append(Point(day, *levels))
    return points
