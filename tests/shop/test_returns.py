"""Bags that come back: into the lot they left, at the cost they left at, or thrown away at once."""

from datetime import timedelta

import pytest
from django.utils import timezone

from inventory import audit as shelf_audit
from inventory import queries as shelf
from inventory.models import Movement
from inventory.services import counts, mending
from inventory.services.posting import LedgerError
from inventory.services.reversal import StillUsed
from production.services import bagging
from shop import audit, queries
from shop.models import Order, Payment, Return
from shop.services import orders, payments, returns, shipping
from shop.services.shipping import Packed
from tests import factories
from tests.factories import key, micro

pytestmark = pytest.mark.django_db
STOCK, WASTE = Return.Fate.STOCK, Return.Fate.WASTE


@pytest.fixture
def product(make_product):
    return make_product(bagged=7)


@pytest.fixture
def sent(product, take_order):
    """A parcel of five bags, out of seven; the order is done with it."""
    order = take_order((product, 5))
    return shipping.ship(key=key(), order=order, by=None).shipment


def _green():
    return [*shelf_audit.findings(), *audit.findings()] == []


def _back(shipment, count, fate=STOCK, **facts):
    line = shipment.entry.movements.get(role=Movement.Role.DRAWN, revalues=None)
    return returns.take_back(
        key=key(), shipment=shipment, bags={line.pk: count}, fate=fate, by=None, **facts
    )


def _lot(product):
    return product.item.lots.get()


def test_a_bag_comes_back_with_just_what_it_took_along(product, sent):
    left = sent.entry.movements.get()
    before = _lot(product)
    entry = _back(sent, 5)
    line, lot = entry.movements.get(), _lot(product)
    assert (line.role, line.quantity, line.cost) == ("returned", micro(5), -left.cost)
    assert (line.returns, lot.on_hand) == (left, micro(7))
    assert lot.cost == before.cost - left.cost
    # What came back is the same bags: the lot's composition is what it was.
    assert lot.made == before.made
    assert shelf.composition(lot) == shelf.composition(before)
    assert _green()


def test_coming_back_one_by_one_adds_up_to_what_left(product, sent):
    left = sent.entry.movements.get()
    costs = [_back(sent, 1).movements.get().cost for _ in range(5)]
    assert sum(costs) == -left.cost
    assert max(costs) - min(costs) <= 1
    assert _green()


def test_no_more_comes_back_than_left(product, sent):
    _back(sent, 3)
    with pytest.raises(LedgerError, match="3 to come back, only 2 left with it"):
        _back(sent, 3)
    with pytest.raises(LedgerError, match="how many bags"):
        _back(sent, 0)


def test_bags_of_another_parcel_are_refused(product, sent, take_order):
    other = shipping.ship(key=key(), order=take_order((product, 1)), by=None).shipment
    line = other.entry.movements.get()
    with pytest.raises(LedgerError, match="did not leave with this parcel"):
        returns.take_back(key=key(), shipment=sent, bags={line.pk: 1}, fate=STOCK, by=None)


def test_what_came_back_is_not_paid_for_unless_others_are_sent(product, sent):
    _back(sent, 2)
    order = queries.orders().get()
    line = order.lines.get()
    assert (line.shipped, line.credited, line.billed, line.remaining) == (3, 2, 3, 0)
    assert order.status == Order.Status.SHIPPED
    assert queries.money_of(order).total_minor == 3 * product.price_minor
    _back(sent, 1, replace=True)
    order.refresh_from_db()
    line.refresh_from_db()
    assert (line.shipped, line.credited, line.remaining) == (2, 2, 1)
    assert order.status == Order.Status.OPEN
    assert _green()
    shipping.ship(key=key(), order=order, by=None)
    order.refresh_from_db()
    assert order.status == Order.Status.SHIPPED
    assert _green()


def test_bags_sent_beyond_the_order_come_back_without_credit(product, take_order):
    order = take_order((product, 4))
    packed = [Packed(order.lines.select_related("product__item").get(), 6)]
    shipment = shipping.ship(key=key(), order=order, packed=packed, by=None).shipment
    _back(shipment, 3)
    line = order.lines.get()
    # Two of the three were beyond what was ordered.
    assert (line.shipped, line.credited, line.billed) == (3, 1, 3)
    assert _green()


def test_spoiled_bags_are_thrown_away_as_they_come(product, sent):
    before = _lot(product)
    entry = _back(sent, 2, WASTE, reason="split seams")
    lot = _lot(product)
    assert lot.on_hand == before.on_hand
    assert [line.role for line in entry.movements.order_by("pk")] == ["returned", "drawn"]
    assert entry.note == "split seams"
    assert _green()


def test_a_return_is_undone_like_any_entry(product, sent):
    entry = _back(sent, 2)
    counts.undo(key=key(), entry=entry, by=None)
    line = queries.orders().get().lines.get()
    assert (line.shipped, line.credited) == (5, 0)
    assert _lot(product).on_hand == micro(2)
    assert _green()
    assert _back(sent, 5).movements.get().cost == -sent.entry.movements.get().cost
    assert _green()


def test_a_shipment_is_not_undone_while_something_of_it_came_back(product, sent):
    back = _back(sent, 2)
    with pytest.raises(StillUsed, match="Came back from"):
        counts.undo(key=key(), entry=sent.entry, by=None)
    counts.undo(key=key(), entry=back, by=None)
    counts.undo(key=key(), entry=sent.entry, by=None)
    assert _lot(product).on_hand == micro(7)
    assert _green()


def test_a_return_is_not_undone_once_its_bags_went_on(product, sent, take_order):
    back = _back(sent, 5)
    shipping.ship(key=key(), order=take_order((product, 7)), by=None)
    with pytest.raises(StillUsed):
        counts.undo(key=key(), entry=back, by=None)


def test_nothing_comes_back_of_an_undone_parcel(product, sent):
    counts.undo(key=key(), entry=sent.entry, by=None)
    sent.refresh_from_db()
    with pytest.raises(LedgerError, match="was undone"):
        _back(sent, 1)


def test_it_does_not_come_back_before_it_left(product, sent):
    with pytest.raises(LedgerError, match="before it left"):
        _back(sent, 1, happened_at=timezone.now() - timedelta(days=1))


def test_money_goes_back_with_the_bags_or_nothing_happens(product, sent):
    order = sent.order
    payments.record(key=key(), order=order, kind="payment", amount_minor=3000, by=None)
    _back(sent, 1, refund=returns.Refund(650, "cash"))
    refund = Payment.objects.get(kind="refund")
    assert (refund.amount_minor, refund.how) == (-650, "cash")
    money = queries.money_of(order)
    assert (money.total_minor, money.paid_minor) == (4 * product.price_minor, 2350)
    with pytest.raises(LedgerError, match="no more can go back"):
        _back(sent, 1, refund=returns.Refund(5000))
    assert Return.objects.count() == 1


def test_a_later_correction_of_what_the_baits_cost_reaches_what_came_back(make_product, take_order):
    product = make_product("Reed", loose=0)
    bait = product.contents.get()
    from production.services import bait_lots

    lot = factories.make_lot(bait_lots.loose_item(bait.bait, bait.pattern), 40, 4)
    bagging.bag(key=key(), product=product, bags=8, by=None)
    order = take_order((product, 6))
    shipment = shipping.ship(key=key(), order=order, by=None).shipment
    _back(shipment, 1)
    undone = _back(shipment, 2)
    counts.undo(key=key(), entry=undone, by=None)
    _back(shipment, 3)
    mending.amend_receipt(key=key(), lot=lot, quantity=micro(40), cost=micro(12), by=None)
    assert _green()
    # 40 baits for 12.00 and 8 pouches at 0.05: 1.55 a bag, and 6 of 8 lie there again.
    bags = product.item.lots.get()
    assert (bags.on_hand, bags.cost) == (micro(6), micro("9.3"))
    mending.amend_receipt(key=key(), lot=lot, quantity=micro(40), cost=None, by=None)
    assert product.item.lots.get().cost is None
    assert _green()


def test_an_order_changed_after_a_return_keeps_what_the_ledger_says(product, sent, take_order):
    _back(sent, 1, replace=True)
    order = queries.orders().get()
    line = order.lines.select_related("product").get()
    orders.change(order, customer=order.customer, lines=[orders.Wanted(line.product, 6)])
    line = order.lines.get()
    assert (line.bags, line.shipped, line.remaining) == (6, 4, 2)
    assert _green()
