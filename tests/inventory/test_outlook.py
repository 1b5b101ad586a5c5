"""What lies ahead of an item: when to order, how much, when it runs out, what is worth adding."""

import math
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory import buying_words, lead_times, outlook, unused, worth_adding
from inventory.outlook import Lead, Stock
from inventory.packs import Pack, Terms

TODAY = date(2026, 11, 25)
#: Four a day, every day, for ten weeks.
STEADY = [4.0] * 70


def said(quantity):
    return f"{quantity:.0f} mL"


def test_steady_use_is_bought_for_the_lead_time_and_the_weeks_asked_for():
    seen = outlook.look(STEADY, Stock(on_hand=30), Lead(9), weeks=4)
    # No spread, so no safety stock: 9 days × 4 = 36; up to 36 + 28 × 4 = 148; 118 short.
    assert (seen.point, seen.level, seen.buy) == (36, 148, 118)
    assert outlook.out_on(seen, TODAY) == TODAY + timedelta(days=8)
    assert outlook.due_in(seen) == 0


def test_open_work_and_what_is_on_order_are_netted_first():
    coming = ((TODAY + timedelta(days=3), 60.0),)
    seen = outlook.look(STEADY, Stock(100, needed=80, deliveries=coming), Lead(9))
    # 100 + 60 − 80 = 80, above 36: enough for 11 days more.
    assert seen.buy == 0 and outlook.due_in(seen) == 11
    # 20 left after open work, 5 days of use; the delivery comes first, then (20 − 12 + 60) / 4 = 17 days.
    assert outlook.out_on(seen, TODAY) == TODAY + timedelta(days=3 + 17)
    late = ((TODAY + timedelta(days=9), 60.0),)
    seen = outlook.look(STEADY, Stock(100, needed=80, deliveries=late), Lead(9))
    assert outlook.out_on(seen, TODAY) == TODAY + timedelta(days=5)


@pytest.mark.parametrize("usage", [[], [0.0] * 365, [5.0, 0, 5.0], [9.0] * 11])
def test_little_history_leaves_it_to_the_owner(usage):
    seen = outlook.look(usage, Stock(20, minimum=30, target=90), Lead(9))
    assert not seen.learned and seen.by_owner
    assert (seen.point, seen.buy) == (30, 70)
    silent = outlook.look(usage, Stock(20), Lead(9))
    assert (silent.point, silent.buy) == (None, 0)
    assert outlook.due_in(silent) is None


def test_at_the_minimum_with_nothing_above_it_one_pack_is_asked_for():
    seen = outlook.look([], Stock(30, minimum=30), Lead(9))
    assert 0 < seen.buy < 0.001


def test_without_history_open_work_that_cannot_be_done_is_bought_for():
    assert outlook.look([], Stock(10, needed=25), Lead(9)).buy == 15


def test_a_minimum_above_what_use_asks_for_is_kept_and_told():
    seen = outlook.look(STEADY, Stock(90, minimum=100), Lead(9))
    assert seen.point == 100 and seen.by_owner and seen.learned
    words = buying_words.why(seen, said, needs=[("open orders", 20)], took="supplier takes 9 days")
    assert words == (
        "4 weeks of use at 28 mL/week ± 0, supplier takes 9 days, open orders need 20 mL, "
        "your minimum is 100 mL"
    )


def test_a_lead_time_of_90_days_needs_a_history_that_saw_two_of_them():
    assert not outlook.look(STEADY, Stock(30), Lead(90)).learned
    seen = outlook.look([4.0] * 180, Stock(30), Lead(90))
    assert seen.point == 360
    assert buying_words.too_late(seen, 90, TODAY) == (
        "Ordered today it comes about 23 February 2027: too late."
    )


def test_what_happens_without_buying_is_said():
    def told(usage, **stock):
        return buying_words.if_not(outlook.look(usage, Stock(**stock), Lead(9)), TODAY)

    assert told(STEADY, on_hand=68) == "Out about 12 December."
    assert told(STEADY, on_hand=0) == "Out now."
    assert told(STEADY, on_hand=5, needed=6) == "Open work takes all of it."
    assert told([], on_hand=5) == "Nobody can say when it runs out."
    assert told(STEADY, on_hand=5000) == "Lasts two years at this use."


def test_the_run_down_has_a_band_that_widens_and_counts_deliveries():
    usage = [0.0, 8.0] * 100
    coming = ((TODAY + timedelta(days=2), 50.0),)
    seen = outlook.look(usage, Stock(40, needed=10, deliveries=coming), Lead(5))
    points = outlook.run_down(seen, TODAY, TODAY + timedelta(days=4))
    assert [point.expected for point in points] == pytest.approx([30, 26, 72, 68, 64])
    spreads = [point.high - point.expected for point in points]
    # 80 % of a normal lies within 1.2816 σ; four days have twice the spread of one.
    assert spreads[0] == 0 and spreads[4] == pytest.approx(2 * spreads[1])
    assert spreads[1] == pytest.approx(1.2816 * (seen.history.sd or 0), rel=1e-4)


@given(
    usage=st.lists(st.floats(0, 1e6), max_size=60),
    held=st.floats(0, 1e7),
    needed=st.floats(0, 1e7),
    days=st.integers(0, 40),
)
def test_any_item_gets_a_sensible_answer(usage, held, needed, days):
    seen = outlook.look(usage, Stock(held, needed), Lead(days))
    assert math.isfinite(seen.buy) and seen.buy >= 0
    assert seen.buy == 0 or seen.stock.position + seen.buy >= min(seen.level, 0) - 1
    out = outlook.out_on(seen, TODAY)
    assert out is None or TODAY <= out <= TODAY + timedelta(days=outlook.HORIZON)
    for point in outlook.run_down(seen, TODAY, TODAY + timedelta(days=3)):
        assert 0 <= point.low <= point.expected <= point.high


# -- deliveries ------------------------------------------------------------------------------------


def test_three_deliveries_say_how_long_a_supplier_takes():
    assert lead_times.seen([7, 12]) is None
    seen = lead_times.seen([12, 7, 9, 8])
    # The median of 7, 8, 9, 12 is 8.5: half a day counts up.
    assert (seen.days, seen.least, seen.most, seen.count) == (9, 7, 12, 4)


# -- worth adding ----------------------------------------------------------------------------------

BOTTLE = Pack("bottle", 100, 1000, "heron", "green", breaks=[(5, 800)])
TERMS = Terms("heron", shipping=900, free_from=6000)


def test_the_next_price_break_is_named_where_it_pays():
    # Three at 10.00; five at 8.00 are 10.00 more. The other two would cost 20.00 later.
    tip = worth_adding.next_break(worth_adding.Wanted(BOTTLE, 3, rate=4))
    assert (tip.count, tip.extra) == (5, 1000)
    # Two bottles held for (75 + 125) / 2 = 100 days at a fifth a year: 2 × 8.00 × .2 × 100 / 365.
    assert tip.saving == pytest.approx(1000 - 1600 * 0.2 * 100 / 365)


@pytest.mark.parametrize(
    "wanted",
    [
        worth_adding.Wanted(BOTTLE, 0, rate=4),
        worth_adding.Wanted(BOTTLE, 5, rate=4),
        worth_adding.Wanted(BOTTLE, 3),
        # Used up in 500 days, but it keeps for 300.
        worth_adding.Wanted(BOTTLE, 3, rate=1, keeps=300),
        # A hundred years of use are no bargain.
        worth_adding.Wanted(BOTTLE, 3, rate=0.01),
    ],
)
def test_a_price_break_that_does_not_pay_is_not_named(wanted):
    assert worth_adding.next_break(wanted) is None


def later(key, price, days):
    return worth_adding.Later(Pack(key, 1, price, "heron"), 1, days)


def test_what_is_needed_soon_anyway_reaches_free_shipping():
    waiting = [later("salt", 700, 20), later("glint", 800, 5), later("oil", 400, 12)]
    tip = worth_adding.to_free_shipping(4800, TERMS, waiting)
    # Glint and oil are needed first and bring 48.00 to 60.00: the salt may wait.
    assert [one.pack.key for one in tip.added] == ["glint", "oil"]
    assert tip.saving == pytest.approx(900 - (800 * 5 + 400 * 12) * 0.2 / 365)


def test_free_shipping_is_not_named_where_it_is_out_of_reach_or_does_not_pay():
    assert worth_adding.to_free_shipping(4800, TERMS, [later("salt", 700, 20)]) is None
    assert worth_adding.to_free_shipping(6000, TERMS, [later("salt", 700, 20)]) is None
    assert worth_adding.to_free_shipping(0, TERMS, [later("salt", 7000, 20)]) is None
    # 120.00 held for two years cost 48.00: more than the shipping.
    assert worth_adding.to_free_shipping(4800, TERMS, [later("pail", 12000, 730)]) is None
    assert worth_adding.to_free_shipping(4800, Terms("heron", shipping=900), []) is None


# -- expiring --------------------------------------------------------------------------------------


def test_what_is_left_at_expiry_counts_the_lots_before():
    in_days = [(100.0, TODAY + timedelta(days=10)), (100.0, TODAY + timedelta(days=20))]
    # 4 a day: 40 of the first by its day, then 40 of the second in the ten days after.
    assert unused.at_expiry(in_days, 4, TODAY) == [60, 60]
    assert unused.at_expiry(in_days, 40, TODAY) == [0, 0]
    assert unused.at_expiry(in_days, 0, TODAY) == [100, 100]
    assert unused.at_expiry([(5.0, TODAY - timedelta(days=3)), (5.0, None)], 1, TODAY) == [5, 0]


def test_what_comes_by_the_piece_is_ordered_at_a_whole_number():
    usage = [0.0, 0.0, 7.0, 0.0, 3.0, 0.0, 0.0, 9.0, 0.0, 2.0] * 20
    by_volume = outlook.look(usage, Stock(10), Lead(9, 2))
    by_piece = outlook.look(usage, Stock(10, whole=True), Lead(9, 2))
    assert by_piece.point == math.ceil(by_volume.point)
