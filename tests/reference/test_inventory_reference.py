"""When and how much to buy, against published examples and scipy's distributions.

`data/inventory.csv` names the source of every row. Stevenson's examples use a table's z; both his
figure and the exact one are checked, each to the digits it has.
"""

import csv
import json
import math
import random
from fractions import Fraction
from pathlib import Path

import pytest
from scipy import stats

from inventory import replenish, resampling

with open(Path(__file__).parent / "data" / "inventory.csv", encoding="utf-8", newline="") as file:
    ROWS = {row["id"]: row for row in csv.DictReader(file)}


def example(name):
    return json.loads(ROWS[name]["inputs_json"]), json.loads(ROWS[name]["outputs_json"])


def near(value, rel=1e-9):
    return pytest.approx(value, rel=rel)


# -- how much --------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["eoq_3.1", "epq"])
def test_economic_order_quantity_is_the_published_one(name):
    given, wanted = example(name)
    quantity = replenish.economic_order_quantity(
        given["D"], given["K"], given["h"], making_rate=given.get("mu")
    )
    assert quantity == near(wanted["Q"])


@pytest.mark.parametrize(("name", "incremental"), [("disc_all", False), ("disc_incr", True)])
def test_quantity_with_price_breaks_is_the_published_one(name, incremental):
    given, wanted = example(name)
    order = replenish.discounted_order_quantity(
        given["D"],
        given["K"],
        given["i"],
        list(zip(given["breaks"], given["unit_cost"], strict=True)),
        incremental=incremental,
    )
    assert order.quantity == near(wanted["Q"])
    assert order.tier == wanted["tier"]
    assert order.cost == near(wanted["cost"])


# -- when ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", [name for name in ROWS if name.startswith("z_")])
def test_safety_stock_of_one_unit_of_spread_is_the_normal_quantile(name):
    given, wanted = example(name)
    stock = replenish.safety_stock(given["service"], lead_time=1, demand_sd=1)
    assert stock == pytest.approx(wanted["z"], abs=1e-12)


def test_spread_of_a_year_is_brought_to_a_lead_time_of_a_month():
    """Snyder & Shen example 5.5: the service is p/(p + h), from penalty and holding cost."""
    given, wanted = example("rq_ss_5.5")
    lead_time = float(Fraction(given["L"]))
    service = given["p"] / (given["p"] + given["h"])
    figures = {"demand_sd": given["sd"], "lead_time": lead_time}
    point = replenish.reorder_point(given["D"], service=service, **figures)
    assert point == near(wanted["r"])
    assert replenish.safety_stock(service, **figures) == near(wanted["z"] * wanted["sigma_L"])


@pytest.mark.parametrize("name", ["ss_demand", "ss_lt", "ss_both"])
def test_safety_stock_and_reorder_point_are_the_textbook_ones(name):
    given, wanted = example(name)
    figures = {
        "lead_time": given["LT"],
        "demand_sd": given.get("sigma_d", 0),
        "demand": given["d"],
        "lead_time_sd": given.get("sigma_LT", 0),
    }
    spare = replenish.safety_stock(given["service"], **figures)
    assert spare == near(wanted.get("SS_exact_z", wanted["SS"]), rel=1e-6)
    point = replenish.reorder_point(service=given["service"], **figures)
    assert point == near(given["d"] * given["LT"] + spare)
    # His printed figures stand on z from a table: 1.28 for 1.2816.
    assert point == pytest.approx(wanted["ROP"], abs=0.01)


def test_lead_time_demand_given_as_a_whole_is_one_period():
    given, wanted = example("ss_st8")
    figures = {"demand_sd": given["sigma_dLT"], "lead_time": 1}
    spare = replenish.safety_stock(given["service"], **figures)
    assert spare == near(wanted["SS_exact_z"], rel=1e-6)
    assert spare == pytest.approx(wanted["SS"], abs=0.005)
    point = replenish.reorder_point(given["mean_dLT"], service=given["service"], **figures)
    assert point == pytest.approx(wanted["ROP"], abs=0.005)


def test_safety_stock_agrees_with_scipy_on_random_figures():
    pick = random.Random(31)
    for _ in range(500):
        service, lead_time = pick.uniform(0.5, 0.9999), pick.uniform(0.1, 60)
        demand, demand_sd, lead_time_sd = (pick.uniform(0, 90) for _ in range(3))
        spread = math.sqrt(lead_time * demand_sd**2 + demand**2 * lead_time_sd**2)
        mean = demand * lead_time
        point = replenish.reorder_point(
            demand, lead_time, service=service, demand_sd=demand_sd, lead_time_sd=lead_time_sd
        )
        assert point == near(stats.norm.ppf(service, mean, spread))


# -- classes of demand -----------------------------------------------------------------------------


def test_published_series_is_lumpy_under_our_conventions():
    """Periods ÷ uses and the population variance; the other conventions give the same class."""
    given, _ = example("croston_productC")
    _, wanted = example("sbc_productC")
    history = replenish.classify_demand(given["y"])
    assert history.adi == pytest.approx(wanted["ADI_periods_per_demand"], abs=1e-6)
    assert history.cv2 == pytest.approx(wanted["CV2_population"], abs=1e-6)
    assert history.kind == wanted["class"]
    assert history.demands == len(example("croston_productC")[1]["q"])


def test_cut_offs_are_the_published_ones_and_belong_to_the_upper_class():
    """Which side takes equality differs between sources; ours is the one noted in the data."""
    _, wanted = example("sbc_cutoffs")
    # 33 periods with 25 uses have an interval of exactly 1.32; 1 ± .7 has a CV² of .49.
    assert wanted["ADI"] == 33 / 25
    assert replenish.classify_demand([4] * 25 + [0] * 8).kind == "intermittent"
    assert replenish.classify_demand([4] * 26 + [0] * 8).kind == "smooth"
    uneven = [17 / 8, 3 / 8] * 20
    assert replenish.classify_demand(uneven).cv2 == near(wanted["CV2"])
    for step, kind in [(1e-6, "erratic"), (-1e-6, "smooth")]:
        spread = math.sqrt(wanted["CV2"]) + step
        assert replenish.classify_demand([1 + spread, 1 - spread] * 20).kind == kind


# -- resampled lead times --------------------------------------------------------------------------


def test_resampled_quantile_agrees_with_the_binomial():
    """Use of one or none in a period, resampled over n periods, is exactly Binomial(n, share).

    The draws place the quantile's own probability within five standard errors."""
    pick = random.Random(47)
    for _ in range(500):
        periods, lead_time = pick.randint(5, 60), pick.randint(1, 12)
        uses = pick.randint(1, periods - 1)
        service = pick.uniform(0.6, 0.99)
        found = replenish.lead_time_quantile(
            [1] * uses + [0] * (periods - uses), lead_time, service
        )
        error = 5 * math.sqrt(service * (1 - service) / resampling.DRAWS)
        low, high = stats.binom.ppf(
            [service - error, min(service + error, 1)], lead_time, uses / periods
        )
        assert low <= found <= high


def test_resampled_quantile_of_steady_use_nears_the_formula():
    """Over thirty periods sums are nearly normal (central limit): both ways agree to a percent."""
    pick = random.Random(5)
    usage = [pick.uniform(4, 6) for _ in range(400)]
    history = replenish.classify_demand(usage)
    found = replenish.lead_time_quantile(usage, 30, 0.95, lead_time_sd=2)
    formula = replenish.reorder_point(
        history.mean, 30, service=0.95, demand_sd=history.sd, lead_time_sd=2
    )
    assert found == near(formula, rel=0.01)


# -- once ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["nv_4.3", "nv_poisson"])
def test_newsvendor_quantity_and_cost_are_the_published_ones(name):
    given, wanted = example(name)
    best = replenish.newsvendor(given["mu"], given.get("sigma"), over=given["h"], short=given["p"])
    assert best.quantity == near(wanted["S"])
    assert best.cost == near(wanted["g"])


def test_newsvendor_from_prices_is_the_published_one():
    given, wanted = example("nv_4.2")
    best = replenish.newsvendor(
        given["mu"],
        given["sigma"],
        over=given["c"] - given["v"],
        short=given["r"] - given["c"],
    )
    assert best.quantity == near(wanted["S"])
    # Profit is that of selling exactly what is asked for, less the cost of missing it.
    assert (given["r"] - given["c"]) * given["mu"] - best.cost == near(wanted["profit"])


def test_cost_away_from_the_best_quantity_is_the_published_one():
    given, wanted = example("nv_4.1cost")
    cost = replenish.newsvendor_cost(
        given["S"], given["mu"], given["sigma"], over=given["h"], short=given["p"]
    )
    assert cost == near(wanted["g"])
    given, wanted = example("loss_1.0")
    assert replenish.newsvendor_cost(given["z"], 0, 1, over=0, short=1) == near(wanted["n"])
    assert replenish.newsvendor_cost(given["z"], 0, 1, over=1, short=0) == near(wanted["nbar"])


def test_newsvendor_agrees_with_scipy_on_random_figures():
    pick = random.Random(53)
    for _ in range(500):
        mean, sd = pick.uniform(1, 200), pick.uniform(0.1, 40)
        over, short = pick.uniform(0.05, 5), pick.uniform(0.05, 5)
        ratio = short / (over + short)
        normal = replenish.newsvendor(mean, sd, over=over, short=short)
        assert normal.quantity == near(stats.norm.ppf(ratio, mean, sd))
        bags = replenish.newsvendor(mean, over=over, short=short).quantity
        assert stats.poisson.cdf(bags - 1, mean) < ratio <= stats.poisson.cdf(bags, mean)
