"""Promises small enough to reckon by hand, and what a promise keeps whatever the shelf."""

import dataclasses
import datetime

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from production import promise
from tests.reference import promise_cases

MONDAY = datetime.date(2031, 5, 5)
FRIDAY = MONDAY + datetime.timedelta(days=4)


def day(number):
    return MONDAY + datetime.timedelta(days=number)


def lot(amount, **facts):
    return promise.Lot(amount, **facts)


def item(amount, lead_days=7, **facts):
    return promise.Item([lot(amount, **facts)], lead_days)


def shelf(items=None, **facts):
    """One mold of 10 minnows, 100 mL a shot, every one good; mixing 12 minutes, 2 for a shot, 6 in
    the mold."""
    plenty = {
        "soft": item(10_000),
        "green": item(100),
        "silver": item(100),
        "gold": item(100),
        "bag": item(1_000),
    }
    usual = {
        "today": MONDAY,
        "items": plenty | (items or {}),
        "recipes": {
            "moss": promise.Recipe("soft", {"green": 0.01}),
            "reed": promise.Recipe("soft", {"green": 0.02, "silver": 0.005}),
        },
        "patterns": {"moss": {"moss": 1.0}, "reed": {"reed": 1.0}},
        "molds": {
            "minnow mold": promise.Mold(
                {"minnow": 10}, 100, {"minnow": 1.0}, cycle_minutes=6, hand_minutes=2
            )
        },
        "products": {
            "moss minnow": promise.Product({("minnow", "moss"): 5}, {"bag": 1}, price=4),
            "reed minnow": promise.Product({("minnow", "reed"): 5}, {"bag": 1}, price=6),
        },
        "evenings": [promise.Evening(day(n), 180) for n in range(10)],
        "heel_ml": 0,
        "cup_ml": 1_000,
    }
    return promise.Shelf(**(usual | facts))


def order(*lines, due=FRIDAY):
    return promise.Order([promise.Line(product, bags) for product, bags in lines], due)


def ask(asked, on, **facts):
    answer = promise.promise(asked, on, time_limit_s=60, **facts)
    promise_cases.recheck(asked, on, answer)
    assert answer.proven and answer.least
    return answer


def found(answer, key):
    (short,) = [short for short in answer.shorts if short.key == key]
    return short


# -- where the bags come from ----------------------------------------------------------------------


def test_a_line_is_bagged_then_loose_then_poured():
    on = shelf(
        bagged={"moss minnow": [lot(3)]},
        loose={("minnow", "moss"): [lot(12)]},
    )
    answer = ask(order(("moss minnow", 10)), on)
    (line,) = answer.lines
    # 3 bags lie there, 12 loose baits give 2 and leave 2; of 25 baits wanted 13 more are two shots
    assert (line.ready, line.after_bagging, line.after_pouring, line.short) == (3, 2, 5, 0)
    assert line.bagging == (promise.Later(MONDAY, 2),)
    assert line.pouring == (promise.Later(day(1), 5),)
    assert answer.plan.shots == (promise.Shots(MONDAY, "minnow mold", "moss", 3),)
    # 3 shots of 100 mL at .01, and 7 bags
    assert answer.plan.uses == pytest.approx({"soft": 300, "green": 3, "bag": 7})
    assert (answer.whole, answer.ready_on, answer.whole_on) == (True, day(1), day(1))


def test_loose_baits_wait_until_they_have_cured():
    on = shelf(loose={("minnow", "moss"): [lot(5, cured_on=day(2)), lot(5)]}, packing_days=1)
    (line,) = ask(order(("moss minnow", 2)), on).lines
    assert line.bagging == (promise.Later(day(1), 1), promise.Later(day(3), 1))
    (line,) = ask(order(("moss minnow", 2), due=day(1)), on).lines
    assert (line.after_bagging, line.short) == (1, 1)


def test_poured_baits_cure_and_are_packed_before_they_are_ready():
    on = shelf(cure_hours=30, packing_days=1)
    answer = ask(order(("moss minnow", 2)), on)
    # poured on Monday, cured after 30 hours on Wednesday, packed on Thursday
    assert answer.ready_on == day(3)


def test_the_first_evenings_are_used_first():
    on = shelf(evenings=[promise.Evening(day(n), 36) for n in range(6)])
    # 36 minutes are 6 cycles of the mold and, after 12 for mixing, 12 shots of the hands: 6 shots
    # an evening
    answer = ask(order(("moss minnow", 16)), on)
    assert [(shots.on, shots.count) for shots in answer.plan.shots] == [(day(0), 6), (day(1), 2)]
    (line,) = answer.lines
    assert line.pouring == (promise.Later(day(1), 12), promise.Later(day(2), 4))


def test_only_the_yield_that_is_expected_is_promised():
    mold = promise.Mold({"minnow": 10}, 100, {"minnow": 0.9})
    on = shelf({"soft": item(200)}, molds={"minnow mold": mold})
    # two shots give 18 good baits: three bags of five
    assert ask(order(("moss minnow", 4)), on).lines[0].promised == 3


def test_each_cup_leaves_its_heel():
    on = shelf({"soft": item(340)}, heel_ml=20, cup_ml=120)
    # a shot to a cup: 3 shots take 360 mL, 2 take 240
    answer = ask(order(("moss minnow", 6)), on)
    assert answer.lines[0].promised == 4
    assert found(answer, "soft").amount == pytest.approx(20)


def test_a_laminate_takes_of_both_colors_what_its_layers_say():
    on = shelf(
        patterns={"two": {"moss": 0.75, "reed": 0.25}},
        products={"two minnow": promise.Product({("minnow", "two"): 5}, {"bag": 1})},
    )
    answer = ask(order(("two minnow", 2)), on)
    # 100 mL: 75 at .01 and 25 at .02 of green, 25 at .005 of silver
    assert answer.plan.uses == pytest.approx(
        {"soft": 100, "green": 1.25, "silver": 0.125, "bag": 2}
    )


def test_an_assortment_is_full_with_the_last_of_its_baits():
    on = shelf(
        products={
            "both": promise.Product({("minnow", "moss"): 2, ("minnow", "reed"): 3}, {"bag": 1})
        },
        loose={("minnow", "moss"): [lot(100)], ("minnow", "reed"): [lot(7)]},
    )
    (line,) = ask(order(("both", 4)), on).lines
    assert (line.after_bagging, line.after_pouring) == (2, 2)


# -- what is short ---------------------------------------------------------------------------------


def test_two_lines_possible_alone_are_not_together_and_the_item_says_by_how_much():
    # moss: 6 shots take 6.0 of green; reed: 3 shots take 6.0; there are 10
    on = shelf({"green": item(10, lead_days=9)})
    assert ask(order(("moss minnow", 12)), on).whole
    assert ask(order(("reed minnow", 6)), on).whole
    answer = ask(order(("moss minnow", 12), ("reed minnow", 6)), on)
    assert answer.shorts == (promise.Short("item", "green", pytest.approx(2.0), day(9)),)
    # 12 bags of moss and of reed 2 shots: 16 bags, 10 of green
    assert [line.promised for line in answer.lines] == [12, 4]
    assert [line.limits for line in answer.lines] == [(), answer.shorts]
    # the bottle comes on day 9, the evening of which is the last that is known
    assert answer.whole_on == day(10)


def test_two_lines_possible_alone_are_not_together_for_want_of_mold_minutes():
    # one evening of 60 minutes: ten cycles; 6 shots each
    on = shelf(evenings=[promise.Evening(day(3), 60), promise.Evening(day(5), 60)])
    assert ask(order(("moss minnow", 12)), on).whole
    assert ask(order(("reed minnow", 12)), on).whole
    answer = ask(order(("moss minnow", 12), ("reed minnow", 12)), on)
    # 12 shots, 10 cycles: two cycles of 6 minutes; the next evening makes up for them by day 6
    assert answer.shorts == (promise.Short("mold minutes", "minnow mold", 12, day(6)),)
    assert sum(line.promised for line in answer.lines) == 20
    assert answer.whole_on == day(6)


def test_hands_can_be_short_when_the_mold_is_not():
    mold = promise.Mold({"minnow": 10}, 100, {"minnow": 1.0}, copies=5, hand_minutes=5)
    on = shelf(molds={"minnow mold": mold}, evenings=[promise.Evening(day(0), 60)])
    # 12 minutes of mixing, then 9 shots of 5 minutes; 10 are wanted: 62 minutes
    answer = ask(order(("moss minnow", 20)), on)
    assert answer.lines[0].promised == 18
    assert answer.shorts == (promise.Short("hand minutes", "", pytest.approx(2), None),)
    assert answer.whole_on is None


def test_packaging_can_be_all_that_is_short():
    on = shelf({"bag": item(4, lead_days=2)}, loose={("minnow", "moss"): [lot(100)]})
    answer = ask(order(("moss minnow", 6)), on)
    assert (answer.lines[0].after_bagging, answer.lines[0].short) == (4, 2)
    assert answer.shorts == (promise.Short("item", "bag", pytest.approx(2), day(2)),)
    assert answer.whole_on == day(2)


def test_nobody_knows_when_an_item_without_a_lead_time_comes():
    answer = ask(order(("moss minnow", 2)), shelf({"green": item(0, lead_days=None)}))
    assert found(answer, "green").on is None
    assert (answer.whole_on, answer.ready_on) == (None, None)


def test_a_lot_that_expires_before_the_order_is_due_does_not_count():
    on = shelf({"green": promise.Item([lot(5, expires=day(3)), lot(1, expires=FRIDAY)])})
    assert ask(order(("moss minnow", 12)), on).lines[0].promised == 2
    assert ask(order(("moss minnow", 12), due=day(3)), on).whole


def test_parts_that_lie_in_the_mold_are_counted_by_the_shot():
    mold = promise.Mold({"minnow": 10}, 100, {"minnow": 1.0}, parts={"hook": 10})
    on = shelf({"hook": item(25)}, molds={"minnow mold": mold})
    answer = ask(order(("moss minnow", 6)), on)
    assert answer.lines[0].promised == 4
    assert found(answer, "hook").amount == pytest.approx(5)


# -- leftovers and stand-ins -----------------------------------------------------------------------


def test_a_leftover_counts_for_the_color_that_it_can_become():
    # 100 mL of moss are the half of a batch of 200 of reed: 105 % · .02 ÷ .01 would take it whole
    puck = promise.Leftover("soft", 100, {"green": 0.01})
    on = shelf({"soft": item(100), "green": item(3)}, leftovers={"puck": puck})
    answer = ask(order(("reed minnow", 4)), on)
    assert answer.whole
    assert answer.plan.leftovers == pytest.approx({("puck", "reed"): 100})
    # 200 · .02 less the 1.0 that the puck brings
    assert answer.plan.uses["green"] == pytest.approx(3)


def test_a_leftover_goes_into_a_paler_color_only_in_the_share_that_mixing_allows():
    # share 1.05 · .01 ÷ .03 = .35 of 200 mL: 70, so that 130 must be fresh
    puck = promise.Leftover("soft", 100, {"green": 0.03})
    on = shelf({"soft": item(130)}, leftovers={"puck": puck})
    assert ask(order(("moss minnow", 4)), on).whole
    less = shelf({"soft": item(129)}, leftovers={"puck": puck})
    answer = ask(order(("moss minnow", 4)), less)
    assert answer.lines[0].promised == 2
    assert found(answer, "soft").amount == pytest.approx(1)


@pytest.mark.parametrize(
    "puck",
    [
        promise.Leftover("hard", 500, {"green": 0.01}),
        promise.Leftover("soft", 500, {"green": 0.01, "gold": 0.001}),
        promise.Leftover("soft", 500, {"green": 0.01}, melts=5),
        promise.Leftover("soft", 500, {"green": 0.01}, expires=day(1)),
    ],
    ids=["another grade", "a strange flake", "melted too often", "expired"],
)
def test_a_leftover_that_cannot_become_the_color_does_not_count(puck):
    on = shelf({"soft": item(0)}, leftovers={"puck": puck})
    assert ask(order(("moss minnow", 2)), on).lines[0].promised == 0


def test_a_stand_in_is_taken_last_and_named():
    reed = promise.Recipe("soft", {"green": 0.02, "silver": 0.005}, stand_ins={"silver": ["gold"]})
    recipes = {"moss": promise.Recipe("soft", {"green": 0.01}), "reed": reed}
    answer = ask(order(("reed minnow", 4)), shelf({"silver": item(1.0)}, recipes=recipes))
    assert answer.lines[0].stand_ins == ()
    # 200 mL want 1.0 of silver; there is .6
    answer = ask(order(("reed minnow", 4)), shelf({"silver": item(0.6)}, recipes=recipes))
    assert answer.whole
    (stand_in,) = answer.lines[0].stand_ins
    assert (stand_in.recipe, stand_in.instead_of, stand_in.item) == ("reed", "silver", "gold")
    assert stand_in.amount == pytest.approx(0.4)
    # and when the stand-in is used up too it is the flake itself that must be bought
    both = {"silver": item(0.6), "gold": item(0.1)}
    answer = ask(order(("reed minnow", 4)), shelf(both, recipes=recipes))
    assert [(short.key, short.amount) for short in answer.shorts] == [
        ("silver", pytest.approx(0.3))
    ]


# -- earlier orders --------------------------------------------------------------------------------


def test_earlier_orders_keep_their_bags_baits_and_plastic():
    on = shelf(
        {"green": item(4)},
        bagged={"moss minnow": [lot(2)]},
        loose={("minnow", "moss"): [lot(10)]},
    )
    earlier = [order(("moss minnow", 8))]
    answer = ask(order(("moss minnow", 3)), on, earlier=earlier)
    # 8 bags are 2 + 2 + two shots, which keep 2.0 of green and leave two shots
    assert answer.set_aside == pytest.approx({"green": 2, "soft": 200, "bag": 6})
    assert (answer.lines[0].ready, answer.lines[0].after_bagging) == (0, 0)
    assert answer.lines[0].after_pouring == 3
    assert ask(order(("moss minnow", 5)), on, earlier=earlier).lines[0].promised == 4


def test_what_an_earlier_order_waits_for_keeps_what_is_there_of_the_rest():
    # silver is missing for the earlier reed; its green is set aside all the same
    on = shelf({"green": item(5), "silver": item(0)})
    answer = ask(order(("moss minnow", 6)), on, earlier=[order(("reed minnow", 4))])
    assert answer.set_aside["green"] == pytest.approx(4)
    assert answer.lines[0].promised == 2


def test_an_earlier_order_that_is_due_later_leaves_tonight_free():
    on = shelf(evenings=[promise.Evening(day(n), 60) for n in (0, 7)])
    later = order(("reed minnow", 16), due=day(8))
    assert ask(order(("moss minnow", 16), due=day(1)), on, earlier=[later]).whole
    sooner = order(("reed minnow", 16), due=day(1))
    answer = ask(order(("moss minnow", 16), due=day(1)), on, earlier=[sooner])
    assert answer.lines[0].promised == 4


def test_an_earlier_order_that_is_late_is_poured_first():
    on = shelf(evenings=[promise.Evening(day(0), 60)])
    overdue = order(("reed minnow", 16), due=day(-3))
    answer = ask(order(("moss minnow", 16), due=day(1)), on, earlier=[overdue])
    assert answer.lines[0].promised == 4


def test_first_accepted_is_first_served():
    on = shelf(bagged={"moss minnow": [lot(5)]}, evenings=[])
    first, second = order(("moss minnow", 3)), order(("moss minnow", 3))
    assert ask(second, on, earlier=[first]).lines[0].ready == 2
    assert ask(order(("moss minnow", 1)), on, earlier=[first, second]).lines[0].ready == 0


# -- the most, and the best part -------------------------------------------------------------------


def test_the_most_bags_of_one_product_and_what_one_more_lacks():
    on = shelf({"green": item(7.5)}, bagged={"moss minnow": [lot(3)]})
    most = promise.most_bags("moss minnow", on, due=FRIDAY, time_limit_s=60)
    # 3 bags lie there and seven shots give 14
    assert most.bags == 17
    assert [(short.key, short.amount) for short in most.answer.shorts] == [
        ("green", pytest.approx(0.5))
    ]


def test_the_best_part_is_worth_most_or_keeps_the_rank():
    # five cycles: moss earns 8 a shot, reed 12
    on = shelf(evenings=[promise.Evening(day(0), 36)])
    asked = order(("moss minnow", 8), ("reed minnow", 10))

    def part(worth):
        answer = promise.best_part(asked, on, worth=worth, time_limit_s=60)
        promise_cases.recheck(asked, on, answer)
        assert answer.proven
        return [line.promised for line in answer.lines]

    # both colors: 24 minutes of mixing leave 12, six shots; one color: the mold's six cycles
    assert part("value") == [2, 10]
    assert part("rank") == [8, 4]


def test_the_dearer_line_gets_the_bags_that_lie_there():
    on = shelf(bagged={"moss minnow": [lot(5)]}, evenings=[])
    lines = [promise.Line("moss minnow", 4, price=3), promise.Line("moss minnow", 4, price=5)]
    answer = promise.best_part(promise.Order(lines, FRIDAY), on)
    assert [line.promised for line in answer.lines] == [1, 4]


def test_nothing_on_the_shelf_is_an_answer_too():
    answer = ask(order(("moss minnow", 2), due=MONDAY), shelf(evenings=[]))
    assert answer.lines[0].short == 2
    assert found(answer, "minnow mold").amount == pytest.approx(6)


def test_a_retired_mold_has_no_copies_but_its_bags_are_still_sold():
    mold = promise.Mold({"minnow": 10}, 100, {"minnow": 1.0}, copies=0)
    on = shelf(molds={"minnow mold": mold}, bagged={"moss minnow": [lot(2)]})
    answer = ask(order(("moss minnow", 3)), on)
    assert (answer.lines[0].ready, answer.lines[0].short) == (2, 1)
    assert [short.what for short in answer.shorts] == ["mold minutes"]


def test_without_time_there_is_an_answer_with_a_gap():
    on = shelf({"green": item(10)})
    asked = order(("moss minnow", 12), ("reed minnow", 6))
    answer = promise.promise(asked, on, time_limit_s=0.0)
    promise_cases.recheck(asked, on, answer)
    assert sum(line.promised for line in answer.lines) <= 16
    assert answer.proven == (answer.gap == 0)


# -- whatever the shelf ----------------------------------------------------------------------------

FEW = settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow])
SEEDS = st.integers(1_000, 9_999)


def bags(answer):
    return sum(line.promised for line in answer.lines)


@FEW
@given(SEEDS, st.sampled_from(["soft", "soot", "glint", "plum", "bag"]), st.floats(0.1, 500))
def test_more_on_the_shelf_never_lowers_the_promise(seed, key, amount):
    asked, on = promise_cases.small_case(seed)
    lots = [*on.items[key].lots, lot(amount)]
    more = dataclasses.replace(on, items={**on.items, key: promise.Item(lots)})
    assert bags(ask(asked, more)) >= bags(ask(asked, on))


@FEW
@given(SEEDS, st.floats(10, 100))
def test_another_evening_or_a_bigger_leftover_never_lowers_the_promise(seed, amount):
    asked, on = promise_cases.small_case(seed)
    before = bags(ask(asked, on))
    puck = dataclasses.replace(on.leftovers["puck"], base_ml=60 + amount)
    assert bags(ask(asked, dataclasses.replace(on, leftovers={"puck": puck}))) >= before
    evenings = [*on.evenings, promise.Evening(promise_cases.day(2), amount)]
    assert bags(ask(asked, dataclasses.replace(on, evenings=evenings))) >= before


@FEW
@given(SEEDS, st.integers(1, 3))
def test_an_earlier_order_is_never_touched(seed, count):
    """Once the promise is poured and bagged, the earlier order still gets all that it would have
    got."""
    asked, on = promise_cases.small_case(seed)
    evenings = [promise.Evening(evening.on, 600) for evening in on.evenings]
    on = dataclasses.replace(on, evenings=evenings)
    first = promise.Order([promise.Line(asked.lines[-1].product, count)], asked.due)
    before = bags(ask(first, on))
    answer = promise.promise(asked, on, earlier=[first], time_limit_s=60)
    promise_cases.recheck(asked, on, answer)
    assert bags(ask(first, promise_cases.without(on, answer.plan))) >= before


@FEW
@given(SEEDS)
def test_an_earlier_order_never_raises_the_promise(seed):
    asked, on = promise_cases.small_case(seed)
    first = promise.Order(asked.lines[:1], asked.due)
    assert bags(ask(asked, on, earlier=[first])) <= bags(ask(asked, on))


# -- nonsense --------------------------------------------------------------------------------------


@pytest.mark.parametrize("count", [0, -3, 2.5, 10**12, True])
def test_bags_are_whole_and_at_least_one(count):
    with pytest.raises(promise.PromiseError, match="line 1 .moss minnow."):
        promise.promise(order(("moss minnow", count)), shelf())


def test_a_product_must_be_known_in_earlier_orders_too():
    with pytest.raises(promise.PromiseError, match="no product pike"):
        promise.promise(order(("pike", 1)), shelf())
    with pytest.raises(promise.PromiseError, match="no product pike"):
        promise.promise(order(("moss minnow", 1)), shelf(), earlier=[order(("pike", 1))])
    with pytest.raises(promise.PromiseError, match="no product pike"):
        promise.most_bags("pike", shelf(), due=FRIDAY)


def mold_with(**facts):
    usual = {"cavities": {"minnow": 10}, "shot_ml": 100, "good": {"minnow": 1.0}}
    return {"minnow mold": promise.Mold(**(usual | facts))}


@pytest.mark.parametrize(
    ("facts", "named"),
    [
        ({"molds": {}}, "needs minnow, and no mold makes it"),
        ({"molds": mold_with(good={"minnow": 0})}, "minnow mold: the yield of minnow"),
        ({"molds": mold_with(good={})}, "minnow mold: the yield of minnow"),
        ({"molds": mold_with(good={"minnow": 1.2})}, "minnow mold: the yield of minnow"),
        ({"molds": mold_with(shot_ml=0)}, "minnow mold: shot_ml"),
        ({"molds": mold_with(cavities={"minnow": 0})}, "minnow mold has 0 cavities"),
        ({"molds": mold_with(parts={"hook": 1})}, "minnow mold needs hook"),
        ({"patterns": {}}, "the pattern moss, which is not there"),
        ({"patterns": {"moss": {"moss": 0.7}}}, "layers of moss do not add up"),
        ({"recipes": {}}, "poured of moss, and there is no such recipe"),
        ({"recipes": {"moss": promise.Recipe("hard", {})}}, "moss needs hard"),
        ({"recipes": {"moss": promise.Recipe("soft", {"ink": 1})}}, "moss needs ink"),
        ({"recipes": {"moss": promise.Recipe("soft", {}, 0)}}, "moss: base is 0"),
        (
            {"recipes": {"moss": promise.Recipe("soft", {}, stand_ins={"silver": ["gold"]})}},
            "gold cannot stand in for silver",
        ),
        ({"items": {"green": item(-1)}}, "green: amount cannot be -1"),
        ({"items": {"green": item(float("nan"))}}, "green: amount cannot be nan"),
        ({"bagged": {"moss minnow": [lot(-1)]}}, "moss minnow: amount"),
        ({"loose": {("minnow", "moss"): [lot(-1)]}}, "minnow in moss: amount"),
        ({"leftovers": {"puck": promise.Leftover("soft", -1, {})}}, "puck: base_ml"),
        ({"heel_ml": 1_000}, "no more than the heel"),
        ({"cure_hours": -1}, "cure_hours cannot be -1"),
        ({"evenings": [promise.Evening(day(-1), 60)]}, "the evening of 2031-05-04 is over"),
        ({"evenings": [promise.Evening(day(1), 60)] * 2}, "2031-05-06 is named 2 times"),
        ({"evenings": [promise.Evening(day(1), -60)]}, "2031-05-06: minutes"),
    ],
)
def test_a_shelf_that_makes_no_sense_is_named(facts, named):
    with pytest.raises(promise.PromiseError, match=named):
        promise.promise(order(("moss minnow", 2)), shelf(**facts))


def test_an_order_is_due_on_a_day_and_worth_something_known():
    with pytest.raises(promise.PromiseError, match="due on a day"):
        promise.promise(order(("moss minnow", 2), due="Friday"), shelf())
    with pytest.raises(promise.PromiseError, match="not by luck"):
        promise.best_part(order(("moss minnow", 2)), shelf(), worth="luck")
    dear = promise.Order([promise.Line("moss minnow", 1, price=-1)], FRIDAY)
    with pytest.raises(promise.PromiseError, match="cannot earn -1"):
        promise.promise(dear, shelf())


# -- the quick answer ------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(0, 60, 2))
def test_a_quick_yes_is_a_yes_and_no_quick_part_is_more_than_the_best(seed):
    asked, on = promise_cases.small_case(seed)
    quick = promise.promise(asked, on, quick=True)
    promise_cases.recheck(asked, on, quick)
    best = promise.promise(asked, on, time_limit_s=60)
    assert quick.proven == quick.whole
    assert best.whole or not quick.whole
    assert sum(line.promised for line in quick.lines) <= sum(line.promised for line in best.lines)


def test_the_quick_answer_keeps_what_earlier_orders_need():
    on = shelf({"green": item(4)})
    kept = [order(("moss minnow", 6))]
    # six bags are three shots and 3 of the 4 mL of green: one shot, two bags are left
    quick = promise.promise(order(("moss minnow", 3)), on, earlier=kept, quick=True)
    assert (quick.lines[0].promised, quick.proven) == (2, False)
    assert promise.promise(order(("moss minnow", 2)), on, earlier=kept, quick=True).whole


def test_what_is_poured_in_one_endless_evening_is_spread_over_real_ones():
    evenings = [promise.Evening(day(n), 36) for n in range(3)]
    on = shelf({"green": item(5), "bag": item(0)}, evenings=evenings)
    answer = ask(order(("moss minnow", 24), due=day(9)), on)
    # 24 bags are 12 shots; an evening of 36 minutes does 6: green is short by 7 mL, bags by 24
    assert {short.key: short.amount for short in answer.shorts} == {
        "green": pytest.approx(7),
        "bag": pytest.approx(24),
    }
