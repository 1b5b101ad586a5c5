"""What a plan comes to with every color fresh, by hand."""

import pytest

from production import plan_figures as figures
from production.evening import Layer, plan_evening

PALE = Layer("pale", "soft", 90, 10, {"plum": 0.01}, "Pale")
DARK = Layer("dark", "soft", 180, 20, {"plum": 0.02}, "Dark")
PRICES = {"soft": 0.02, "plum": 0.5}
RULES = {"prices": PRICES, "wash_cost": 0.5, "clean_cups": 1, "cold_cost": 0.1}


def test_all_fresh_costs_its_plastic_its_doses_a_wash_and_two_cold_cups():
    # 300 mL at .02, plum 1 + 4 at .5, two cups of which one is clean, two batches of cold plastic.
    assert figures.fresh_cost([PALE, DARK], **RULES) == pytest.approx(6 + 2.5 + 0.5 + 0.2)


def test_it_is_what_the_planner_itself_says_when_nothing_can_be_reused():
    strangers = [PALE, Layer("mint", "soft", 50, 10, {"mint": 0.01}, "Mint")]
    rules = RULES | {"prices": PRICES | {"mint": 1.0}}
    plan = plan_evening(strangers, [], cups=2, max_melts=5, **rules)
    assert plan.cost == pytest.approx(figures.fresh_cost(strangers, **rules))
