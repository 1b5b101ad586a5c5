"""Parcels: what leaves for an order, from which lots, and what is then still to come."""

from importlib import import_module

import pytest
from django.apps import apps

from inventory import audit as shelf_audit
from inventory.models import Lot, Place
from inventory.services import counts, holding, ledger
from inventory.services.posting import LedgerError, posting
from production.services import bagging
from shop import audit, queries
from shop.models import Order, OrderLine, Shipment
from shop.services import holds, orders, returns, shipping
from shop.services.shipping import Packed
from tests.factories import key, micro

pytestmark = pytest.mark.django_db


@pytest.fixture
def product(make_product):
    return make_product(bagged=10)


def _green():
    return [*shelf_audit.findings(), *audit.findings()] == []


def _line(order, index=0):
    return order.lines.select_related("product__item")[index]


def _ship(order, *bags, **facts):
    lines = list(order.lines.select_related("product__item"))
    packed = [Packed(line, count) for line, count in zip(lines, bags, strict=True)]
    return shipping.ship(key=key(), order=order, packed=packed, by=None, **facts)


def test_a_part_leaves_and_the_order_stays_open_for_the_rest(product, take_order):
    order = take_order((product, 7))
    _ship(order, 3)
    line = _line(order)
    assert (line.shipped, line.remaining) == (3, 4)
    order = queries.open_orders().get()
    assert order.some_left
    _ship(order, 4)
    order.refresh_from_db()
    assert (order.status, _line(order).remaining) == (Order.Status.SHIPPED, 0)
    assert product.item.lots.get().on_hand == micro(3)
    assert _green()


def test_what_is_still_to_come_is_what_the_shelf_is_asked_for(product, take_order):
    order = take_order((product, 12))
    _ship(order, 4)
    state = queries.line_states([order])[order.pk][0]
    # 8 of 12 are still to come, 6 of them stand there.
    assert (state.bagged, state.unbagged, state.missing) == (6, 2, 2)


def test_undoing_one_of_two_parcels_brings_back_only_that_one(product, take_order):
    order = take_order((product, 7))
    first = _ship(order, 3)
    _ship(order, 4)
    counts.undo(key=key(), entry=first, by=None)
    order.refresh_from_db()
    assert (order.status, _line(order).shipped) == (Order.Status.OPEN, 4)
    assert _green()


def test_an_order_closes_with_less_than_was_ordered_and_opens_again(product, take_order):
    order = take_order((product, 7))
    _ship(order, 3)
    holds.hold(order)
    shipping.close(order)
    order.refresh_from_db()
    line = _line(order)
    assert (order.status, line.bags, line.dropped, line.billed) == ("shipped", 7, 4, 3)
    assert not holding.of(holds.holder(order.pk)).exists()
    assert queries.money_of(order).total_minor == 3 * product.price_minor
    assert _green()
    shipping.reopen(order)
    order.refresh_from_db()
    assert (order.status, _line(order).remaining) == ("open", 4)
    assert _green()


def test_an_order_that_nothing_left_for_is_cancelled_not_closed(product, take_order):
    order = take_order((product, 7))
    with pytest.raises(shipping.ShippingError, match="Cancel it instead"):
        shipping.close(order)
    orders.cancel(order)
    with pytest.raises(shipping.ShippingError, match="is cancelled"):
        shipping.close(order)


def test_an_order_with_bags_under_way_is_closed_not_cancelled(product, take_order):
    order = take_order((product, 7))
    _ship(order, 3)
    with pytest.raises(orders.OrderError, match="close the order"):
        orders.cancel(order)


def test_the_undo_of_a_closed_orders_parcel_asks_for_those_bags_again(product, take_order):
    order = take_order((product, 7))
    entry = _ship(order, 3)
    shipping.close(order)
    counts.undo(key=key(), entry=entry, by=None)
    order.refresh_from_db()
    assert (order.status, _line(order).remaining) == ("open", 3)
    assert _green()


def test_a_lot_is_chosen_by_the_person(make_product, take_order):
    product = make_product(loose=20, bagged=3)
    bagging.bag(key=key(), product=product, bags=4, by=None)
    early, late = product.item.lots.order_by("pk")
    order = take_order((product, 3))
    packed = [Packed(_line(order), 3, ((late, 2), (early, 1)))]
    entry = shipping.ship(key=key(), order=order, packed=packed, by=None)
    drawn = dict(entry.movements.values_list("lot", "quantity"))
    assert drawn == {late.pk: micro(-2), early.pk: micro(-1)}


def test_bags_held_for_another_order_stay_and_the_message_says_so(product, take_order):
    other = take_order((product, 8), customer="Maple Orrin")
    holds.hold(other)
    order = take_order((product, 5))
    with pytest.raises(
        LedgerError, match=r"5 to send, 2 ready, 3 short \(8 held for other orders\)"
    ):
        _ship(order, 5)
    lot = product.item.lots.get()
    with pytest.raises(LedgerError, match="2 ready"):
        shipping.ship(
            key=key(), order=order, packed=[Packed(_line(order), 5, ((lot, 5),))], by=None
        )
    assert holding.of(holds.holder(other.pk)).get().quantity == micro(8)


def test_an_orders_own_bags_leave_first_and_its_hold_goes_with_them(make_product, take_order):
    product = make_product(loose=20, bagged=3)
    bagging.bag(key=key(), product=product, bags=4, by=None)
    late = product.item.lots.order_by("-pk")[0]
    order = take_order((product, 4))
    holding.hold_of_lot(holds.holder(order.pk), late, micro(4))
    entry = _ship(order, 2)
    assert list(entry.movements.values_list("lot", "quantity")) == [(late.pk, micro(-2))]
    late.refresh_from_db()
    assert (late.on_hand, late.reserved) == (micro(2), micro(2))
    assert _green()


def test_bags_of_another_lot_than_the_held_one_free_what_is_not_needed(make_product, take_order):
    product = make_product(loose=20, bagged=3)
    bagging.bag(key=key(), product=product, bags=4, by=None)
    early, late = product.item.lots.order_by("pk")
    order = take_order((product, 4))
    holding.hold_of_lot(holds.holder(order.pk), late, micro(4))
    packed = [Packed(_line(order), 3, ((early, 3),))]
    shipping.ship(key=key(), order=order, packed=packed, by=None)
    late.refresh_from_db()
    assert late.reserved == micro(1)
    assert _green()


@pytest.mark.parametrize(
    ("facts", "why"), [({"held": True}, "10 on hold"), ({"at": "Saturday stall"}, "10 at Saturday")]
)
def test_bags_on_hold_or_out_of_the_house_do_not_leave(product, take_order, facts, why):
    if at := facts.pop("at", None):
        facts["place"] = Place.objects.create(name=at, kind=Place.Kind.STALL)
    Lot.objects.filter(item=product.item).update(**facts)
    order = take_order((product, 1))
    with pytest.raises(LedgerError, match=f"1 to send, 0 ready, 1 short .{why}"):
        _ship(order, 1)
    lot = product.item.lots.select_related("item", "place").get()
    packed = [Packed(_line(order), 1, ((lot, 1),))]
    with pytest.raises(LedgerError, match="0 ready"):
        shipping.ship(key=key(), order=order, packed=packed, by=None)
    assert not Shipment.objects.exists()


def test_a_lot_of_another_product_is_refused(product, make_product, take_order):
    other = make_product("Other", bagged=3)
    order = take_order((product, 1))
    packed = [Packed(_line(order), 1, ((other.item.lots.get(), 1),))]
    with pytest.raises(LedgerError, match="Short|Lot .* holds no"):
        shipping.ship(key=key(), order=order, packed=packed, by=None)


def test_an_empty_parcel_does_not_leave(product, take_order):
    with pytest.raises(LedgerError, match="The parcel is empty"):
        _ship(take_order((product, 1)), 0)


def test_more_than_ordered_is_asked_and_then_not_billed(product, take_order):
    order = take_order((product, 2))
    assert shipping.more_than_ordered([Packed(_line(order), 2)]) == []
    [text] = shipping.more_than_ordered([Packed(_line(order), 3)])
    assert "3 in this parcel, only 2 still to come" in text
    _ship(order, 3)
    line = _line(order)
    assert (line.shipped, line.remaining, line.billed) == (3, 0, 2)
    assert _green()


def test_the_parcel_goes_to_the_orders_address_before_the_customers(product, take_order):
    order = take_order((product, 5))
    order.customer.address = "  4 Reed Lane \n\n Alder  Slip MN "
    order.customer.save()
    assert _ship(order, 1).shipment.ship_to == "4 Reed Lane\nAlder Slip MN"
    order.ship_to = "Dock 2"
    order.save()
    assert _ship(order, 1).shipment.ship_to == "Dock 2"
    shipment = _ship(order, 1, ship_to="Bay 9", carrier="Post", tracking="RX 1").shipment
    assert (shipment.ship_to, shipment.carrier, shipment.tracking) == ("Bay 9", "Post", "RX 1")


@posting
def _amend(parcel_key, *, entry, quantity, by):
    """What was in the parcel, written again with another quantity."""
    line = entry.movements.select_related("lot__item").get()
    event = ledger.Event(
        entry.kind,
        entry.title,
        reference=entry.reference,
        draws=[ledger.Draw(line.lot, quantity)],
    )
    return ledger.post(parcel_key, event, by=by, amends=entry)


def test_an_amended_parcel_is_followed(product, take_order):
    order = take_order((product, 7))
    entry = _ship(order, 7)
    amended = _amend(key=key(), entry=entry, quantity=micro(5), by=None)
    order.refresh_from_db()
    assert (order.status, _line(order).shipped, _line(order).remaining) == ("open", 5, 2)
    assert order.shipments.get().entry == amended
    assert _green()
    counts.undo(key=key(), entry=amended, by=None)
    assert _line(order).shipped == 0
    assert _green()


def test_a_parcel_of_which_something_came_back_is_not_amended(product, take_order):
    order = take_order((product, 7))
    entry = _ship(order, 7)
    shipment, drawn = entry.shipment, entry.movements.get()
    returns.take_back(key=key(), shipment=shipment, bags={drawn.pk: 1}, fate="stock", by=None)
    with pytest.raises(LedgerError, match="Undo the return first"):
        _amend(key=key(), entry=entry, quantity=micro(5), by=None)


def test_orders_from_before_get_what_the_ledger_says(product, take_order):
    whole, part, undone, cancelled, fresh = (take_order((product, 2)) for _ in range(5))
    _ship(whole, 2)
    _ship(part, 1)
    counts.undo(key=key(), entry=_ship(undone, 2), by=None)
    orders.cancel(cancelled)
    OrderLine.objects.update(shipped=0)
    # As it was kept before: shipped stayed shipped when its entry was undone.
    Order.objects.filter(pk__in=[part.pk, undone.pk]).update(status="shipped")
    Order.objects.filter(pk=whole.pk).update(status="open")
    migration = import_module("shop.migrations.0003_what_left_for_an_order")
    migration.follow_the_ledger(apps, None)
    found = Order.objects.order_by("pk").values_list("status", "lines__shipped")
    assert list(found) == [
        ("shipped", 2),
        ("open", 1),
        ("open", 0),
        ("cancelled", 0),
        ("open", 0),
    ]
    assert fresh.pk and _green()
