"""Three simulated years of a lumpy shop: how often does the buying list let an item run out, and with how
much stock?

Run with `pytest tests/bench/test_buying_policy.py -s`; it takes a few minutes. The shop is invented: 240
items, poured with on two or three evenings a week, each in some evenings only and by uneven amounts; five
suppliers whose deliveries come when they come. What is bought is decided after each evening by the app's own
calculation (inventory/outlook.py) from nothing but the use of the last year, the supplier's stated days and
its deliveries seen so far. What cannot be poured for lack of stock waits for the next delivery, as an open order.

Beside it stands the plain rule of the workshop, "buy again at four weeks' use", with the four weeks scaled
until it runs out just as seldom. Both buy as much at once, from the same suppliers, in the same packs; the
plain rule is even told the mean use of all the years beforehand.
"""

import math
from dataclasses import dataclass
from datetime import date, timedelta

import numpy
import pytest

from inventory import lead_times, outlook
from inventory.outlook import Lead, Stock

ITEMS = 240
HISTORY = 365
DAYS = 3 * 365
SEEDS = (7, 19, 2026)
SERVICES = (0.9, 0.95, 0.98)
DAY_ONE = date(2020, 1, 6)
#: Chance of an evening at the bench, Monday to Sunday.
EVENINGS = (0.1, 0.45, 0.2, 0.45, 0.55, 0.65, 0.3)
#: Stated days and their spread, supplier by supplier.
SUPPLIERS = ((3, 0.6), (6, 1.5), (9, 2.0), (14, 3.0), (21, 5.0))
pytestmark = pytest.mark.bench


@dataclass
class Shop:
    """What the years bring: use wanted on each day (rows: days, the first year included), and each
    supplier's next delivery times."""

    wanted: numpy.ndarray
    pack: numpy.ndarray
    seller: numpy.ndarray
    takes: numpy.ndarray

    @property
    def weekly(self) -> numpy.ndarray:
        return self.wanted.mean(axis=0) * 7


def invent(seed: int) -> Shop:
    pick = numpy.random.default_rng(seed)
    total = HISTORY + DAYS
    evening = pick.random(total) < numpy.resize(EVENINGS, total)
    popular = pick.uniform(0.06, 0.7, ITEMS)
    size = pick.uniform(2, 40, ITEMS)
    spread = pick.uniform(0.4, 1.1, ITEMS)
    amounts = size * numpy.exp(pick.normal(-(spread**2) / 2, spread, (total, ITEMS)))
    used = evening[:, None] & (pick.random((total, ITEMS)) < popular)
    wanted = numpy.where(used, numpy.round(amounts, 2), 0)
    # A pack lasts one to three weeks.
    pack = numpy.ceil(wanted.mean(axis=0) * 7 * pick.uniform(1, 3, ITEMS))
    seller = pick.integers(len(SUPPLIERS), size=ITEMS)
    stated, apart = numpy.array(SUPPLIERS).T
    takes = numpy.rint(pick.normal(stated[seller], apart[seller], (total, ITEMS)))
    return Shop(wanted, pack, seller, numpy.maximum(takes, 1).astype(int))


@dataclass
class Run:
    """What came of one rule: cycles from delivery to delivery, those in which something was missing, and
    the mean stock on hand of all items together, in their unit."""

    cycles: int = 0
    short: int = 0
    stock: float = 0.0

    @property
    def service(self) -> float:
        return 1 - self.short / self.cycles


def live(shop: Shop, rule, full: numpy.ndarray) -> Run:
    """Three years by a rule, which says how much of the items used last evening to order now.

    `full`: what is there at the start."""
    run = Run()
    on_hand, used = full.astype(float), shop.wanted.copy()
    owed = numpy.zeros(ITEMS)
    coming: list[list[tuple[int, float]]] = [[] for _ in range(ITEMS)]
    held = numpy.zeros(ITEMS)
    for day in range(HISTORY, HISTORY + DAYS):
        for item in range(ITEMS):
            came = [due for due in coming[item] if due[0] <= day]
            if came:
                coming[item] = [due for due in coming[item] if due[0] > day]
                on_hand[item] += sum(quantity for _, quantity in came)
                run.cycles += 1
                run.short += bool(owed[item])
        asked = numpy.flatnonzero(shop.wanted[day - 1])
        on_order = [sum(quantity for _, quantity in coming[item]) for item in asked]
        stocks = on_hand[asked], numpy.array(on_order), owed[asked]
        for item, buy in zip(asked, rule(day, asked, *stocks, used), strict=True):
            if buy > 0:
                packs = math.ceil(buy / shop.pack[item])
                coming[item].append((day + shop.takes[day, item], packs * shop.pack[item]))
        wanted = owed + shop.wanted[day]
        used[day] = numpy.minimum(wanted, on_hand)
        owed = wanted - used[day]
        on_hand -= used[day]
        held += on_hand
    run.stock = float(held.sum() / DAYS)
    return run


def by_the_list(shop: Shop, service: float):
    """The app's own rule."""
    taken: dict[int, list[int]] = {n: [] for n in range(len(SUPPLIERS))}
    waiting: list[tuple[int, int, int]] = []

    def rule(day, asked, on_hand, on_order, owed, used):
        for one in [one for one in waiting if one[0] <= day]:
            waiting.remove(one)
            taken[one[1]].append(one[2])
        spread = {n: lead_times.seen(seen) for n, seen in taken.items()}
        today = DAY_ONE + timedelta(days=day)
        items = []
        for item, here, ordered, needed in zip(asked, on_hand, on_order, owed, strict=True):
            seller = int(shop.seller[item])
            seen = spread[seller]
            lead = Lead(SUPPLIERS[seller][0], seen.sd if seen else 0, seen.count if seen else 0)
            stock = Stock(float(here), float(needed), ((today, float(ordered)),))
            items.append((used[day - HISTORY : day, item], stock, lead))
        found = [one.buy for one in outlook.look_at_each(items, service=service)]
        for item, buy in zip(asked, found, strict=True):
            if buy > 0:
                took = int(shop.takes[day, item])
                waiting.append((day + took, int(shop.seller[item]), took))
        return found

    return rule


def by_weeks(shop: Shop, weeks: float):
    """Buy at so many weeks' use, up to `outlook.WEEKS` more."""
    point = shop.weekly * weeks

    def rule(day, asked, on_hand, on_order, owed, used):
        position = on_hand + on_order - owed
        full = point[asked] + outlook.WEEKS * shop.weekly[asked]
        return numpy.where(position <= point[asked], full - position, 0)

    return rule


def as_seldom(shop: Shop, service: float) -> tuple[float, Run]:
    """The least weeks by which the plain rule reaches a service, to a hundredth."""
    low, high = 0.0, 16.0
    while high - low > 0.01:
        weeks = (low + high) / 2
        run = live(shop, by_weeks(shop, weeks), shop.weekly * (weeks + outlook.WEEKS))
        low, high = (low, weeks) if run.service >= service else (weeks, high)
    return high, live(shop, by_weeks(shop, high), shop.weekly * (high + outlook.WEEKS))


@pytest.mark.parametrize("service", SERVICES)
def test_the_list_keeps_its_promise_with_less_stock_than_a_fixed_minimum(service):
    for seed in SEEDS:
        shop = invent(seed)
        # Six weeks of use to begin with; the first cycles soon forget it.
        ours = live(shop, by_the_list(shop, service), shop.weekly * 6)
        weeks, plain = as_seldom(shop, ours.service)
        print(
            f"\nseed {seed}, asked for {service:.0%}: {ours.service:.1%} of {ours.cycles} cycles of "
            f"{ITEMS} items; {1 - ours.stock / plain.stock:.0%} less stock than a fixed minimum of "
            f"{weeks:.1f} weeks, which reaches {plain.service:.1%}"
        )
        assert abs(ours.service - service) <= 0.02
        assert plain.service >= ours.service
        assert ours.stock < plain.stock
