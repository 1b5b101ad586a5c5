"""The books: every sum is checked against figures worked by hand."""

from datetime import date

import pytest
from django.urls import reverse

from inventory.services import counts
from shop import books
from shop.models import Order
from shop.services import returns, shipping
from tests import factories
from tests.factories import key, micro

pytestmark = pytest.mark.django_db


def test_value_on_hand_is_summed_by_kind_and_the_unknown_is_said():
    factories.make_lot(factories.make_item("colorant"), 100, 12)
    factories.make_lot(factories.make_item("colorant"), 100, 8.5)
    factories.make_lot(factories.make_item("colorant"), 100, None)
    factories.make_lot(factories.make_plastisol(), 100, None)
    rows = {row.kind: (row.lots, str(row.value)) for row in books.value_by_kind()}
    assert rows == {"colorant": (3, "20.50 + 1 unknown"), "plastisol": (1, "unknown")}


def test_goods_that_cost_nothing_are_not_unknown():
    factories.make_lot(factories.make_item("colorant"), 100, 0)
    assert str(books.value_by_kind()[0].value) == "0.00"


def test_the_books_go_back_twelve_months_and_no_further():
    item = factories.make_item()
    factories.make_lot(item, 10, 7, on=date(2025, 12, 1))
    factories.make_lot(item, 10, 5, on=date(2025, 11, 30))
    factories.make_lot(item, 10, 3, on=date(2026, 11, 25))
    months = books.months(date(2026, 11, 25))
    assert [months[0].first, months[-1].first] == [date(2026, 11, 1), date(2025, 12, 1)]
    assert [str(month.spent) for month in (months[0], months[-1])] == ["3.00", "7.00"]
    assert str(books.year(months).spent) == "10.00"


def test_a_shipment_shows_what_left_and_what_it_came_to(make_product, take_order):
    product = make_product(bagged=10, price_minor=650)
    shipping.ship(key=key(), order=take_order((product, 4)), by=None)
    month = books.months(date.today())[0]
    # Four bags at 6.50; each cost five baits at 0.10 and a pouch at 0.05.
    assert month.charged_minor == 2600
    assert str(month.left) == "2.20"


def test_an_undone_shipment_counts_for_nothing_and_a_second_one_once(make_product, take_order):
    product = make_product(bagged=10, price_minor=650)
    order = take_order((product, 4))
    entry = shipping.ship(key=key(), order=order, by=None)
    counts.undo(key=key(), entry=entry, by=None)
    month = books.months(date.today())[0]
    assert (month.charged_minor, str(month.left)) == (0, "0.00")
    shipping.ship(key=key(), order=Order.objects.get(), by=None)
    month = books.months(date.today())[0]
    assert (month.charged_minor, str(month.left)) == (2600, "2.20")


def test_an_order_counts_once_however_many_parcels_it_took(make_product, take_order):
    order = take_order((make_product(bagged=10, price_minor=650), 4))
    Order.objects.filter(pk=order.pk).update(discount_percent="10", shipping_minor=500)
    line = order.lines.select_related("product__item").get()
    for bags, charged in ((1, 0), (3, 2840)):
        packed = [shipping.Packed(line, bags)]
        shipping.ship(key=key(), order=order, packed=packed, by=None)
        # 26.00 less a tenth, and 5.00 for shipping, once all of it has left.
        assert books.months(date.today())[0].charged_minor == charged


def test_what_came_back_did_not_leave_and_what_was_thrown_away_is_waste(make_product, take_order):
    order = take_order((make_product(bagged=4, price_minor=650), 4))
    shipment = shipping.ship(key=key(), order=order, by=None).shipment
    drawn = shipment.entry.movements.get()
    for fate in ("stock", "waste"):
        returns.take_back(key=key(), shipment=shipment, bags={drawn.pk: 1}, fate=fate, by=None)
    month = books.months(date.today())[0]
    # A bag cost 0.55: two of four came back, and one of those was thrown away.
    assert (str(month.left), str(month.wasted)) == ("1.10", "0.55")
    assert month.charged_minor == 2 * 650


def test_waste_and_count_losses_are_told_apart():
    lot = factories.make_lot(factories.make_item(), 100, 50)
    counts.waste(key=key(), lot=lot, quantity=micro(10), reason="spilled", by=None)
    counts.count(key=key(), lot=lot, counted=micro(88), by=None)
    month = books.months(date.today())[0]
    assert (str(month.wasted), str(month.counted)) == ("5.00", "-1.00")


def test_the_books_say_that_tax_may_be_due(owner_client):
    page = owner_client.get(reverse("books")).content.decode()
    assert "US excise tax may be due. Ask a tax adviser." in page


def test_the_books_of_a_new_shop_open(owner_client):
    assert b"The shelf is empty" in owner_client.get(reverse("books")).content
