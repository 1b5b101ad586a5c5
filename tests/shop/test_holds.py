"""Bags held for an order: held, changed, lost, sent and given back."""

import pytest

from inventory import audit
from inventory.models import Lot, Reservation
from inventory.services import counts, holding
from inventory.services.posting import LedgerError
from production.services import bagging
from shop import audit as front
from shop import queries
from shop.models import Order
from shop.services import holds, orders, shipping
from tests.factories import key, micro

pytestmark = pytest.mark.django_db


def _held(order) -> int:
    return sum(holds.held_bags(order).values())


def _proven() -> bool:
    return [*audit.findings(), *front.findings()] == []


def test_an_order_holds_what_is_bagged_and_no_more_than_it_needs(make_product, take_order):
    full, short = make_product("Full", bagged=9), make_product("Short", bagged=2)
    order = take_order((full, 4), (short, 5))
    found = holds.hold(order)
    assert {line.product.item.name: bags for line, bags in found.items()} == {
        "Full": 4,
        "Short": 2,
    }
    assert sum(holds.hold(order).values()) == 0
    assert _held(order) == 6 and _proven()


def test_what_one_order_holds_is_not_ready_for_another(make_product, take_order):
    product = make_product(bagged=5)
    first, second = take_order((product, 4)), take_order((product, 4))
    holds.hold(second)
    states = queries.line_states([first, second])
    assert [(s.bagged, s.held, s.unbagged) for s in states[first.pk]] == [(1, 0, 3)]
    assert [(s.bagged, s.held, s.unbagged) for s in states[second.pk]] == [(4, 4, 0)]
    with pytest.raises(LedgerError, match="4 to send, 1 ready, 3 short .4 held for other orders"):
        shipping.ship(key=key(), order=first, by=None)
    shipping.ship(key=key(), order=second, by=None)
    assert not Reservation.objects.exists() and _proven()


def test_a_line_holds_as_many_as_it_is_told_to(make_product, take_order):
    product = make_product(bagged=5)
    order = take_order((product, 4))
    line = order.lines.get()
    for bags in (3, 1, 4, 0):
        holds.hold_line(line, bags)
        assert _held(order) == bags
    with pytest.raises(LedgerError, match="Only 4 are still to be sent"):
        holds.hold_line(line, 5)
    holds.hold(take_order((product, 3)))
    with pytest.raises(holding.NotEnough, match="asked for, only 2 free"):
        holds.hold_line(line, 4)
    assert _held(order) == 0


def test_the_lots_of_a_hold_can_be_chosen(make_product, take_order):
    product = make_product(loose=15, bagged=2)
    bagging.bag(key=key(), product=product, bags=3, by=None)
    first, second = product.item.lots.order_by("pk")
    order = take_order((product, 3))
    line = order.lines.get()
    holds.hold(order)
    holds.hold_just(order, {line: {first: 0, second: 3}})
    assert [lot.reserved for lot in product.item.lots.order_by("pk")] == [0, micro(3)]
    with pytest.raises(LedgerError, match="Only 3 are still to be sent"):
        holds.hold_just(order, {line: {first: 1}})
    assert _held(order) == 3 and _proven()


def test_a_cancelled_order_frees_what_it_held(make_product, take_order):
    order = take_order((make_product(bagged=5), 4))
    holds.hold(order)
    orders.cancel(order)
    assert not Reservation.objects.exists() and _proven()
    with pytest.raises(LedgerError, match="Only for an open order"):
        holds.hold(order)


def test_a_changed_order_keeps_only_what_its_lines_still_need(make_product, take_order):
    kept, gone = make_product("Kept", bagged=5), make_product("Gone", bagged=5)
    order = take_order((kept, 4), (gone, 2))
    holds.hold(order)
    orders.change(order, customer=order.customer, lines=[orders.Wanted(kept, 3)])
    assert holds.held_bags(order) == {kept.item_id: 3} and _proven()


def test_a_loss_takes_the_newest_hold_and_flags_its_order(make_product, take_order):
    product = make_product("Reed Eel", bagged=5)
    first, second = take_order((product, 3)), take_order((product, 2))
    holds.hold(first)
    holds.hold(second)
    lot = product.item.lots.get()
    counts.count(key=key(), lot=lot, counted=micro(4), by=None)
    first.refresh_from_db()
    second.refresh_from_db()
    assert first.look_at == ""
    assert f"it lost a hold on 1 of Reed Eel, lot {lot}" in second.look_at
    counts.waste(key=key(), lot=lot, quantity=micro(3), reason="mice", by=None)
    first.refresh_from_db()
    assert (_held(first), _held(second)) == (1, 0) and "2 of Reed Eel" in first.look_at
    holds.looked_at(first)
    first.refresh_from_db()
    assert first.look_at == "" and _proven()


def test_however_often_it_loses_holds_the_newest_is_told_first(make_product, take_order):
    order = take_order((make_product("A bag with quite a long name", bagged=20), 20))
    holds.hold(order)
    lot = Lot.objects.get(item__name="A bag with quite a long name")
    for left in range(19, 8, -1):
        counts.count(key=key(), lot=lot, counted=micro(left), by=None)
    order.refresh_from_db()
    assert len(order.look_at) <= 300 and order.look_at.startswith("On ")
    assert _held(order) == 9


def test_undoing_the_bagging_takes_the_hold(make_product, take_order):
    product = make_product(bagged=2)
    order = take_order((product, 2))
    holds.hold(order)
    counts.undo(key=key(), entry=product.baggings.get().entry, by=None)
    order.refresh_from_db()
    assert _held(order) == 0 and order.look_at and _proven()


def test_what_an_undone_shipment_brings_back_is_held_for_its_order(make_product, take_order):
    product = make_product(bagged=6)
    order = take_order((product, 4))
    holds.hold_line(order.lines.get(), 1)
    entry = shipping.ship(key=key(), order=order, by=None)
    counts.undo(key=key(), entry=entry, by=None)
    order.refresh_from_db()
    assert order.status == Order.Status.OPEN
    assert _held(order) == 4 and _proven()


def test_a_held_bag_is_not_bagged_into_something_else_or_thrown_in_with_others(
    make_product, take_order
):
    product = make_product(loose=10)
    item = Lot.objects.get(item__loose_bait__bait=product.contents.get().bait).item
    holding.reserve("trial:1", item, micro(6))
    with pytest.raises(LedgerError):
        bagging.bag(key=key(), product=product, bags=1, by=None)
    assert _proven()


def test_the_books_find_holds_of_orders_that_do_not_need_them(make_product, take_order):
    product = make_product(bagged=5)
    order = take_order((product, 2))
    holding.reserve(holds.holder(order.pk), product.item, micro(3))
    assert list(front.findings()) == [
        f"Order {order.pk} holds more of item {product.item_id} than it still needs."
    ]
    Order.objects.filter(pk=order.pk).update(status=Order.Status.CANCELLED)
    assert "is cancelled and still holds bags" in list(front.findings())[0]
    holding.release(holds.holder(order.pk))
    holding.reserve("order:999999", product.item, micro(1))
    assert "which there is not" in list(front.findings())[0]
