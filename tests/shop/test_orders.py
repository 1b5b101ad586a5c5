"""Orders against the shelf: what is missing, what ships, and what an undo opens again."""

from concurrent.futures import ThreadPoolExecutor
from datetime import date

import pytest
from django.db import connection

from inventory.models import Entry, Lot
from inventory.services import counts
from inventory.services.posting import LedgerError
from production.services import bagging
from shop import queries
from shop.models import Order, Shipment
from shop.services import orders, shipping
from tests.factories import key, micro

pytestmark = pytest.mark.django_db


def _state(order):
    return queries.orders().get(pk=order.pk).status


def _lines(*wanted):
    return queries.line_states(wanted)


def test_a_line_says_what_is_bagged_what_could_be_and_what_is_missing(make_product, take_order):
    product = make_product(loose=17, bagged=2)
    order = take_order((product, 9))
    line = _lines(order)[order.pk][0]
    # 17 loose baits fill three bags of five; 9 - 2 - 3 = 4.
    assert (line.bagged, line.could_bag, line.missing, line.unbagged) == (2, 3, 4, 7)


def test_what_could_be_bagged_is_no_more_than_what_is_wanted(make_product, take_order):
    order = take_order((make_product(loose=100), 3))
    line = _lines(order)[order.pk][0]
    assert (line.could_bag, line.missing, line.ready) == (3, 0, False)


def test_the_order_due_first_takes_bags_and_baits_first(make_product, take_order):
    product = make_product(loose=10, bagged=4)
    later = take_order((product, 5), due_on=date(2026, 12, 20))
    sooner = take_order((product, 5), due_on=date(2026, 12, 4))
    undated = take_order((product, 1))
    due = list(queries.open_orders())
    assert [order.pk for order in due] == [sooner.pk, later.pk, undated.pk]
    states = {pk: lines[0] for pk, lines in _lines(*due).items()}
    assert (states[sooner.pk].bagged, states[sooner.pk].could_bag) == (4, 1)
    assert (states[later.pk].bagged, states[later.pk].could_bag) == (0, 1)
    assert states[later.pk].missing == 4
    assert states[undated.pk].missing == 1


def test_the_price_is_the_list_price_unless_another_was_agreed(make_product, take_order):
    first, second = make_product("A", price_minor=650), make_product("B", price_minor=700)
    order = take_order((first, 1))
    orders.change(
        order,
        customer=order.customer,
        lines=[orders.Wanted(first, 2), orders.Wanted(second, 1, price_minor=0)],
    )
    assert list(order.lines.values_list("bags", "price_minor")) == [(2, 650), (1, 0)]


def test_shipping_draws_the_first_expiring_bags_and_carries_their_cost(make_product, take_order):
    product = make_product(loose=20, bagged=3)
    bagging.bag(key=key(), product=product, bags=4, by=None)
    early = product.item.lots.order_by("-id").first()
    Lot.objects.filter(pk=early.pk).update(expires_on=date(2027, 1, 1))
    order = take_order((product, 5))
    entry = shipping.ship(key=key(), order=order, by=None)
    drawn = [(line.lot_id, line.quantity) for line in entry.movements.all()]
    late = product.item.lots.exclude(pk=early.pk).get()
    assert drawn == [(early.pk, micro(-4)), (late.pk, micro(-1))]
    # A bag: five baits at 0.10 and a pouch at 0.05.
    assert sum(line.cost for line in entry.movements.all()) == micro(5 * -0.55)
    assert (entry.kind, entry.reference) == (Entry.Kind.SHIPMENT, f"order:{order.pk}")
    assert _state(order) == Order.Status.SHIPPED


def test_missing_bags_are_refused_with_what_is_short_and_by_how_much(make_product, take_order):
    short, enough = make_product("Short", bagged=2), make_product("Enough", bagged=9)
    order = take_order((short, 5), (enough, 5))
    with pytest.raises(LedgerError, match="Short: 5 to send, 2 ready, 3 short"):
        shipping.ship(key=key(), order=order, by=None)
    assert not Shipment.objects.exists()
    assert enough.item.lots.get().on_hand == micro(9)
    assert _state(order) == Order.Status.OPEN


def test_bags_that_something_else_holds_do_not_ship(make_product, take_order):
    product = make_product(bagged=5)
    product.item.lots.update(reserved=micro(2))
    with pytest.raises(LedgerError, match="4 to send, 3 ready, 1 short"):
        shipping.ship(key=key(), order=take_order((product, 4)), by=None)


def test_the_same_key_ships_once(make_product, take_order):
    product = make_product(bagged=10)
    order = take_order((product, 4))
    first = shipping.ship(key="once", order=order, by=None)
    assert shipping.ship(key="once", order=order, by=None) == first
    assert product.item.lots.get().on_hand == micro(6)


def test_a_shipped_order_does_not_ship_again(make_product, take_order):
    order = take_order((make_product(bagged=10), 4))
    shipping.ship(key=key(), order=order, by=None)
    with pytest.raises(LedgerError, match="has shipped"):
        shipping.ship(key=key(), order=order, by=None)


def test_undoing_the_shipment_opens_the_order_and_it_can_ship_again(make_product, take_order):
    product = make_product(bagged=4)
    order = take_order((product, 4))
    entry = shipping.ship(key=key(), order=order, by=None)
    assert order not in queries.open_orders()
    counts.undo(key=key(), entry=entry, by=None)
    assert _state(order) == Order.Status.OPEN
    assert order in queries.open_orders()
    shipping.ship(key=key(), order=order, by=None)
    assert _state(order) == Order.Status.SHIPPED
    assert product.item.lots.get().on_hand == 0


def test_a_cancelled_order_is_neither_shipped_nor_changed(make_product, take_order):
    product = make_product(bagged=4)
    order = take_order((product, 4))
    orders.cancel(order)
    with pytest.raises(LedgerError, match="was cancelled"):
        shipping.ship(key=key(), order=order, by=None)
    with pytest.raises(orders.OrderError, match="was cancelled"):
        orders.change(order, customer=order.customer, lines=[])
    assert order not in queries.open_orders()


def test_a_shipped_order_is_not_cancelled_until_its_shipment_is_undone(make_product, take_order):
    order = take_order((make_product(bagged=4), 4))
    entry = shipping.ship(key=key(), order=order, by=None)
    with pytest.raises(orders.OrderError, match="Undo"):
        orders.cancel(order)
    counts.undo(key=key(), entry=entry, by=None)
    orders.cancel(order)
    assert _state(order) == Order.Status.CANCELLED


@pytest.mark.django_db(transaction=True)
def test_two_people_shipping_one_order_at_once_ship_it_once(make_product, take_order):
    product = make_product(bagged=10)
    order = take_order((product, 4))

    def ship(_):
        try:
            shipping.ship(key=key(), order=order, by=None)
            return "shipped"
        except LedgerError as error:
            return str(error)
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as people:
        answers = sorted(people.map(ship, range(2)))
    assert answers == ["This order has shipped. Undo its shipment first.", "shipped"]
    assert order.shipments.count() == 1
    assert product.item.lots.get().on_hand == micro(6)
