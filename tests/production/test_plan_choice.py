"""The planner asked in several ways: larger batches, each grade's own melts, cups of several sizes.

The costs are reckoned by hand; that no plan is cheaper is held against the brute force of tests/reference
through the planner's own tests."""

import dataclasses

import pytest

from production import evening, plan_choice, plan_cups
from production.evening_terms import EveningPlan, Jar, Layer
from production.plan_layers import Piece, Step

CUPS = [plan_cups.Cup("c1", 400), plan_cups.Cup("c2", 400)]
PRICES = {"soft": 0.02, "hard": 0.02, "soot": 0.5}
TERMS = plan_choice.Terms(
    prices=PRICES,
    wash_cost=0.0,
    cold_cost=2.0,
    cups=CUPS,
    melts={"soft": 5, "hard": 5},
    tolerance={},
    trace={},
    base_share={},
)


def layer(key, dose=0.0, *, shots=90, heel=10, grade="soft"):
    return Layer(key, grade, shots, heel, {"soot": dose} if dose else {}, key)


def choose(layers, jars=(), *, seconds=5.0, order=None, **changes):
    terms = dataclasses.replace(TERMS, base_share={one.key: 1.0 for one in layers}, **changes)
    pieces = [
        Piece(key, (), tuple(one for one in layers if one.pattern == key))
        for key in dict.fromkeys(one.pattern for one in layers)
    ]

    def timeline(order):
        return [Step(piece.pattern, 30 * n, 10, 20) for n, piece in enumerate(order)]

    return plan_choice.Chooser(pieces, jars, terms, timeline).choose(seconds, order=order)


# --- Batches mixed larger ----------------------------------------------------


def test_a_batch_is_mixed_larger_where_that_spares_cold_plastic():
    found = choose([layer("pale", 0.01, shots=150), layer("dark", 0.02, shots=90)])
    # Pale is 160, dark 100 of which 10 is pale's heel: 90 mL more go on.
    assert found.extra_ml == {"pale": pytest.approx(90)}
    # A cold cup less saves 2.00. Without it dark would go first, and its heel bring .1 of soot more.
    assert found.saved == pytest.approx(2.0 - 0.1 * 0.5)
    assert found.plan.fills["dark"].fresh_ml == pytest.approx(0, abs=1e-6)
    assert found.plan.proven_optimal


def test_no_batch_is_mixed_larger_than_a_cup_or_where_nobody_wants_it():
    layers = [layer("pale", 0.01, shots=150), layer("dark", 0.02, shots=90)]
    small = [plan_cups.Cup("c1", 200), plan_cups.Cup("c2", 200)]
    assert choose(layers, cups=small).extra_ml == {}
    assert choose(layers, larger=False).extra_ml == {}


def test_what_saves_next_to_nothing_is_not_worth_a_fuller_cup():
    found = choose([layer("pale", 0.01, shots=150), layer("dark", 0.02)], cold_cost=0.01)
    assert found.extra_ml == {} and found.saved == 0
    assert found.plan.proven_optimal


# --- Melts -------------------------------------------------------------------


def test_each_grade_keeps_its_own_limit_of_melts():
    layers = [layer("pale", 0.01), layer("stiff", 0.01, grade="hard")]
    jars = [Jar("old soft", "soft", 50, {}, 3), Jar("old hard", "hard", 50, {}, 3)]
    found = choose(layers, jars, melts={"soft": 5, "hard": 3}, larger=False)
    assert found.plan.fills["pale"].sources == {"old soft": pytest.approx(50)}
    assert found.plan.fills["stiff"].sources == {}
    assert [found.plan.fills[key].melts for key in ("pale", "stiff")] == [4, 1]
    assert found.melts_together == 0


def test_a_jar_of_the_stricter_grade_goes_in_as_often_as_that_grade_takes():
    layers = [
        layer("stiff", 0.01, grade="hard"),
        layer("stiffer", 0.02, grade="hard"),
        layer("pale"),
    ]
    jars = [Jar("hard", "hard", 40, {}, 1)]
    found = choose(layers, jars, melts={"soft": 9, "hard": 2}, larger=False)
    assert {fill.melts for fill in found.plan.fills.values()} <= {1, 2}
    assert sum(fill.sources.get("hard", 0) for fill in found.plan.fills.values()) == 40


def test_a_chain_that_begins_fresh_and_is_too_long_for_its_grade_is_planned_again():
    hard = [layer(f"stiff {n}", 0.01 * n, grade="hard") for n in range(1, 4)]
    found = choose([*hard, layer("pale")], melts={"soft": 9, "hard": 2}, larger=False)
    assert found.melts_together == 2
    assert max(found.plan.fills[one.key].melts for one in hard) == 2


# --- Cups --------------------------------------------------------------------


def test_cups_too_small_for_the_cheapest_plan_are_planned_without():
    # In this order pale waits in the one large cup until dark is mixed, and the stiff one needs it.
    layers = [
        layer("pale", 0.01, shots=290),
        layer("stiff", shots=290, grade="hard"),
        layer("dark", 0.02, shots=290),
    ]
    cups = [plan_cups.Cup("large", 400), plan_cups.Cup("small", 120)]
    found = choose(layers, cups=cups, order=["pale", "stiff", "dark"], larger=False)
    assert found.few_cups == 1
    assert set(found.seats.values()) == {"large"}
    # What is left cannot wait, so pale's heel goes nowhere.
    assert found.plan.fills["dark"].sources == {}
    assert not found.plan.proven_optimal and found.plan.gap > 0
    free = choose(layers, order=["pale", "stiff", "dark"], larger=False)
    assert free.plan.fills["dark"].sources == {"pale": pytest.approx(10)}


def test_where_a_laminate_needs_every_cup_nothing_waits():
    back = dataclasses.replace(layer("back", shots=290, grade="hard"), pattern="duo")
    belly = dataclasses.replace(layer("belly", shots=90, grade="hard"), pattern="duo")
    layers = [layer("pale", 0.01, shots=290), back, belly, layer("dark", 0.02)]
    order = [one.key for one in layers]
    cups = [plan_cups.Cup("large", 400), *(plan_cups.Cup(f"small {n}", 120) for n in (1, 2))]
    found = choose(layers, cups=cups, order=order, larger=False)
    assert found.few_cups == 2
    assert (found.seats["back"], found.seats["belly"][:5]) == ("large", "small")
    assert found.plan.fills["dark"].sources == {}


def test_melts_are_told_from_the_jars_as_they_are():
    layers = [layer("pale"), layer("dark", 0.01)]
    fill = evening.Fill(100, {"jar": 50}, 50, {}, 9, True)
    after = evening.Fill(100, {"pale": 10}, 90, {}, 9, False, "pale")
    plan = EveningPlan(("pale", "dark"), {"pale": fill, "dark": after}, 1.0, True, 0.0)
    fills = plan_choice.real_melts(layers, [Jar("jar", "soft", 50, {}, 2)], plan)
    assert [fills[key].melts for key in ("pale", "dark")] == [3, 4]
