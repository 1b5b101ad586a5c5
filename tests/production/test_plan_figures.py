"""What a plan comes to, by hand: all fresh, what the shelf must give, and the cups in use."""

import pytest

from production import plan_figures as figures
from production.evening import Fill, Layer, plan_evening
from production.plan_layers import Piece, Step

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


def test_the_shelf_gives_what_no_source_brings():
    fills = {
        "pale": Fill(100, {}, 100, {"plum": 1.0}, 1, True),
        "dark": Fill(200, {"pale": 10}, 190, {"plum": 3.9}, 2, False, "pale"),
    }
    assert figures.needs({"pale": PALE, "dark": DARK}, fills) == ({"soft": 290}, {"plum": 4.9})


def _steps(*pairs):
    steps, at = [], 0
    for name, mixing, shooting in pairs:
        steps.append(Step(name, at, mixing, shooting))
        at += mixing + shooting
    return steps


def test_a_cup_goes_on_in_its_row_and_one_that_waits_keeps_its_own():
    third = Layer("third", "soft", 90, 10, {"plum": 0.03}, "Third")
    pieces = [
        Piece(name, (), (layer,))
        for name, layer in (("Pale", PALE), ("Dark", DARK), ("Third", third))
    ]
    fills = {
        "pale": Fill(100, {}, 100, {}, 1, True),
        "dark": Fill(200, {}, 200, {}, 1, True),
        "third": Fill(100, {"pale": 10}, 90, {}, 2, False, "pale"),
    }
    steps = _steps(("Pale", 10, 20), ("Dark", 10, 20), ("Third", 10, 20))
    assert figures.cups_in_use(pieces, steps, fills) == [
        figures.CupSpan(0, "pale", 0, 30, 60),
        figures.CupSpan(1, "dark", 30, 60, 60),
        figures.CupSpan(0, "third", 60, 90, 90),
    ]


def test_two_layers_are_mixed_one_after_the_other_into_two_cups():
    belly = Layer("belly", "soft", 90, 10, {}, "Pale")
    spans = figures.cups_in_use(
        [Piece("Pale", (), (PALE, belly))],
        _steps(("Pale", 20, 30)),
        {key: Fill(100, {}, 100, {}, 1, True) for key in ("pale", "belly")},
    )
    assert [(span.row, span.start, span.end) for span in spans] == [(0, 0, 50), (1, 10, 50)]
