"""Bags that someone else sells for us: ours until a count says that they were sold."""

import re
from decimal import Decimal
from fractions import Fraction

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from hypothesis import given, settings
from hypothesis import strategies as st

import inventory.audit
import shop.audit
from inventory.models import Entry, Place
from inventory.services import counts
from shop import books, money, stall
from shop.models import Consignee, Customer, PriceList, Sale
from shop.services import consigning, selling
from tests.factories import key
from tests.shop.stalls import bring, left
from tests.shop.test_stall import _pdf_text, words

pytestmark = pytest.mark.django_db


@pytest.fixture
def product(make_product):
    return make_product(bagged=12)


def make_consignee(name="Cove Outfitters", keeps="30", price_list=None):
    return consigning.save(
        None,
        customer=Customer.objects.get_or_create(name=f"{name} Inc.")[0],
        place_name=name,
        commission_percent=Decimal(keeps),
        price_list=price_list,
    )


@pytest.fixture
def consignee(product):
    """A shop that keeps 30 per cent, with five bags."""
    found = make_consignee()
    bring(product, 5, found.place, reference=f"consignee:{found.pk}")
    return found


def settle(consignee, product, seen, books=5, price=650):
    counted = [selling.Left(product, books, seen, price)]
    return selling.settle(key=key(), consignee=consignee, counted=counted, by=None)


def at(name, consignee):
    return reverse(name, args=[consignee.pk])


def green():
    return [*inventory.audit.findings(), *shop.audit.findings()] == []


def test_what_is_missing_at_the_count_was_sold_and_they_keep_their_part(consignee, product):
    sale = settle(consignee, product, seen=2).sale
    # By hand: 3 × 6.50 = 19.50, of which 30 % is 5.85.
    assert (sale.lines.get().bags, sale.commission_minor) == (3, 585)
    assert (sale.how, sale.customer) == ("settled", consignee.customer)
    assert (left(product, consignee.place), left(product, None)) == (2, 7)
    assert green()


def test_the_commission_is_rounded_half_up_once_for_the_whole_settlement(product):
    found = make_consignee(keeps="12.5")
    bring(product, 5, found.place)
    # By hand: an eighth of 6.52 is 0.815, up to 0.82; an eighth of 4 × 6.53 = 26.12 is 3.265, up to 3.27.
    assert settle(found, product, seen=4, price=652).sale.commission_minor == 82
    assert settle(found, product, seen=0, books=4, price=653).sale.commission_minor == 327


@settings(deadline=None, max_examples=200)
@given(st.integers(0, 10**9), st.decimals(0, 100, places=2))
def test_a_commission_is_the_exact_share_to_the_nearest_cent(total, percent):
    exact = Fraction(total) * Fraction(percent) / 100
    kept = money.share(total, percent)
    assert kept - exact <= Fraction(1, 2) and exact - kept < Fraction(1, 2)


def test_nothing_sold_is_a_count_and_no_sale(consignee, product):
    entry = settle(consignee, product, seen=5)
    assert entry.kind == Entry.Kind.COUNT
    assert not Sale.objects.exists()


def test_an_undone_settlement_brings_the_bags_back_and_counts_for_nothing(consignee, product):
    entry = settle(consignee, product, seen=2)
    counts.undo(key=key(), entry=entry, by=None)
    assert left(product, consignee.place) == 5
    assert not stall.standing_sales().exists()
    assert books.year(books.months(entry.business_date)).sold_minor == 0
    assert green()


def test_what_was_agreed_stays_with_what_was_settled(consignee, product):
    sale = settle(consignee, product, seen=3).sale
    consigning.save(
        consignee,
        customer=consignee.customer,
        place_name="Cove Outfitters",
        commission_percent=Decimal(50),
        price_list=None,
    )
    assert Sale.objects.get(pk=sale.pk).commission_minor == 390
    assert settle(consignee, product, seen=2, books=3).sale.commission_minor == 325


def test_a_new_consignee_gets_a_place_and_a_customer(owner_client):
    facts = {"new_customer": "Juniper Vale", "place_name": "Vale Bait & Tackle", "commission": "30"}
    answer = owner_client.post(reverse("consignee_new"), facts)
    found = Consignee.objects.get()
    assert answer.headers["Location"] == at("consignee", found)
    assert (found.place.kind, found.customer.name) == (Place.Kind.CONSIGNEE, "Juniper Vale")


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"commission": "101"}, "at most 100"),
        ({"commission": "-1"}, "Keeps of each sale"),
        ({"commission": "a third"}, "Keeps of each sale"),
        ({"new_customer": ""}, "Choose a customer, or name a new one."),
        ({"new_customer": "Wren Abbot"}, "There is a customer of that name."),
        ({"place_name": "Bin 3"}, "There is a place of that name already."),
    ],
)
def test_a_consignee_that_makes_no_sense_is_refused_at_the_field(owner_client, change, said):
    Customer.objects.create(name="Wren Abbot")
    Place.objects.create(name="Bin 3", kind=Place.Kind.BIN)
    facts = {"new_customer": "Juniper Vale", "place_name": "Cove", "commission": "30"} | change
    answer = owner_client.post(reverse("consignee_new"), facts)
    assert answer.status_code == 422
    assert said in words(answer)
    for value in facts.values():
        assert f'value="{value}"' in answer.content.decode() or not value
    assert not Consignee.objects.exists()


def test_a_consignee_is_changed_and_its_place_renamed(owner_client, consignee):
    facts = {
        "customer": consignee.customer_id,
        "place_name": "Cove Outfitters, Main Street",
        "commission": "25",
    }
    assert owner_client.post(at("consignee_edit", consignee), facts).status_code == 302
    consignee.refresh_from_db()
    assert consignee.place.name == "Cove Outfitters, Main Street"
    assert consignee.commission_percent == 25
    assert left_at(consignee) == 5


def left_at(consignee):
    return sum(row.left for row in stall.rows_at(consignee.place, consignee.price_list))


def test_bags_are_brought_there_and_home_again(owner_client, consignee, product):
    field = f"item-{product.item_id}"
    answer = owner_client.post(at("consignee_bring", consignee), {"key": key(), field: "2"})
    assert answer.status_code == 302
    assert left(product, consignee.place) == 7
    answer = owner_client.post(at("consignee_back", consignee), {"key": key(), field: "6"})
    assert answer.status_code == 302
    assert (left(product, consignee.place), left(product, None)) == (1, 11)
    assert green()


def test_the_sums_are_looked_at_before_a_settlement_is_posted(owner_client, consignee, product):
    facts = {
        "key": key(),
        f"left-{product.pk}": "2",
        f"books-{product.pk}": "5",
    }
    answer = owner_client.post(at("consignee_settle", consignee), facts)
    assert answer.status_code == 422
    asked = "3 bags sold for 19.50; Cove Outfitters Inc. keeps 5.85, 13.65 is due. Is that right?"
    assert asked in words(answer)
    assert not Sale.objects.exists()
    answer = owner_client.post(at("consignee_settle", consignee), facts | {"really": "on"})
    sale = Sale.objects.get()
    assert answer.headers["Location"] == reverse("settlement", args=[sale.pk])
    page = words(owner_client.get(answer.headers["Location"]))
    assert "Cove Outfitters Inc. keeps 5.85 USD Due to you 13.65 USD" in page


def test_more_than_the_books_know_is_asked_about_at_a_settlement_too(
    owner_client, consignee, product
):
    facts = {"key": key(), f"left-{product.pk}": "6", f"books-{product.pk}": "5"}
    answer = owner_client.post(at("consignee_settle", consignee), facts)
    assert "6 counted, 5 by the books." in words(answer)
    owner_client.post(at("consignee_settle", consignee), facts | {"really": "on"})
    assert left(product, consignee.place) == 6


def test_the_settlement_to_send_has_the_sums_of_the_page(owner_client, consignee, product):
    sale = settle(consignee, product, seen=2).sale
    answer = owner_client.get(reverse("settlement_pdf", args=[sale.pk]))
    text = _pdf_text(answer.content)
    for figure in ("19.50", "5.85", "13.65", "Cove Outfitters Inc.", "2 bags"):
        assert figure in text


def test_an_undone_settlement_says_so_on_its_page(owner_client, consignee, product):
    sale = settle(consignee, product, seen=2).sale
    counts.undo(key=key(), entry=sale.entry, by=None)
    assert "This settlement was undone" in words(
        owner_client.get(reverse("settlement", args=[sale.pk]))
    )


def test_prices_are_those_of_their_own_list(owner_client, product):
    prices = PriceList.objects.create(name="Consignment", percent_off=20)
    found = make_consignee(price_list=prices)
    bring(product, 2, found.place)
    # By hand: 6.50 less a fifth is 5.20.
    page = words(owner_client.get(at("consignee", found)))
    assert re.search(r"5\.20 each; \S+ 2 10\.40", page)


def test_the_overview_tells_what_lies_where_and_when_it_was_settled(
    owner_client, consignee, product
):
    page = words(owner_client.get(reverse("consignment")))
    assert re.search(r"Cove Outfitters Cove Outfitters Inc\. 5 30 % never", page)
    settle(consignee, product, seen=2)
    assert "2 30 % today" in words(owner_client.get(reverse("consignment")))


def test_consignment_is_the_owners(helper_client, consignee):
    for name in ("consignee", "consignee_edit", "consignee_settle", "consignee_bring"):
        assert helper_client.get(at(name, consignee)).status_code == 403


@pytest.mark.parametrize(
    "name", ["consignment", "consignee", "consignee_settle", "consignee_bring", "consignee_back"]
)
def test_no_page_of_consignment_asks_more_of_the_database_for_more_rows(
    owner_client, consignee, make_product, name
):
    args = [] if name == "consignment" else [consignee.pk]

    def add(numbers):
        for n in numbers:
            other = make_product(f"Bait {n}, 5", bagged=4)
            bring(other, 2, consignee.place)
            settle(consignee, other, seen=1, books=2)
            bring(other, 1, make_consignee(f"Shop {n}").place)

    add(range(2))
    owner_client.get(reverse(name, args=args))
    with CaptureQueriesContext(connection) as few:
        owner_client.get(reverse(name, args=args))
    add(range(2, 7))
    with CaptureQueriesContext(connection) as many:
        owner_client.get(reverse(name, args=args))
    assert len(many) == len(few)


def test_a_settlement_that_is_no_settlement_is_not_found(owner_client, product):
    assert owner_client.get(reverse("settlement", args=[1])).status_code == 404
    assert owner_client.get(reverse("consignee", args=[1])).status_code == 404
