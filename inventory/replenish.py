"""When to buy, how much, and in which packs.

The formulas for one item are here; `cover` and `basket` choose packs, `classify_demand` and
`lead_time_quantile` read a history. Amounts are in the item's stock unit; a rate, its spread and a lead
time share one unit of time (the day, where nothing else is said): a spread per year over a lead time in
months would be wrong by a factor of 3.5. z is the exact normal quantile, not a table's (1.6449, not 1.65).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

from inventory.basket import Basket, basket
from inventory.cover import cover
from inventory.demand import DemandClass, History, as_arrays, classify_demand, classify_each
from inventory.packs import Line, Pack, Purchase, Terms
from inventory.resampling import lead_time_quantile, reorder_points

__all__ = [
    "Basket",
    "DemandClass",
    "DiscountedOrder",
    "History",
    "Level",
    "Line",
    "Newsvendor",
    "Pack",
    "Purchase",
    "Terms",
    "basket",
    "classify_demand",
    "cover",
    "discounted_order_quantity",
    "economic_order_quantity",
    "lead_time_quantile",
    "level_from_history",
    "levels",
    "newsvendor",
    "newsvendor_cost",
    "reorder_point",
    "safety_stock",
    "to_order",
]


# -- how much --------------------------------------------------------------------------------------


def economic_order_quantity(
    demand: float, order_cost: float, holding: float, *, making_rate: float | None = None
) -> float:
    """Return √(2KD/h): the quantity at which ordering and holding cost the least together.

    `demand` per time, `order_cost` for each order, `holding` for one stock unit over that time. With a
    `making_rate` the goods come in at that rate instead of at once, as what is made in the shop does:
    √(2KD/(h(1 - D/rate))). No demand needs no order: 0. Raises ValueError when holding costs nothing
    (the answer has no bound) or when the rate cannot keep up with demand.
    Source: Snyder & Shen, Fundamentals of Supply Chain Theory, 2nd ed., eq. 3.4 and 3.31.
    """
    _not_negative(demand=demand, order_cost=order_cost)
    _positive(holding=holding)
    if making_rate is not None:
        if not demand < making_rate:
            raise ValueError(f"making {making_rate} cannot keep up with a demand of {demand}")
        holding *= 1 - demand / making_rate
    return math.sqrt(2 * order_cost * demand / holding)


@dataclass(frozen=True)
class DiscountedOrder:
    """The best quantity, the tier (0 is the plain price) and what a unit of time costs, goods included."""

    quantity: float
    tier: int
    cost: float


def discounted_order_quantity(
    demand: float,
    order_cost: float,
    holding_rate: float,
    tiers: Sequence[tuple[float, float]],
    *,
    incremental: bool = False,
) -> DiscountedOrder:
    """Return the economic order quantity when a unit's price falls with the quantity ordered.

    `tiers` are (from quantity, price), the first from 0, quantities rising and prices falling;
    `holding_rate` is the share of its price that holding a unit costs. All-units: the whole order has the
    tier's price, a break itself included, so the optimum may lie on a break. Incremental: only what is
    beyond a break has its price. Source: Snyder & Shen, 2nd ed., section 3.4 (all-units eq. 3.18-3.19).
    """
    _positive(demand=demand, order_cost=order_cost, holding_rate=holding_rate)
    if not tiers or tiers[0][0] != 0:
        raise ValueError("the first price has to hold from 0")
    _positive(price=tiers[-1][1])
    for (start, price), (later, lower) in zip(tiers, tiers[1:], strict=False):
        if not (start < later and lower < price):
            raise ValueError("from one tier to the next quantities rise and prices fall")
    reckon = _incremental if incremental else _all_units
    return min(reckon(demand, order_cost, holding_rate, tiers), key=lambda order: order.cost)


def _all_units(demand, order_cost, holding_rate, tiers):
    for tier, (start, price) in enumerate(tiers):
        end = tiers[tier + 1][0] if tier + 1 < len(tiers) else math.inf
        holding = holding_rate * price
        quantity = max(start, economic_order_quantity(demand, order_cost, holding))
        # Beyond its own tier a quantity is cheaper still in the next one.
        if quantity < end:
            yearly = order_cost * demand / quantity + holding * quantity / 2 + price * demand
            yield DiscountedOrder(quantity, tier, yearly)


def _incremental(demand, order_cost, holding_rate, tiers):
    extra = 0.0
    for tier, (start, price) in enumerate(tiers):
        if tier:
            # What an order pays above this tier's price for the goods before the break.
            extra += start * (tiers[tier - 1][1] - price)
        end = tiers[tier + 1][0] if tier + 1 < len(tiers) else math.inf
        holding = holding_rate * price
        quantity = economic_order_quantity(demand, order_cost + extra, holding)
        if start <= quantity < end:
            fixed = (order_cost + extra) * demand / quantity
            yearly = fixed + holding * quantity / 2 + holding_rate * extra / 2 + price * demand
            yield DiscountedOrder(quantity, tier, yearly)


# -- when ------------------------------------------------------------------------------------------


def safety_stock(
    service: float,
    *,
    lead_time: float,
    demand_sd: float = 0,
    demand: float = 0,
    lead_time_sd: float = 0,
) -> float:
    """Return z·√(L·σd² + d²·σL²): what covers a share `service` of lead times beyond the mean use.

    `demand` and `demand_sd` are per period, `lead_time` and its sd in the same periods, independent of
    each other; service is per order cycle, from .5 to below 1. Leave out a spread that is not there.
    Source: Stevenson, Operations Management, ch. 12.
    """
    if not 0.5 <= service < 1:
        raise ValueError(f"service is a share from 0.5 to below 1, not {service}")
    _not_negative(
        lead_time=lead_time, demand_sd=demand_sd, demand=demand, lead_time_sd=lead_time_sd
    )
    spread = math.hypot(math.sqrt(lead_time) * demand_sd, demand * lead_time_sd)
    return NormalDist().inv_cdf(service) * spread


def reorder_point(
    demand: float,
    lead_time: float,
    *,
    service: float = 0.95,
    demand_sd: float = 0,
    lead_time_sd: float = 0,
) -> float:
    """Return d·L plus the safety stock: order when what is on hand and on order comes down to it.

    Units and source as for `safety_stock`.
    """
    spare = safety_stock(
        service,
        lead_time=lead_time,
        demand_sd=demand_sd,
        demand=demand,
        lead_time_sd=lead_time_sd,
    )
    return demand * lead_time + spare


@dataclass(frozen=True)
class Level:
    """A reorder point read from a history: None, never 0, while the history is too short for one.

    `safety_stock` is what it holds beyond the mean use in a lead time; `resampled` tells that it is a
    quantile of resampled lead times and not the formula for smooth demand.
    """

    history: History
    reorder_point: float | None
    safety_stock: float | None
    resampled: bool

    @property
    def too_short(self) -> bool:
        return self.reorder_point is None


def level_from_history(
    usage: Sequence[float], lead_time: float, *, service: float = 0.95, lead_time_sd: float = 0
) -> Level:
    """Return the reorder point that a history of use per period (losses included) asks for.

    Smooth demand takes the formula of `reorder_point`; all other classes are too far from normal and
    take `resampling.reorder_points`. Never below the mean use in a lead time.
    """
    return levels([usage], [(lead_time, lead_time_sd)], service=service)[0]


def levels(
    histories: Sequence[Sequence[float]],
    lead_times: Sequence[tuple[float, float]],
    *,
    service: float = 0.95,
) -> list[Level]:
    """Return `level_from_history` of each history over its lead time, given with its spread."""
    for lead_time, lead_time_sd in set(lead_times):
        # Refuses figures that make no sense before a history can turn out to be too short.
        safety_stock(service, lead_time=lead_time, lead_time_sd=lead_time_sd)
    histories = as_arrays(histories)
    seen = list(zip(classify_each(histories), lead_times, strict=True))
    uneven = [
        place
        for place, (history, (days, _)) in enumerate(seen)
        if history.kind is not DemandClass.SMOOTH and not history.too_short_for(days)
    ]
    drawn = reorder_points(
        [histories[place] for place in uneven],
        [lead_times[place] for place in uneven],
        service,
    )
    points = dict(zip(uneven, drawn, strict=True))
    return [
        _level(history, *span, service, points.get(place))
        for place, (history, span) in enumerate(seen)
    ]


def _level(
    history: History, lead_time: float, lead_time_sd: float, service: float, drawn: float | None
) -> Level:
    if history.too_short_for(lead_time):
        return Level(history, None, None, False)
    mean, point = history.mean * lead_time, drawn
    if point is None:
        point = reorder_point(
            history.mean,
            lead_time,
            service=service,
            demand_sd=history.sd or 0,
            lead_time_sd=lead_time_sd,
        )
    point = max(point, mean)
    return Level(history, point, point - mean, drawn is not None)


def to_order(
    reorder_point: float,
    target: float,
    *,
    on_hand: float,
    on_order: float = 0,
    planned: float = 0,
) -> float:
    """Return how much to order now, 0 when there is enough.

    What counts is on hand plus on order less what planned pours will take; at or under the reorder
    point it is brought up to the target (at least to the reorder point).
    """
    _not_negative(reorder_point=reorder_point, target=target, on_order=on_order, planned=planned)
    position = on_hand + on_order - planned
    if position > reorder_point:
        return 0.0
    return float(max(0, max(target, reorder_point) - position))


# -- once: a stall, a show --------------------------------------------------------------------------


@dataclass(frozen=True)
class Newsvendor:
    """How much to take, the share of times that it is enough, and the cost to expect of too much and
    too little."""

    quantity: float
    ratio: float
    cost: float


def newsvendor(mean: float, sd: float | None = None, *, over: float, short: float) -> Newsvendor:
    """Return how much to have for one selling day when the rest is left over.

    `over` is what one too many costs (cost less what it still fetches), `short` what one too few does
    (price less cost). The quantity is the smallest with F(S) >= short/(short + over): normal demand with
    an `sd`, Poisson (whole bags) without. Source: Snyder & Shen, 2nd ed., ch. 4.
    """
    _positive(over=over, short=short)
    ratio = short / (short + over)
    if sd is None:
        from scipy import stats

        _not_negative(mean=mean)
        quantity = float(stats.poisson.ppf(ratio, mean)) if mean else 0.0
    else:
        quantity = mean + _spread(sd) * NormalDist().inv_cdf(ratio)
    cost = newsvendor_cost(quantity, mean, sd, over=over, short=short)
    return Newsvendor(quantity, ratio, cost)


def newsvendor_cost(
    quantity: float, mean: float, sd: float | None = None, *, over: float, short: float
) -> float:
    """Return the cost to expect of leftovers and lost sales with `quantity` at hand.

    over·E[(S - D)⁺] + short·E[(D - S)⁺], from the loss function of the distribution. With Poisson demand
    the quantity must be whole. Source: as `newsvendor`.
    """
    _not_negative(over=over, short=short)
    missed = _normal_loss(quantity, mean, sd) if sd is not None else _poisson_loss(quantity, mean)
    return over * (quantity - mean + missed) + short * missed


def _normal_loss(quantity: float, mean: float, sd: float) -> float:
    if not _spread(sd):
        return max(0.0, mean - quantity)
    z = (quantity - mean) / sd
    return sd * (NormalDist().pdf(z) - z * NormalDist().cdf(-z))


def _poisson_loss(quantity: float, mean: float) -> float:
    from scipy import stats

    if quantity < 0 or quantity != int(quantity):
        raise ValueError(f"{quantity} is not a whole number of bags")
    at_least, more = stats.poisson.sf([quantity - 1, quantity], mean)
    return float(mean * at_least - quantity * more)


def _spread(sd: float) -> float:
    _not_negative(sd=sd)
    return sd


def _not_negative(**figures: float) -> None:
    for name, figure in figures.items():
        if not 0 <= figure < math.inf:
            raise ValueError(f"{name.replace('_', ' ')} cannot be {figure}")


def _positive(**figures: float) -> None:
    for name, figure in figures.items():
        if not 0 < figure < math.inf:
            raise ValueError(f"{name.replace('_', ' ')} has to be above 0, not {figure}")
