"""Money for an order: written down once, asked about when it is too much, and given back."""

import re
from concurrent.futures import ThreadPoolExecutor
from datetime import date, timedelta

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.urls import reverse
from django.utils import timezone

from inventory.services.posting import KeyReused
from shop import queries
from shop.models import Payment
from shop.services import orders, payments
from tests.factories import key

pytestmark = pytest.mark.django_db


def _pay(order, amount, kind="payment", **facts):
    facts = {"key": key(), "by": None} | facts
    return payments.record(order=order, kind=kind, amount_minor=amount, **facts)


def test_deposit_payment_and_refund_leave_what_is_due(make_product, take_order):
    order = take_order((make_product(price_minor=650), 4))
    _pay(order, 1000, "deposit")
    _pay(order, 1800)
    _pay(order, 200, "refund")
    money = queries.money_of(order)
    # 4 × 6.50 = 26.00; 10.00 + 18.00 − 2.00 came in.
    assert (money.total_minor, money.paid_minor, money.due_minor) == (2600, 2600, 0)
    assert list(order.payments.values_list("amount_minor", flat=True)) == [1000, 1800, -200]


def test_the_same_form_sent_twice_is_written_down_once(make_product, take_order):
    order = take_order((make_product(), 4))
    first = _pay(order, 500, key="once")
    assert _pay(order, 500, key="once") == first
    with pytest.raises(KeyReused, match="with other figures"):
        _pay(order, 700, key="once")
    assert Payment.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_two_presses_at_once_are_one_payment(make_product, take_order):
    order = take_order((make_product(), 4))

    def pay(_):
        try:
            return _pay(order, 500, key="both").pk
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as hands:
        assert len(set(hands.map(pay, range(2)))) == 1
    assert Payment.objects.count() == 1


def test_no_more_goes_back_than_came(make_product, take_order):
    order = take_order((make_product(), 4))
    _pay(order, 500)
    with pytest.raises(ValidationError, match=r"Only 5\.00 was paid"):
        _pay(order, 501, "refund")


@pytest.mark.parametrize("amount", [0, -5])
def test_nothing_is_no_payment(make_product, take_order, amount):
    with pytest.raises(ValidationError, match="more than nothing"):
        _pay(take_order((make_product(), 1)), amount)


def test_a_day_to_come_is_refused(make_product, take_order):
    tomorrow = timezone.localdate() + timedelta(days=1)
    with pytest.raises(ValidationError, match="still to come"):
        _pay(take_order((make_product(), 1)), 500, paid_on=tomorrow)


def test_money_for_a_cancelled_order_only_goes_back(make_product, take_order):
    order = take_order((make_product(), 4))
    _pay(order, 500)
    orders.cancel(order)
    with pytest.raises(ValidationError, match="was cancelled"):
        _pay(order, 100)
    _pay(order, 500, "refund")
    assert queries.money_of(order).paid_minor == 0


def _form(page, **typed):
    found = re.search(r'name="key" value="([^"]+)"', page.content.decode())[1]
    return {"key": found, "kind": "payment", "paid_on": "2026-11-20", "how": "cash"} | typed


def test_the_page_writes_a_payment_down_and_the_order_shows_it(
    owner_client, make_product, take_order
):
    order = take_order((make_product(price_minor=650), 4))
    url = reverse("payment_new", args=[order.pk])
    page = owner_client.get(url)
    # What is due stands in the field.
    assert 'value="26.00"' in page.content.decode()
    owner_client.post(url, _form(page, amount="10", kind="deposit"))
    paid = order.payments.get()
    assert (paid.kind, paid.amount_minor, paid.paid_on, paid.how) == (
        "deposit",
        1000,
        date(2026, 11, 20),
        "cash",
    )
    shown = owner_client.get(reverse("order", args=[order.pk])).content.decode()
    assert "26.00 USD" in shown and "16.00 USD" in shown and "deposit, cash" in shown


def test_more_than_is_due_is_asked_about_and_kept_as_typed(owner_client, make_product, take_order):
    order = take_order((make_product(price_minor=650), 1))
    url = reverse("payment_new", args=[order.pk])
    data = _form(owner_client.get(url), amount="7.00")
    answer = owner_client.post(url, data)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "0.50 more than is due" in page and 'value="7.00"' in page
    assert owner_client.post(url, {**data, "really": "on"}).status_code == 302
    assert (
        "0.50 USD too much paid"
        in owner_client.get(reverse("order", args=[order.pk])).content.decode()
    )
    # The same form once more changes nothing and asks nothing.
    assert owner_client.post(url, {**data, "really": "on"}).status_code == 302
    assert Payment.objects.count() == 1


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"amount": ""}, "Fill this in"),
        ({"amount": "1e12"}, "without the e"),
        ({"amount": "1.234"}, "at most 2 decimals"),
        ({"amount": "-3"}, "less than zero"),
        ({"amount": "3", "kind": "refund"}, "Only 0.00 was paid"),
        ({"amount": "3", "paid_on": "20/11/2026"}, "year-month-day"),
        ({"amount": "3", "key": ""}, "one-time key"),
    ],
)
def test_a_payment_that_makes_no_sense_is_shown_again(
    owner_client, make_product, take_order, typed, said
):
    url = reverse("payment_new", args=[take_order((make_product(), 4)).pk])
    answer = owner_client.post(url, _form(owner_client.get(url), **typed))
    assert answer.status_code == 422 and said in answer.content.decode()
    assert not Payment.objects.exists()


def test_a_helper_sees_no_money_and_writes_none_down(helper_client, make_product, take_order):
    order = take_order((make_product(price_minor=4321), 1))
    _pay(order, 1234)
    page = helper_client.get(reverse("order", args=[order.pk])).content.decode()
    assert "43.21" not in page and "12.34" not in page
    assert helper_client.get(reverse("payment_new", args=[order.pk])).status_code == 403


def test_an_order_that_never_was_takes_no_money(owner_client, shop):
    assert owner_client.get(reverse("payment_new", args=[7])).status_code == 404
