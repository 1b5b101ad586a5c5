"""Evenings small enough to reckon by hand, and the promises that a plan keeps whatever the evening."""

import dataclasses
import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from production import evening, evening_problem, evening_reckoning, evening_rule
from tests.reference import evening_cases

PRICES = {"soft": 0.01, "firm": 0.02, "soot": 1.0, "plum": 0.5, "glint": 0.2}
RULES = {"prices": PRICES, "cups": 4, "max_melts": 4, "wash_cost": 0.0}


def layer(
    key, shots_ml=90, heel_ml=10, *, pattern=None, grade="soft", trim_ml=0, trace=None, **doses
):
    return evening.Layer(
        key, grade, shots_ml, heel_ml, doses, pattern or key, trim_ml=trim_ml, trace=trace
    )


def jar(key="jar", base_ml=50, melts=1, *, grade="soft", **doses):
    return evening.Jar(key, grade, base_ml, doses, melts)


def plan(layers, jars=(), **rules):
    rules = RULES | rules
    made = evening.plan_evening(layers, list(jars), **rules)
    evening_cases.recheck(layers, list(jars), made, rules)
    return made


def test_an_evening_without_layers_costs_nothing():
    made = plan([])
    assert (made.order, made.fills, made.cost, made.proven_optimal) == ((), {}, 0, True)


def test_a_batch_with_nothing_to_go_on_is_all_fresh():
    made = plan([layer("night", soot=0.02)], wash_cost=0.5)
    # 100 mL of base at .01, 2 of soot at 1.0, one cup to wash
    assert made.cost == pytest.approx(1.0 + 2.0 + 0.5)
    fill = made.fills["night"]
    assert (fill.base_ml, fill.sources, fill.fresh_ml, fill.melts) == (100, {}, 100, 1)
    assert (fill.additions, fill.clean_cup) == ({"soot": 2.0}, True)
    assert made.proven_optimal


def test_the_heel_of_one_color_goes_on_in_the_color_that_can_take_it():
    # dusk holds no plum, so that its heel can become night and not the other way round
    made = plan([layer("night", soot=0.04, plum=0.01), layer("dusk", soot=0.01)], wash_cost=0.5)
    assert made.order == ("dusk", "night")
    # 10 mL go on: 90 fresh, 4.0 − 10·.01 of soot and 1.0 of plum to add; the cup goes on too
    fill = made.fills["night"]
    assert fill.sources == pytest.approx({"dusk": 10})
    assert fill.fresh_ml == pytest.approx(90)
    assert fill.additions == pytest.approx({"soot": 3.9, "plum": 1.0})
    assert (fill.melts, fill.clean_cup) == (2, False)
    assert made.cost == pytest.approx((1.0 + 1.0 + 0.5) + (0.9 + 3.9 + 0.5))


def test_dark_plastic_goes_into_a_pale_batch_only_within_its_tolerance():
    made = plan([layer("dusk", soot=0.005)], [jar(soot=0.03, base_ml=120)])
    # share 1.05·.005/.03 = .175 of 100 mL
    assert made.fills["dusk"].sources["jar"] == pytest.approx(17.5)
    assert made.fills["dusk"].additions["soot"] == 0


def test_feeds_share_the_room_that_the_tolerance_leaves():
    jars = [jar("first", base_ml=10, soot=0.03), jar("second", base_ml=10, soot=0.03)]
    made = plan([layer("dusk", soot=0.005)], jars)
    assert sum(made.fills["dusk"].sources.values()) == pytest.approx(17.5)


def test_a_jar_of_another_grade_or_with_a_strange_color_stays_shut():
    made = plan(
        [layer("dusk", soot=0.005)],
        [jar("firm jar", grade="firm", soot=0.005), jar("plum jar", plum=0.001)],
    )
    assert made.fills["dusk"].sources == {}


def test_the_layers_own_trace_stands_before_the_evenings():
    strange = [jar(base_ml=50, plum=0.01)]
    by_evening = plan([layer("dusk", soot=0.005)], strange, trace={"plum": 0.002})
    by_layer = plan(
        [layer("dusk", soot=0.005, trace={"plum": 0.001})], strange, trace={"plum": 0.002}
    )
    assert by_evening.fills["dusk"].sources["jar"] == pytest.approx(20)  # .002/.01 of 100
    assert by_layer.fills["dusk"].sources["jar"] == pytest.approx(10)


def test_a_feed_is_nothing_or_at_least_the_smallest_one():
    one_drop = [jar(base_ml=0.9, soot=0.01)]
    assert plan([layer("dusk", soot=0.01)], one_drop).fills["dusk"].sources == {}
    assert plan([layer("dusk", soot=0.01)], one_drop, min_feed_ml=0.5).fills["dusk"].sources


def test_plastic_is_not_melted_once_too_often():
    tired = [jar(melts=3, soot=0.01)]
    assert plan([layer("dusk", soot=0.01)], tired, max_melts=3).fills["dusk"].sources == {}
    assert plan([layer("dusk", soot=0.01)], tired, max_melts=4).fills["dusk"].melts == 4


def test_trim_goes_on_in_a_later_pattern_mixed_by_shares():
    # sprues of a laminate: 20 mL at .01 and 10 mL at .04 are 30 mL at .02
    layers = [
        layer("back", 80, 0, pattern="duo", trim_ml=20, soot=0.01),
        layer("belly", 40, 0, pattern="duo", trim_ml=10, soot=0.04),
        layer("night", 100, 0, soot=0.04),
    ]
    made = plan(layers, order=["back", "belly", "night"])
    assert made.fills["night"].sources == pytest.approx({"trim:duo": 30})
    assert made.fills["night"].additions["soot"] == pytest.approx(4.0 - 30 * 0.02)


def test_layers_of_one_pattern_follow_each_other_and_do_not_feed_each_other():
    layers = [
        layer("back", pattern="duo", soot=0.01),
        layer("night", soot=0.02),
        layer("belly", pattern="duo", soot=0.03),
    ]
    made = plan(layers)
    assert abs(made.order.index("back") - made.order.index("belly")) == 1
    assert "back" not in made.fills["belly"].sources


def test_a_waiting_cup_is_a_cup_in_use():
    # the plum heel can only go on in the plum batch, past the laminate that fills two cups
    layers = [
        layer("mauve", plum=0.01),
        layer("back", pattern="duo", soot=0.01),
        layer("belly", pattern="duo", soot=0.02),
        layer("plum", plum=0.03),
    ]
    order = ["mauve", "back", "belly", "plum"]
    assert plan(layers, order=order, cups=3).fills["plum"].sources == pytest.approx({"mauve": 10})
    assert plan(layers, order=order, cups=2).fills["plum"].sources == {}


def test_a_cup_goes_on_once_and_clean_cups_are_not_washed():
    layers = [layer("pale", soot=0.01), layer("dusk", soot=0.011), layer("night", soot=0.012)]
    order = ["pale", "dusk", "night"]
    made = plan(layers, order=order, wash_cost=0.5)
    assert [made.fills[key].clean_cup for key in order] == [True, False, False]
    plastic = made.cost - 0.5
    assert plan(layers, order=order, wash_cost=0.5, clean_cups=1).cost == pytest.approx(plastic)


def test_a_batch_that_takes_cold_plastic_bears_its_cost():
    cold = plan([layer("dusk", soot=0.01)], cold_cost=2)
    assert cold.cost == pytest.approx(1.0 + 1.0 + 2)


def test_a_carry_spares_the_next_batch_its_cold_plastic():
    layers = [layer("dusk", 50, 0, soot=0.01), layer("night", 50, 0, soot=0.02)]
    made = plan(layers, carry=True, cold_cost=1.0, cup_ml=100)
    # 100 mL of dusk carry 50 into night: one cold batch, 1.0 of base, 1.0 of soot, then .5 more
    assert made.fills["dusk"].base_ml == pytest.approx(100)
    assert made.fills["night"].sources == pytest.approx({"dusk": 50})
    assert made.fills["night"].fresh_ml == 0
    assert made.cost == pytest.approx(1.0 + 1.0 + 0.5 + 1.0)
    assert plan(layers, carry=True, cold_cost=1.0, cup_ml=99).cost > made.cost + 0.9


def test_the_order_given_is_the_order_poured():
    layers = [layer("pale", soot=0.01), layer("dusk", soot=0.02), layer("night", soot=0.03)]
    assert plan(layers, order=["night", "pale", "dusk"]).order == ("night", "pale", "dusk")


def test_locked_layers_keep_their_place_and_the_rest_is_ordered_around_them():
    layers = [
        layer("night", soot=0.03),
        layer("dusk", soot=0.02, plum=0.01),
        layer("pale", soot=0.02),
    ]
    made = plan(layers, locked=["night"])
    assert made.order == ("night", "pale", "dusk")
    made = plan(layers, order=["dusk", "night", "pale"], locked=["pale"])
    assert made.order[2] == "pale"


def test_a_locked_layer_of_a_laminate_holds_its_pattern_in_place():
    layers = [
        layer("pale", soot=0.01),
        layer("back", pattern="duo", soot=0.05),
        layer("belly", pattern="duo", soot=0.06),
        layer("dusk", soot=0.02),
    ]
    made = plan(layers, order=["back", "belly", "pale", "dusk"], locked=["belly"])
    assert made.order[1] == "belly"
    assert "back" in (made.order[0], made.order[2])


@pytest.mark.parametrize("seed", [3, 18, 25])
def test_the_best_order_is_the_cheapest_of_all_orders(seed):
    layers, jars, rules = evening_cases.small_evening(seed)
    costs = {
        order: plan(layers, jars, **rules, order=order).cost
        for order in itertools.permutations(layer.key for layer in layers)
    }
    assert plan(layers, jars, **rules).cost == pytest.approx(min(costs.values()), rel=1e-6)
    last = layers[0].key
    pinned = plan(layers, jars, **rules, order=[*list(costs)[-1][:2], last], locked=[last])
    kept = [cost for order, cost in costs.items() if order[2] == last]
    assert pinned.cost == pytest.approx(min(kept), rel=1e-6)


@pytest.mark.parametrize(
    ("layers", "jars", "rules", "named"),
    [
        ([layer("back", pattern="duo"), layer("belly", pattern="duo")], [], {"cups": 1}, "duo"),
        ([layer("night", 90, 10, soot=0.1)], [], {"cup_ml": 99}, "night"),
        ([layer("night", grade="stiff")], [], {}, "stiff"),
        ([layer("night", ember=0.1)], [], {"wash_cost": 1}, "ember"),
        ([layer("night")], [], {"max_melts": 0}, "night"),
        ([layer("night"), layer("night")], [], {}, "night"),
        ([layer("night")], [jar("night")], {}, "night"),
        ([layer("night", heel_ml=-1)], [], {}, "night"),
        ([layer("night", 0, 0, soot=0.1)], [], {}, "night has nothing to pour"),
        ([layer("night", math.nan)], [], {}, "night"),
        ([layer("night", math.inf)], [], {}, "night"),
        ([layer("night", trim_ml=-1)], [], {}, "night"),
        ([layer("night", soot=math.nan)], [], {}, "night"),
        ([layer("night", soot=-0.1)], [], {}, "night"),
        ([layer("night", trace={"soot": math.nan})], [], {}, "night"),
        ([layer("night")], [jar("pot", -1)], {}, "pot"),
        ([layer("night")], [jar("pot", math.nan)], {}, "pot"),
        ([layer("night")], [jar("pot", melts=-1)], {}, "pot"),
        ([layer("night")], [jar("pot", soot=math.inf)], {}, "pot"),
        ([layer("night")], [jar("pot"), jar("pot")], {}, "pot"),
        ([layer("night")], [jar("trim:night")], {}, "trim:night"),
        ([layer("night")], [], {"prices": PRICES | {"soft": math.nan}}, "soft"),
        ([layer("night")], [], {"prices": PRICES | {"plum": -1}}, "plum"),
        ([layer("night")], [], {"wash_cost": math.nan}, "wash_cost"),
        ([layer("night")], [], {"cold_cost": math.inf}, "cold_cost"),
        ([layer("night")], [], {"cup_ml": math.nan}, "cup_ml"),
        ([layer("night")], [], {"min_feed_ml": math.nan}, "min_feed_ml"),
        ([layer("night")], [], {"min_feed_ml": -1}, "min_feed_ml"),
        ([layer("night")], [], {"clean_cups": -1}, "clean_cups"),
        ([layer("night")], [], {"max_melts": math.nan}, "max_melts"),
        ([layer("night")], [], {"cups": math.nan}, "cups"),
        ([layer("night")], [], {"tolerance": -0.1}, "tolerance"),
        ([layer("night")], [], {"tolerance": {"soot": math.nan}}, "tolerance of soot"),
        ([layer("night")], [], {"trace": {"soot": math.inf}}, "trace of soot"),
        ([layer("night")], [], {"wash_cost": -1}, "wash_cost"),
        ([layer("night")], [], {"locked": ["noon"]}, "noon"),
        ([layer("night")], [], {"order": ["noon"]}, "noon"),
        (
            [layer("back", pattern="duo"), layer("belly", pattern="duo", grade="firm")],
            [],
            {},
            "duo",
        ),
        (
            [layer("back", pattern="duo"), layer("dusk"), layer("belly", pattern="duo")],
            [],
            {"order": ["back", "dusk", "belly"]},
            "duo",
        ),
        (
            [layer("back", pattern="duo"), layer("dusk"), layer("belly", pattern="duo")],
            [],
            {"locked": ["dusk"]},
            "dusk",
        ),
    ],
)
def test_what_makes_an_evening_impossible_is_named(layers, jars, rules, named):
    with pytest.raises(evening.EveningError, match=named):
        evening.plan_evening(layers, jars, **(RULES | rules))


def test_a_batch_larger_than_a_cup_is_split_into_equal_ones():
    whole = layer("night", 500, 20, soot=0.02, trim_ml=100)
    pieces = evening.split(whole, 200)
    # 500 mL of shots in cups that hold 180 besides the heel: three
    assert [piece.shots_ml for piece in pieces] == pytest.approx([500 / 3] * 3)
    assert [piece.trim_ml for piece in pieces] == pytest.approx([100 / 3] * 3)
    assert {piece.heel_ml for piece in pieces} == {20}
    assert len({piece.key for piece in pieces}) == len({piece.pattern for piece in pieces}) == 3
    assert evening.split(whole, 520) == [whole]
    assert len(evening.split(layer("night", 360, 20), 200)) == 2
    with pytest.raises(evening.EveningError, match="night"):
        evening.split(whole, 20)


def test_the_heel_of_one_piece_goes_on_in_the_next():
    pieces = evening.split(layer("night", 300, 20, soot=0.02), 200)
    made = plan(pieces, cups=1, cup_ml=200)
    first, second = made.order
    assert made.fills[second].sources == pytest.approx({first: 20})


@pytest.mark.parametrize("max_melts", [3, 9])
def test_pieces_that_are_all_alike_cost_what_their_best_order_costs(max_melts):
    pieces = evening.split(layer("night", 400, 15, soot=0.02, trim_ml=60), 160)
    dusk = layer("dusk", soot=0.012)
    rules = {"max_melts": max_melts, "wash_cost": 0.3, "cup_ml": 160}
    costs = [
        plan([*pieces, dusk], [jar(soot=0.02)], **rules, order=order).cost
        for order in itertools.permutations([*(piece.key for piece in pieces), "dusk"])
    ]
    made = plan([*pieces, dusk], [jar(soot=0.02)], **rules)
    assert made.proven_optimal
    assert made.cost == pytest.approx(min(costs))


def test_laminates_whose_layers_want_opposite_orders_feed_only_one_way():
    # soot wants the first laminate before the second, plum the second before the first: glint stays away
    layers = [
        layer("back", pattern="duo", soot=0.01),
        layer("belly", pattern="duo", plum=0.03, glint=0.01),
        layer("top", pattern="pair", soot=0.03, glint=0.01),
        layer("bottom", pattern="pair", plum=0.01),
    ]
    assert problem(layers, []).parts == [[0, 2], [1, 3]]
    made = plan(layers)
    assert made.proven_optimal
    # 10 mL at .01 of base go on, with .1 of soot at 1.0 rather than .1 of plum at .5
    assert made.fills["top"].sources == pytest.approx({"back": 10})
    assert made.fills["belly"].sources == {}
    assert made.cost == pytest.approx(4.0 + (1.0 + 1.7 + 3.2 + 0.5) - 0.2)


def test_colors_that_share_no_plastic_share_only_the_clean_cups():
    layers = [
        layer("dusk", soot=0.01),
        layer("night", soot=0.03),
        layer("mauve", plum=0.01),
        layer("plum", plum=0.03),
    ]
    assert problem(layers, [], wash_cost=0.5, clean_cups=2).parts == [[0, 1], [2, 3]]
    assert problem(layers, [], wash_cost=0.5, clean_cups=3).parts == [[0, 1, 2, 3]]
    shared = jar("pot", soot=0.01, plum=0.01)
    assert problem(layers, [shared], trace={"plum": 1, "soot": 1}).parts == [[0, 1, 2, 3]]
    # 10 mL of night spare dusk .1 of base and .3 of soot, 10 mL of plum spare mauve .1 and .15
    for clean_cups, washes in ((0, 2), (1, 1), (2, 0), (3, 0), (9, 0)):
        made = plan(layers, wash_cost=0.5, clean_cups=clean_cups)
        assert made.proven_optimal
        assert made.cost == pytest.approx(4.0 + (4.0 + 2.0) - 0.65 + 0.5 * washes)


def problem(layers, jars, **rules):
    """The evening as the planner numbers it."""
    defaults = {
        "clean_cups": 0,
        "cold_cost": 0,
        "carry": False,
        "cup_ml": None,
        "min_feed_ml": 1.0,
        "tolerance": 0.05,
        "trace": None,
        "places": {},
    }
    return evening_problem.Problem(layers, jars, **(defaults | RULES | rules))


def rule_of_thumb(layers, jars, **rules):
    """The rule of thumb as the planner reckons it, as a plan of its own."""
    asked = problem(layers, jars, **rules)
    patterns = evening_rule.pale_to_dark(asked)
    feeds = evening_rule.rule_of_thumb(asked, patterns)
    return evening_reckoning.write_out(asked, patterns, feeds, asked.need_ml)


def test_the_rule_of_thumb_goes_from_pale_to_dark_and_fills_the_first_batch_first():
    layers = [layer("night", soot=0.04), layer("b dusk", soot=0.01), layer("a dusk", soot=0.01)]
    by_rule = rule_of_thumb(layers, [jar("pot", base_ml=250, soot=0.01)])
    assert by_rule.order == ("a dusk", "b dusk", "night")
    # the pot fills the first batch whole, and only the first; each heel goes into the next
    assert by_rule.fills["a dusk"].sources == {"pot": 100}
    assert by_rule.fills["b dusk"].sources == {"a dusk": 10}
    assert by_rule.fills["night"].sources == {"b dusk": 10}
    evening_cases.recheck(layers, [jar("pot", base_ml=250, soot=0.01)], by_rule, RULES)


def test_the_rule_of_thumb_passes_over_what_cannot_take_the_smallest_feed():
    layers = [layer("dusk", soot=0.001), layer("night", soot=0.04)]
    by_rule = rule_of_thumb(layers, [jar("pot", base_ml=50, soot=0.2)])
    # dusk could take 1.05·.001/.2 of 100 mL, half a mL; night 1.05·.04/.2 of 100, 21 mL
    assert by_rule.fills["dusk"].sources == {}
    assert by_rule.fills["night"].sources["pot"] == pytest.approx(21)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10**6), st.booleans())
def test_a_plan_made_in_no_time_is_still_no_dearer_than_the_rule_of_thumb(seed, laminate):
    make = evening_cases.laminate_evening if laminate else evening_cases.small_evening
    layers, jars, rules = make(seed)
    by_rule = rule_of_thumb(layers, jars, **rules)
    evening_cases.recheck(layers, jars, by_rule, rules)
    made = evening.plan_evening(layers, jars, **rules, time_limit_s=0)
    evening_cases.recheck(layers, jars, made, rules)
    assert made.cost <= by_rule.cost * (1 + 1e-12)
    assert 0 <= made.gap <= 1


def test_a_large_evening_is_planned_within_its_limits():
    layers, jars, rules = evening_cases.workshop_evening(7, layers=14, jars=20)
    by_rule = rule_of_thumb(layers, jars, **rules)
    made = evening.plan_evening(layers, jars, **rules, time_limit_s=1)
    evening_cases.recheck(layers, jars, made, rules)
    assert made.cost <= by_rule.cost
    assert 0 <= made.gap <= 1


def test_plans_are_plain_values():
    made = plan([layer("dusk", soot=0.01)], [jar(soot=0.01)])
    fields = dataclasses.asdict(made)
    fill = fields["fills"]["dusk"]
    amounts = [fields["cost"], fill["base_ml"], fill["fresh_ml"], *fill["sources"].values()]
    assert {type(amount) for amount in [*amounts, *fill["additions"].values()]} == {float}
