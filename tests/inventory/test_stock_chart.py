"""The year of an item as a stepped line, reckoned backwards, and how full a shelf is."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory import stock_chart
from inventory.stock_chart import Day

FIRST, LAST = date(2026, 1, 1), date(2026, 12, 31)
moves = st.lists(
    st.tuples(
        st.dates(FIRST - timedelta(days=200), LAST + timedelta(days=3)),
        st.integers(-(10**9), 10**9),
    ),
    max_size=40,
)


def per_day(happened):
    """What the database's sums say: one day for each date from the first on."""
    sums: dict[date, int] = {}
    for on, quantity in happened:
        if on >= FIRST:
            sums[on] = sums.get(on, 0) + quantity
    return [Day(on, change) for on, change in sums.items()]


@given(moves)
def test_the_line_is_what_a_replay_from_the_first_day_gives(happened):
    on_hand = sum(quantity for _, quantity in happened)
    series = stock_chart.series(on_hand, per_day(happened), first=FIRST, last=LAST)
    assert series.before == sum(quantity for on, quantity in happened if on < FIRST)
    day = FIRST
    while day <= LAST:
        until = LAST + timedelta(days=9) if day == LAST else day
        replayed = sum(quantity for on, quantity in happened if on <= until)
        assert series.at_end_of(day) == replayed
        day += timedelta(days=7 if day < LAST - timedelta(days=7) else 1)
    assert series.on_hand == on_hand


@given(moves)
def test_the_months_add_up_to_the_whole_line(happened):
    days = [Day(d.on, d.change, came_in=7, taken=4, counts=1) for d in per_day(happened)]
    series = stock_chart.series(5, days, first=FIRST, last=LAST)
    months = stock_chart.months(series)
    assert [month.first.month for month in months] == list(range(12, 0, -1))
    gained = sum(month.came_in - month.taken + month.corrected for month in months)
    assert series.before + gained == series.on_hand == months[0].on_hand
    assert sum(month.counts for month in months) == len(days)


@given(moves, st.integers(0, 10**9))
def test_the_drawing_stays_inside_its_box(happened, minimum):
    series = stock_chart.series(-3, per_day(happened), first=FIRST, last=LAST)
    drawing = stock_chart.draw(series, minimum=minimum)
    for path in (drawing.line, drawing.area, drawing.minimum, drawing.came_in, drawing.counted):
        words = path.replace("M", " M").replace("H", " H").replace("V", " V").split()
        for word in words:
            if word.startswith("V"):
                assert 0 <= float(word[1:].split("H")[0]) <= stock_chart.HEIGHT
            if word.startswith("H") and not word.endswith("Z"):
                assert 0 <= float(word[1:]) <= stock_chart.WIDTH


def test_a_bottle_bought_used_and_counted_is_drawn_by_hand_calculation():
    # 0 before; 100 on 2 July (day 182 of 365), 40 from the last day on.
    days = [Day(LAST, -60, taken=58, counts=1), Day(date(2026, 7, 2), 100, came_in=100)]
    series = stock_chart.series(40, days, first=FIRST, last=LAST)
    drawing = stock_chart.draw(series, minimum=50)
    assert (series.before, series.most, series.least) == (0, 100, 0)
    assert drawing.line == "M0 190H364V10H728V118H730"
    assert drawing.area == "M0 190H364V10H728V118H730V190H0Z"
    assert drawing.minimum == "M0 100H730"
    assert (drawing.came_in, drawing.counted) == ("M364 10h0", "M728 118h0")
    july, december = stock_chart.months(series)[5], stock_chart.months(series)[0]
    assert (july.came_in, july.taken, july.on_hand) == (100, 0, 100)
    # Sixty less, of which 58 were taken: the count found two fewer.
    assert (december.taken, december.corrected, december.on_hand) == (58, -2, 40)


def test_an_item_that_never_moved_is_a_level_line():
    drawing = stock_chart.draw(stock_chart.series(0, [], first=FIRST, last=LAST))
    assert drawing.line == "M0 190H730"
    assert (drawing.minimum, drawing.came_in, drawing.counted) == ("", "", "")
    one_day = stock_chart.series(5, [Day(FIRST, 5)], first=FIRST, last=FIRST)
    assert stock_chart.draw(one_day).line == "M0 190H0V10H730"


def test_a_late_entry_that_makes_the_past_fall_short_is_drawn_below_the_floor():
    days = [Day(date(2026, 3, 1), -50), Day(date(2026, 4, 1), 100)]
    drawing = stock_chart.draw(stock_chart.series(50, days, first=FIRST, last=LAST))
    assert (drawing.top, drawing.bottom) == (50, -50)


def test_days_that_run_backwards_are_refused():
    with pytest.raises(ValueError, match="lies before"):
        stock_chart.series(0, [], first=LAST, last=FIRST)


@pytest.mark.parametrize(
    ("on_hand", "minimum", "target", "share", "minimum_at", "low"),
    [
        (60, 30, 120, 50, 25, False),
        (30, 30, 120, 25, 25, True),
        (500, 30, 120, 100, 25, False),
        (0, 30, 120, 0, 25, True),
        (1, 0, 100_000, 1, None, False),
        (45, 30, 0, 75, 50, False),
        (30, 30, 30, 100, None, True),
        (0, 30, 0, 0, 50, True),
    ],
)
def test_how_full_is_reckoned_against_the_target(on_hand, minimum, target, share, minimum_at, low):
    gauge = stock_chart.gauge(on_hand, minimum=minimum, target=target)
    assert (gauge.share, gauge.minimum_at, gauge.low) == (share, minimum_at, low)


def test_without_minimum_or_target_nothing_says_how_full():
    assert stock_chart.gauge(100, minimum=0, target=0) is None
