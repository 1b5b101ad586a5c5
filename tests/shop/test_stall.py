"""The pages of a stall's day, as the person behind the table uses them."""

import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

import inventory.audit
import shop.audit
from inventory.models import Entry, Lot, Place
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
def day(product, owner):
    """An open day with 50.00 in the box and five bags at the stall."""
    day = open_day(by=owner)
    bring(product, 5, day.place, reference=f"stall:{day.pk}")
    return day


def at(name, day):
    return reverse(name, args=[day.pk])


def tap(client, day, bag, **data):
    facts = {"key": key(), "do": "sell", "how": "cash", "product": bag.pk} | data
    return client.post(at("stall_day", day), facts)


def words(answer):
    """The page as one reads it: no tags, single spaces."""
    return " ".join(re.sub(r"<[^>]+>", " ", answer.content.decode()).split())


def green():
    return [*inventory.audit.findings(), *shop.audit.findings()] == []


def test_a_day_starts_at_a_new_stall_with_cash_and_leads_to_loading(owner_client):
    facts = {"new_place": "Harbor market", "cash": "50.00"}
    answer = owner_client.post(reverse("stalls"), facts)
    day = StallDay.objects.get()
    assert (day.place.name, day.place.kind, day.float_minor) == ("Harbor market", "stall", 5000)
    assert answer.headers["Location"] == at("stall_load", day)


def test_a_day_starts_at_a_known_stall_with_its_price_list(owner_client):
    place, prices = make_stall(), PriceList.objects.create(name="Stall", percent_off=10)
    facts = {"place": place.pk, "cash": "0", "price_list": prices.pk}
    owner_client.post(reverse("stalls"), facts)
    assert StallDay.objects.get().price_list == prices


@pytest.mark.parametrize(
    ("facts", "said"),
    [
        ({"cash": "50"}, "Choose a stall, or name a new one."),
        ({"new_place": "Harbor market", "cash": "50"}, "There is a place of that name."),
        ({"new_place": "Club swap"}, "Cash to begin with :"),
        ({"new_place": "Club swap", "cash": "-5"}, "read"),
        ({"new_place": "Club swap", "cash": "1.234"}, "at most 2 decimals"),
    ],
)
def test_a_start_that_makes_no_sense_says_so_and_keeps_what_was_typed(owner_client, facts, said):
    make_stall()
    answer = owner_client.post(reverse("stalls"), facts)
    assert answer.status_code == 422
    if said != "read":
        assert said in words(answer)
    for value in facts.values():
        assert f'value="{value}"' in answer.content.decode()
    assert not StallDay.objects.exists()


def test_a_second_day_is_not_started_while_one_is_open(owner_client, day):
    answer = owner_client.post(reverse("stalls"), {"place": day.place.pk, "cash": "0"})
    assert answer.status_code == 422
    assert "still open" in words(answer)


def test_loading_moves_the_oldest_bags_and_says_what_orders_hold(owner_client, product, day):
    field = f"item-{product.item_id}"
    answer = owner_client.post(at("stall_load", day), {"key": key(), field: "8"})
    assert answer.status_code == 422
    assert "8 wanted, 7 free, 1 short" in words(answer)
    assert 'value="8"' in answer.content.decode()
    answer = owner_client.post(at("stall_load", day), {"key": key(), field: "3"})
    assert answer.status_code == 302
    assert (left(product, day.place), left(product, None)) == (8, 4)


def test_loading_nothing_is_asked_about(owner_client, day):
    answer = owner_client.post(at("stall_load", day), {"key": key()})
    assert answer.status_code == 422
    assert "Nothing was chosen" in words(answer)


def test_the_load_list_is_a_pdf_with_the_codes_on_the_bags(owner_client, day, product):
    answer = owner_client.get(at("stall_list", day))
    assert answer.headers["Content-Type"] == "application/pdf"
    text = _pdf_text(answer.content)
    assert product.baggings.get().lot.number in text
    assert "5 bags. Cash to begin with: 50.00 USD." in text


def _pdf_text(data):
    pypdf = pytest.importorskip("pypdf")
    import io

    return "\n".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(data)).pages)


def test_a_tap_sells_one_bag_for_cash_and_comes_back_to_it(owner_client, day, product):
    answer = tap(owner_client, day, product)
    assert answer.status_code == 303
    assert answer.headers["Location"] == f"{at('stall_day', day)}#bag-{product.pk}"
    assert left(product, day.place) == 4
    page = words(owner_client.get(at("stall_day", day)))
    assert "1 sold 6.50 taken 56.50 in the box" in page
    assert f"Undo 1 × {product}, 6.50 cash" in page


def test_every_button_of_the_page_carries_a_key_of_its_own(owner_client, day, make_product):
    other = make_product("Mud Crawler, Dusk, 5", bagged=2)
    bring(other, 2, day.place)
    page = owner_client.get(at("stall_day", day)).content.decode()
    keys = re.findall(r'name="key"[^>]*value="([^"]+)"', page)
    assert len(keys) == 4 and len(set(keys)) == 4


def test_a_second_press_of_the_same_button_is_one_sale(owner_client, day, product):
    for _ in range(2):
        assert tap(owner_client, day, product, key="thumb-1").status_code == 303
    assert left(product, day.place) == 4


def test_with_scripts_a_tap_brings_numbers_and_keys_and_no_page(owner_client, day, product):
    facts = {"key": key(), "do": "sell", "how": "card", "product": product.pk}
    answer = owner_client.post(at("stall_day", day), facts, headers={"HX-Request": "true"})
    page = answer.content.decode()
    assert answer.status_code == 200
    assert "<html" not in page
    assert f'id="left-{product.pk}" hx-swap-oob="true">4<' in page
    assert f'id="key-cash-{product.pk}"' in page and 'id="stall-bar" hx-swap-oob="true"' in page


def test_the_last_tap_is_undone_and_then_the_one_before(owner_client, day, product):
    tap(owner_client, day, product)
    tap(owner_client, day, product, how="card")
    for expected in (4, 5):
        sale = stall.board(day).last
        facts = {"key": key(), "do": "undo", "sale": sale.pk}
        assert owner_client.post(at("stall_day", day), facts).status_code == 303
        assert left(product, day.place) == expected
    assert stall.board(day).last is None
    assert green()


def test_an_undo_pressed_twice_undoes_once(owner_client, day, product):
    tap(owner_client, day, product)
    tap(owner_client, day, product)
    facts = {"key": "undo-1", "do": "undo", "sale": stall.board(day).last.pk}
    for _ in range(2):
        assert owner_client.post(at("stall_day", day), facts).status_code == 303
    assert left(product, day.place) == 4
    answer = owner_client.post(at("stall_day", day), facts | {"key": "undo-2"})
    assert answer.status_code == 422
    assert "already undone" in words(answer)


def test_more_sold_than_was_loaded_is_a_question_that_can_be_answered(owner_client, day, product):
    for _ in range(5):
        tap(owner_client, day, product)
    answer = tap(owner_client, day, product, key="sixth")
    assert answer.status_code == 422
    page = words(answer)
    assert "1 sold, none left at Harbor market by the books." in page
    assert "The last one was sold at" in page
    assert "Yes, really: it was sold" in page
    assert left(product, day.place) == 0
    answer = tap(owner_client, day, product, key="sixth", really="on")
    assert answer.status_code == 303
    assert stall.takings(day).bags == 6
    assert Lot.objects.filter(place=day.place, count_me=True).count() == 1
    assert left(product, None) == 7
    assert green()


def test_of_two_phones_that_sell_the_last_bag_one_is_asked(
    owner_client, helper_client, day, product
):
    for _ in range(4):
        tap(owner_client, day, product)
    assert tap(owner_client, day, product).status_code == 303
    answer = tap(helper_client, day, product)
    assert answer.status_code == 422
    assert re.search(r"The last one was sold at \d\d:\d\d by wren\.", words(answer))


@pytest.mark.parametrize(
    "data",
    [
        {"product": 10**12},
        {"product": ""},
        {"do": "steal"},
        {"how": "barter"},
        {"do": "undo", "sale": 99},
        {"do": "undo", "sale": ""},
    ],
)
def test_a_tap_that_says_nothing_sells_nothing(owner_client, day, product, data):
    assert tap(owner_client, day, product, **data).status_code == 422
    assert not Sale.objects.exists()


def test_several_bags_and_another_price_are_one_sale(owner_client, day, product, make_product):
    other = make_product("Mud Crawler, Dusk, 5", bagged=2)
    bring(other, 2, day.place)
    facts = {
        "key": key(),
        "how": "card",
        f"bags-{product.pk}": "2",
        f"price-{product.pk}": "5",
        f"bags-{other.pk}": "1",
    }
    assert owner_client.post(at("stall_several", day), facts).status_code == 302
    sale = Sale.objects.get()
    assert {(line.product, line.bags, line.price_minor) for line in sale.lines.all()} == {
        (product, 2, 500),
        (other, 1, 650),
    }
    assert stall.takings(day).card_minor == 1650


def test_a_product_that_was_never_loaded_can_be_sold_from_the_list(owner_client, day, make_product):
    other = make_product("Mud Crawler, Dusk, 5", bagged=2)
    facts = {"key": key(), "how": "cash", "other": other.pk, "other_bags": "1"}
    answer = owner_client.post(at("stall_several", day), facts)
    assert answer.status_code == 422
    assert "Sold all the same?" in words(answer)
    assert owner_client.post(at("stall_several", day), facts | {"really": "on"}).status_code == 302
    assert stall.takings(day).bags == 1


@pytest.mark.parametrize(
    ("bags", "price", "said"),
    [
        ("0", "", "at least 1"),
        ("1000000000000", "", "at most 10,000"),
        ("1.5", "", "whole number"),
        ("", "5", "A price without bags"),
        ("two", "", "number"),
    ],
)
def test_several_says_at_the_field_what_is_wrong(owner_client, day, product, bags, price, said):
    facts = {
        "key": key(),
        "how": "cash",
        f"bags-{product.pk}": bags,
        f"price-{product.pk}": price,
    }
    answer = owner_client.post(at("stall_several", day), facts)
    assert answer.status_code == 422
    assert said in words(answer)
    assert f'value="{bags}"' in answer.content.decode() or not bags
    assert not Sale.objects.exists()


def count(client, day, product, seen, books=5, **data):
    facts = {"key": key(), f"left-{product.pk}": seen, f"books-{product.pk}": books} | data
    return client.post(at("stall_count", day), facts)


def test_a_count_that_agrees_is_posted(owner_client, day, product):
    assert count(owner_client, day, product, "5").status_code == 302
    assert Entry.objects.filter(kind=Entry.Kind.COUNT).count() == 1


def test_what_is_missing_is_asked_about_and_then_booked(owner_client, day, product):
    answer = count(owner_client, day, product, "3")
    assert answer.status_code == 422
    assert "2 missing: sold, or lost?" in words(answer)
    fate = {f"fate-{product.pk}": "sold"}
    assert count(owner_client, day, product, "3", **fate).status_code == 302
    assert stall.cash(day).expected_minor == 6300
    fate = {f"fate-{product.pk}": "lost"}
    assert count(owner_client, day, product, "2", books=3, **fate).status_code == 302
    assert left(product, day.place) == 2
    assert stall.cash(day).expected_minor == 6300
    assert green()


def test_more_than_the_books_know_is_asked_about(owner_client, day, product):
    answer = count(owner_client, day, product, "6")
    assert answer.status_code == 422
    assert "6 counted, 5 by the books. Book it as counted?" in words(answer)
    assert count(owner_client, day, product, "6", really="on").status_code == 302
    assert left(product, day.place) == 6


def test_a_sale_between_looking_and_counting_is_said(owner_client, day, product):
    tap(owner_client, day, product)
    answer = count(owner_client, day, product, "4", books=5)
    assert answer.status_code == 422
    assert "The books say 4 now" in words(answer)
    assert f'name="books-{product.pk}" value="4"' in answer.content.decode()


@pytest.mark.parametrize("seen", ["-1", "1.5", "many", "1000000000000"])
def test_a_count_that_is_no_number_of_bags_is_refused(owner_client, day, product, seen):
    answer = count(owner_client, day, product, seen)
    assert answer.status_code == 422
    assert f'value="{seen}"' in answer.content.decode()
    assert not Entry.objects.filter(kind=Entry.Kind.COUNT).exists()


def test_what_is_left_comes_home_as_it_was(owner_client, day, product):
    tap(owner_client, day, product)
    assert 'value="4"' in owner_client.get(at("stall_home", day)).content.decode()
    bin_ = Place.objects.create(name="Bin 3", kind=Place.Kind.BIN)
    facts = {"key": key(), f"item-{product.item_id}": "4", "place": bin_.pk}
    assert owner_client.post(at("stall_home", day), facts).status_code == 302
    assert (left(product, day.place), left(product, None), left(product, bin_)) == (0, 11, 4)
    assert green()


def test_bags_never_come_home_to_another_stall(owner_client, day, product):
    other = make_stall("Club swap")
    facts = {"key": key(), f"item-{product.item_id}": "4", "place": other.pk}
    assert owner_client.post(at("stall_home", day), facts).status_code == 422


def test_the_cash_is_compared_and_a_difference_said_plainly(owner_client, day, product):
    tap(owner_client, day, product)
    tap(owner_client, day, product, how="card")
    assert "The box should hold 56.50 USD" in words(owner_client.get(at("stall_end", day)))
    facts = {"counted": "50.00", "note": "Rain since noon."}
    answer = owner_client.post(at("stall_end", day), facts)
    assert answer.status_code == 422
    assert "The box should hold 56.50: 6.50 is missing. Close the day with that?" in words(answer)
    assert owner_client.post(at("stall_end", day), facts | {"really": "on"}).status_code == 302
    page = words(owner_client.get(at("stall_day", day)))
    assert "6.50 missing in the box." in page
    assert "Rain since noon." in page and "Still at Harbor market" in page


def test_cash_that_agrees_closes_the_day_without_a_question(owner_client, day):
    assert owner_client.post(at("stall_end", day), {"counted": "50"}).status_code == 302
    page = words(owner_client.get(at("stall_day", day)))
    assert "The box agrees with the books to the cent." in page
    assert "Nothing was sold." in page


def test_a_closed_day_leads_back_to_its_summary(owner_client, day, product):
    stalls.close_day(day, counted_minor=5000)
    for name in ("stall_load", "stall_several", "stall_count", "stall_end"):
        assert owner_client.get(at(name, day)).headers["Location"] == at("stall_day", day)
    assert tap(owner_client, day, product).status_code == 422
    assert not Sale.objects.exists()
    owner_client.post(at("stall_reopen", day))
    assert tap(owner_client, day, product).status_code == 303


def test_the_summary_is_a_pdf_with_the_same_sums(owner_client, day, product):
    tap(owner_client, day, product)
    stalls.close_day(day, counted_minor=5700)
    text = _pdf_text(owner_client.get(at("stall_summary", day)).content)
    assert "1 bag sold for 6.50 USD." in text
    assert "0.50 too much in the box." in text


def test_tonight_shows_a_stall_that_is_still_open(owner_client, day):
    assert "Harbor market" in words(owner_client.get(reverse("tonight")))
    StallDay.objects.update(business_date=timezone.localdate() - timedelta(days=1))
    assert "still open: count the cash" in words(owner_client.get(reverse("tonight")))
    stalls.close_day(day, counted_minor=0)
    assert "Harbor market" not in words(owner_client.get(reverse("tonight")))


def test_a_helper_runs_a_whole_day_and_sees_no_costs(helper_client, day, product):
    assert tap(helper_client, day, product).status_code == 303
    for name in (
        "stall_day",
        "stall_load",
        "stall_several",
        "stall_count",
        "stall_home",
        "stall_end",
    ):
        answer = helper_client.get(at(name, day))
        assert answer.status_code == 200, name
        assert not re.search(r'class="[^"]*\bcost\b', answer.content.decode()), name
    assert helper_client.get(reverse("stalls")).status_code == 200
    assert helper_client.get(reverse("consignment")).status_code == 403


@pytest.mark.parametrize(
    "name",
    ["stall_day", "stall_load", "stall_several", "stall_count", "stall_home", "stall_end"],
)
def test_no_stall_page_asks_more_of_the_database_for_more_products(
    owner_client, day, make_product, name
):
    def sell_some(numbers):
        for n in numbers:
            product = make_product(f"Bait {n}, 5", bagged=4)
            bring(product, 2, day.place)
            lines = [selling.Sold(product, 1, 650)]
            selling.sell(key=key(), day=day, lines=lines, how="cash", by=None)

    sell_some(range(3))
    owner_client.get(at(name, day))
    with CaptureQueriesContext(connection) as few:
        owner_client.get(at(name, day))
    sell_some(range(3, 9))
    with CaptureQueriesContext(connection) as many:
        owner_client.get(at(name, day))
    assert len(many) == len(few)


def test_the_list_of_days_asks_the_same_for_many(owner_client, day):
    with CaptureQueriesContext(connection) as few:
        owner_client.get(reverse("stalls"))
    for _ in range(6):
        stalls.close_day(StallDay.objects.get(closed_at=None), counted_minor=0)
        stalls.open_day(place=day.place, by=None)
    with CaptureQueriesContext(connection) as many:
        owner_client.get(reverse("stalls"))
    assert len(many) == len(few)


@pytest.mark.parametrize("name", ["stall_day", "stall_load", "stall_list", "stall_end"])
def test_a_day_that_is_not_there_is_said_so(owner_client, name):
    assert owner_client.get(reverse(name, args=[404])).status_code == 404
