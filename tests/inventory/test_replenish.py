"""Reorder points, order quantities and classes of demand that admit what they don't know."""

import math
import random
import subprocess
import sys

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory import replenish

# -- history ---------------------------------------------------------------------------------------


def test_item_never_used_has_no_class_and_no_reorder_point():
    for usage in ([], [0], [0] * 90):
        history = replenish.classify_demand(usage)
        assert history.kind == "no use yet"
        assert (history.adi, history.cv2, history.mean) == (None, None, 0)
        assert history.too_short
        level = replenish.level_from_history(usage, 7)
        assert level.too_short
        assert level.reorder_point is None and level.safety_stock is None


def test_item_used_once_has_an_even_size_and_is_too_short_to_tell():
    assert replenish.classify_demand([3]).kind == "smooth"
    once = replenish.classify_demand([0, 0, 3, 0])
    assert (once.kind, once.adi, once.cv2) == ("intermittent", 4, 0)
    assert once.too_short


def test_history_has_to_have_seen_two_lead_times():
    usage = [2, 3, 2, 2, 3, 2] * 4
    assert not replenish.level_from_history(usage, 12).too_short
    assert replenish.level_from_history(usage, 13).too_short


def test_smooth_use_takes_the_formula():
    """Mean 5, sd 1 over 9 days at 95 %: 45 + 1.644854 × 3, the sd with n - 1 for 101 days."""
    usage = [4, 6] * 50 + [5]
    level = replenish.level_from_history(usage, 9, service=0.95)
    assert not level.resampled
    assert level.reorder_point == pytest.approx(45 + 1.6448536269514722 * 3)
    assert level.safety_stock == pytest.approx(level.reorder_point - 45)


@pytest.mark.parametrize(("service", "point"), [(0.95, 112.2), (0.8, 74.6)])
def test_lumpy_use_is_ordered_for_above_what_a_lead_time_takes(service, point):
    """40 once in ten days: a lead time of 7 days takes none in 47.8 % of cases, 40 in 37.2 %, 80 in 12.4 %
    (binomial). The use that crosses the point takes stock under it by anything up to 40, all alike likely.
    So .8 is reached at 40 + (.8 - .478) ÷ .372 × 40 = 74.6, and .95 at 80 + (.95 - .850) ÷ .124 × 40.
    """
    # A long history, which leaves next to nothing open.
    usage = [0, 0, 0, 40, 0, 0, 0, 0, 0, 0] * 500
    level = replenish.level_from_history(usage, 7, service=service)
    assert level.resampled
    assert level.reorder_point == pytest.approx(point, rel=0.03)


def test_few_uses_are_ordered_for_earlier_than_many_and_uneven_ones_still_more_so():
    """Nine amounts say less about the tenth than forty-five of the same kind."""

    def earlier(usage):
        few, many = (replenish.level_from_history(usage * times, 5) for times in (3, 15))
        return few.reorder_point / many.reorder_point

    even = earlier([0, 9, 0, 0, 9, 0, 0, 9, 0, 0])
    uneven = earlier([0, 3, 0, 0, 9, 0, 0, 30, 0, 0])
    assert 1.02 < even < uneven


def test_items_of_a_list_get_what_each_would_get_alone():
    pick = random.Random(3)
    items = []
    for _ in range(40):
        usage = [pick.choice([0, 0, 0, 1.5, 8, 20]) for _ in range(pick.choice([5, 60, 365]))]
        items.append((usage, (pick.choice([3, 9.5]), pick.choice([0, 2]))))
    together = replenish.levels([usage for usage, _ in items], [lead for _, lead in items])
    for (usage, (days, spread)), level in zip(items, together, strict=True):
        alone = replenish.level_from_history(usage, days, lead_time_sd=spread)
        assert (alone.history.kind, alone.too_short) == (level.history.kind, level.too_short)
        if not level.too_short:
            assert alone.reorder_point == pytest.approx(level.reorder_point)


def test_same_history_always_gives_the_same_reorder_point():
    usage = [random.Random(8).choice([0, 0, 0, 5.5, 21]) for _ in range(80)]
    usage[3:6] = [7, 0, 30]
    first = replenish.level_from_history(usage, 5)
    assert first == replenish.level_from_history(list(usage), 5)


def test_reorder_point_is_never_under_the_mean_use():
    """One pour in thirty days takes 300: 100 in ten days, though most lead times take nothing."""
    usage = ([0] * 29 + [300]) * 4
    level = replenish.level_from_history(usage, 10, service=0.5)
    assert level.reorder_point >= 100
    assert level.safety_stock == pytest.approx(level.reorder_point - 100)


@settings(deadline=None, max_examples=60)
@given(st.lists(st.floats(0, 1e9), max_size=60), st.floats(0, 40), st.floats(0, 9))
def test_any_history_gives_a_finite_level_or_says_it_is_too_short(usage, lead_time, lead_time_sd):
    level = replenish.level_from_history(usage, lead_time, lead_time_sd=lead_time_sd)
    if level.too_short:
        assert level.history.too_short_for(lead_time)
    else:
        assert math.isfinite(level.reorder_point)
        assert level.safety_stock >= 0


@pytest.mark.parametrize("bad", [-1, math.nan, math.inf])
def test_use_that_cannot_have_happened_is_refused(bad):
    with pytest.raises(ValueError, match="used"):
        replenish.classify_demand([1, bad, 2])


def test_open_orders_and_planned_pours_are_netted_before_buying():
    assert replenish.to_order(20, 60, on_hand=15) == 45
    assert replenish.to_order(20, 60, on_hand=15, on_order=10) == 0
    assert replenish.to_order(20, 60, on_hand=15, on_order=10, planned=12) == 47
    assert replenish.to_order(20, 0, on_hand=5) == 15


@pytest.mark.parametrize("service", [0.49, 1, 1.2, math.nan])
def test_service_beyond_reason_is_refused(service):
    with pytest.raises(ValueError, match="service"):
        replenish.safety_stock(service, lead_time=3, demand_sd=1)
    with pytest.raises(ValueError, match="service"):
        replenish.level_from_history([1] * 40, 3, service=service)


def test_order_quantity_refuses_what_has_no_answer():
    assert replenish.economic_order_quantity(0, 8, 0.2) == 0
    with pytest.raises(ValueError, match="holding"):
        replenish.economic_order_quantity(10, 8, 0)
    with pytest.raises(ValueError, match="keep up"):
        replenish.economic_order_quantity(10, 8, 1, making_rate=10)
    for tiers in ([], [(5, 3)], [(0, 3), (10, 3)], [(0, 3), (0, 2)]):
        with pytest.raises(ValueError, match="price|tier"):
            replenish.discounted_order_quantity(100, 8, 0.2, tiers)


@pytest.mark.parametrize("incremental", [False, True])
@pytest.mark.parametrize("seed", range(25))
def test_no_other_quantity_costs_less_than_the_discounted_order(seed, incremental):
    """Yearly cost reckoned from what an order of each quantity really pays."""
    pick = random.Random(seed)
    demand, order_cost, rate = pick.uniform(50, 900), pick.uniform(2, 60), pick.uniform(0.1, 0.4)
    tiers = [(0, 10.0), (pick.randint(20, 90), 9.5), (pick.randint(100, 300), 8.5)]
    best = replenish.discounted_order_quantity(
        demand, order_cost, rate, tiers, incremental=incremental
    )

    def yearly(quantity):
        paid = quantity * [price for start, price in tiers if start <= quantity][-1]
        if incremental:
            ends = [*(start for start, _ in tiers[1:]), math.inf]
            paid = sum(
                max(0, min(quantity, end) - start) * price
                for (start, price), end in zip(tiers, ends, strict=True)
            )
        return (order_cost + paid) * demand / quantity + rate * paid / 2

    assert best.cost == pytest.approx(yearly(best.quantity))
    assert all(best.cost <= yearly(quantity) * (1 + 1e-12) for quantity in range(1, 1200))


def test_reading_the_module_loads_neither_numpy_nor_scipy():
    code = "import sys, inventory.replenish; print(sorted({'numpy', 'scipy', 'django'} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
