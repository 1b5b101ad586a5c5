"""Bags sold without an order: what the books say after every tap, count and undo."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

import inventory.audit
import shop.audit
from inventory.models import Entry, Lot
from inventory.services import counts, on_hold
from inventory.services.posting import KeyReused, LedgerError
from shop import stall
from shop.models import PriceList, Sale, StallDay
from shop.services import selling, stalls
from tests.factories import key
from tests.shop.stalls import bring, left, make_stall, open_day

pytestmark = pytest.mark.django_db


@pytest.fixture
def product(make_product):
    return make_product(bagged=12)


@pytest.fixture
def day(product):
    """An open day with 50.00 in the box and five bags at the stall."""
    day = open_day()
    bring(product, 5, day.place, reference=f"stall:{day.pk}")
    return day


def sell(day, product, bags=1, price=650, how="cash", **facts):
    lines = [selling.Sold(product, bags, price)]
    return selling.sell(key=key(), day=day, lines=lines, how=how, by=None, **facts)


def count(day, *counted):
    return selling.count_stall(key=key(), day=day, counted=list(counted), by=None)


def green():
    return [*inventory.audit.findings(), *shop.audit.findings()] == []


def test_a_sale_takes_a_bag_off_the_stall_and_its_money_into_the_box(day, product):
    entry = sell(day, product)
    assert entry.kind == Entry.Kind.SALE
    assert entry.title == f"Sold 1 × {product} at Harbor market"
    assert left(product, day.place) == 4
    cash = stall.cash(day)
    # By hand: 50.00 + 6.50.
    assert (cash.takings.cash_minor, cash.expected_minor) == (650, 5650)
    assert green()


def test_a_card_sale_adds_nothing_to_the_box(day, product):
    sell(day, product, how="card")
    cash = stall.cash(day)
    assert (cash.takings.card_minor, cash.expected_minor) == (650, 5000)


def test_the_oldest_bags_at_the_stall_go_first(day, product):
    older, newer = bring(product, 1, day.place), bring(product, 1, day.place)
    Lot.objects.filter(movements__entry=newer, place=day.place).update(received_on="2020-01-01")
    drawn = sell(day, product).movements.get(role="drawn").lot
    assert drawn == newer.movements.get(role="made").lot
    assert drawn != older.movements.get(role="made").lot


def test_the_same_tap_twice_sells_once_and_a_new_tap_sells_again(day, product):
    for press in ("tap-1", "tap-1", "tap-2"):
        lines = [selling.Sold(product, 1, 650)]
        selling.sell(key=press, day=day, lines=lines, how="cash", by=None)
    assert left(product, day.place) == 3
    with pytest.raises(KeyReused):
        lines = [selling.Sold(product, 2, 650)]
        selling.sell(key="tap-1", day=day, lines=lines, how="cash", by=None)


def test_the_price_and_the_number_can_be_others(day, product):
    sell(day, product, bags=3, price=500)
    assert stall.takings(day) == stall.Takings(cash_minor=1500, bags=3)


def test_more_sold_than_was_there_is_asked_about_and_then_believed(day, product):
    with pytest.raises(selling.NotThere, match="6 sold, 5 left at Harbor market"):
        sell(day, product, bags=6)
    assert left(product, day.place) == 5
    entry = sell(day, product, bags=6, really=True)
    lot = entry.movements.get(role="found").lot
    assert (left(product, day.place), lot.count_me) == (0, True)
    assert "6 sold, 5 left" in entry.look_at
    assert left(product, None) == 7
    assert green()


def test_a_bag_that_nobody_loaded_can_be_sold_too(day, make_product):
    other = make_product("Mud Crawler, Dusk, 5", bagged=2)
    with pytest.raises(selling.NotThere, match="none left"):
        sell(day, other)
    entry = sell(day, other, really=True)
    lot = entry.movements.get(role="found").lot
    assert (lot.found, lot.count_me, lot.place, lot.cost) == (True, True, day.place, None)
    assert left(other, None) == 2
    counts.undo(key=key(), entry=entry, by=None)
    assert green()


def test_what_is_on_hold_is_asked_about_before_it_is_sold(day, product):
    Lot.objects.filter(place=day.place).update(held=True)
    with pytest.raises(selling.NotThere, match="on hold"):
        sell(day, product)
    assert "on hold" in sell(day, product, really=True).look_at


def test_the_question_says_since_when_and_why_bags_are_on_hold(day, product):
    on_hold.hold(Lot.objects.filter(place=day.place), reason="smells wrong.", by=None)
    with pytest.raises(
        selling.NotThere, match=r"is on hold since [0-9-]+: smells wrong\. It should"
    ):
        sell(day, product)


def test_an_undone_tap_is_no_sale_any_more(day, product):
    counts.undo(key=key(), entry=sell(day, product), by=None)
    assert left(product, day.place) == 5
    assert stall.takings(day) == stall.Takings()
    assert stall.board(day).last is None
    assert green()


def test_a_closed_day_takes_no_sale_until_it_is_opened_again(day, product):
    stalls.close_day(day, counted_minor=5000)
    with pytest.raises(LedgerError, match="closed"):
        sell(day, product)
    stalls.open_again(day)
    sell(day, product)


def test_two_days_are_never_open_at_one_stall(day):
    with pytest.raises(stalls.StallError, match="still open"):
        stalls.open_day(place=day.place, by=None)
    stalls.close_day(day, counted_minor=0)
    second = stalls.open_day(place=day.place, by=None)
    with pytest.raises(stalls.StallError, match="open there now"):
        stalls.open_again(day)
    assert StallDay.objects.get(closed_at=None) == second


def test_a_day_is_opened_at_a_stall_only(day):
    home = make_stall("Kitchen")
    home.kind = "shelf"
    home.save()
    with pytest.raises(stalls.StallError, match="no stall"):
        stalls.open_day(place=home, by=None)


def test_what_is_missing_at_the_count_was_sold_at_the_stalls_price(day, product):
    sell(day, product)
    count(day, selling.Left(product, books=4, left=1, price_minor=650))
    # By hand: one tap, three found sold: 4 × 6.50 into a box of 50.00.
    cash = stall.cash(day)
    assert (cash.takings.cash_minor, cash.takings.counted_minor) == (650, 1950)
    assert cash.expected_minor == 7600
    assert Sale.objects.filter(how="count").get().lines.get().bags == 3
    assert left(product, day.place) == 1
    assert green()


def test_what_is_missing_can_have_been_lost(day, product):
    count(day, selling.Left(product, books=5, left=3, fate=selling.LOST))
    assert left(product, day.place) == 3
    assert not Sale.objects.exists()
    assert Entry.objects.filter(kind=Entry.Kind.COUNT).exists()
    assert green()


def test_more_counted_than_the_books_knew_is_booked_as_counted(day, product):
    count(day, selling.Left(product, books=5, left=7))
    assert left(product, day.place) == 7
    assert green()


def test_a_count_settles_what_asked_to_be_counted(day, product):
    sell(day, product, bags=6, really=True)
    assert Lot.objects.filter(count_me=True).exists()
    count(day, selling.Left(product, books=0, left=0))
    assert not Lot.objects.filter(count_me=True).exists()


def test_who_sells_while_another_counts_is_noticed(day, product):
    sell(day, product)
    with pytest.raises(LedgerError, match="5 then, 4 now"):
        count(day, selling.Left(product, books=5, left=5))


def test_a_count_over_several_lots_takes_from_the_oldest(day, product):
    bring(product, 2, day.place)
    count(day, selling.Left(product, books=7, left=1, fate=selling.LOST))
    lots = Lot.objects.filter(place=day.place).order_by("pk")
    assert [lot.on_hand for lot in lots] == [0, 1_000_000]
    assert green()


def test_the_stalls_own_price_list_is_used(day, product):
    day.price_list = PriceList.objects.create(name="Stall", percent_off="10")
    day.save()
    # By hand: 6.50 less a tenth is 5.85.
    assert stall.board(day).rows[0].price_minor == 585


def test_the_board_tells_left_sold_and_the_last_tap(day, product):
    sell(day, product, bags=2, price=600)
    sell(day, product, how="card")
    board = stall.board(day)
    row = board.rows[0]
    assert (row.left, row.sold, board.left) == (2, 3, 2)
    assert (board.last.how, board.last_minor) == ("card", 650)
    assert board.takings == stall.Takings(cash_minor=1200, card_minor=650, bags=3)


def test_the_board_asks_as_much_of_the_database_for_twenty_products_as_for_two(day, make_product):
    def bring_some(numbers):
        for n in numbers:
            product = make_product(f"Bait {n}, 5", bagged=2)
            bring(product, 2, day.place)
            sell(day, product)

    bring_some(range(2))
    with CaptureQueriesContext(connection) as few:
        stall.board(day)
    bring_some(range(2, 20))
    with CaptureQueriesContext(connection) as many:
        stall.board(day)
    assert len(many) == len(few)
