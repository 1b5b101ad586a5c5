"""Holding bags for someone: oldest first, never twice, and what happens when less is there than is held."""

from datetime import date, timedelta

import pytest
from django.urls import reverse

from inventory import audit, signals
from inventory.models import Entry, Item, Lot, Place, Reservation
from inventory.services import counts, holding, ledger, receiving
from inventory.services.posting import LedgerError, posting
from tests import factories
from tests.factories import key, micro

pytestmark = pytest.mark.django_db
TODAY = date(2026, 11, 20)


@pytest.fixture
def bags():
    return factories.make_item(Item.Kind.BAGGED, "Reed Eel, five", "each")


@pytest.fixture
def told():
    """What holders were told of lost holds, as (holder, bags)."""
    heard = []

    def hear(sender, lost, **kwargs):
        heard.extend((one.holder, one.quantity // micro(1)) for one in lost)

    signals.holds_lost.connect(hear)
    yield heard
    signals.holds_lost.disconnect(hear)


def _lot(item, bags, *, on=TODAY, expires_on=None):
    return factories.make_lot(item, bags, 3, on=on, expires_on=expires_on)


def _held(lot) -> int:
    lot.refresh_from_db()
    return lot.reserved // micro(1)


@posting
def draw(key, *, lot, quantity, bench=False, by):
    event = ledger.Event(Entry.Kind.SALE, "Sold", draws=[ledger.Draw(lot, quantity, bench=bench)])
    return ledger.post(key, event, by=by)


def test_what_expires_first_is_held_first_then_what_came_first(bags):
    late = _lot(bags, 5, on=TODAY - timedelta(days=9))
    soon = _lot(bags, 2, expires_on=TODAY + timedelta(days=400))
    early = _lot(bags, 5, on=TODAY - timedelta(days=10))
    holding.reserve("order:1", bags, micro(8))
    assert [_held(lot) for lot in (soon, early, late)] == [2, 5, 1]
    assert list(audit.findings()) == []


def test_more_than_is_free_is_refused_and_says_how_many_are_left(bags):
    _lot(bags, 5)
    holding.reserve("order:1", bags, micro(3))
    with pytest.raises(holding.NotEnough, match="3 asked for, only 2 free") as refusal:
        holding.reserve("order:2", bags, micro(3))
    assert refusal.value.left == micro(2)
    assert Reservation.objects.count() == 1


def test_as_much_as_there_is_may_be_held(bags):
    _lot(bags, 5)
    assert holding.reserve_up_to("order:1", bags, micro(9)) == micro(5)
    assert holding.reserve_up_to("order:2", bags, micro(9)) == 0


@pytest.mark.parametrize("kind", [Place.Kind.STALL, Place.Kind.CONSIGNEE])
def test_bags_that_are_out_of_the_house_are_not_held(bags, kind):
    away = _lot(bags, 5)
    Lot.objects.filter(pk=away.pk).update(place=Place.objects.create(name="Out", kind=kind))
    with pytest.raises(holding.NotEnough, match="none is free"):
        holding.reserve("order:1", bags, micro(1))


def test_a_lot_on_hold_is_not_held(bags):
    recalled, other = _lot(bags, 5), _lot(bags, 1)
    Lot.objects.filter(pk=recalled.pk).update(held=True)
    holding.reserve("order:1", bags, micro(1))
    assert (_held(recalled), _held(other)) == (0, 1)
    with pytest.raises(holding.NotEnough):
        holding.hold_of_lot("order:1", recalled, micro(1))


def test_what_is_held_moves_from_lot_to_lot(bags):
    first, second = _lot(bags, 5), _lot(bags, 5)
    holding.reserve("order:1", bags, micro(4))
    holding.hold_of_lot("order:1", first, micro(1))
    holding.hold_of_lot("order:1", second, micro(3))
    assert (_held(first), _held(second)) == (1, 3)
    holding.reserve("order:2", bags, micro(2))
    with pytest.raises(holding.NotEnough, match="5 asked for, only 3 free"):
        holding.hold_of_lot("order:1", first, micro(5))
    assert (_held(first), _held(second)) == (3, 3)
    assert list(audit.findings()) == []


def test_what_is_given_back_is_the_newest_hold(bags):
    lot = _lot(bags, 9)
    holding.reserve("order:1", bags, micro(2))
    holding.reserve("order:1", bags, micro(3))
    holding.reserve("order:2", bags, micro(1))
    assert holding.release("order:1", bags, micro(4)) == micro(4)
    assert [row.quantity for row in holding.of("order:1")] == [micro(1)]
    assert holding.release("order:1") == micro(1)
    assert _held(lot) == 1


def test_what_is_held_cannot_be_drawn_by_another(bags):
    lot = _lot(bags, 5)
    holding.reserve("order:1", bags, micro(4))
    with pytest.raises(LedgerError, match="1 short. 4 of it is held for orders"):
        draw(key=key(), lot=lot, quantity=micro(2), by=None)
    draw(key=key(), lot=lot, quantity=micro(1), by=None)
    assert _held(lot) == 4


def test_what_leaves_for_a_holder_is_its_own_first(bags):
    old, new = _lot(bags, 4, on=TODAY - timedelta(days=3)), _lot(bags, 4)
    holding.hold_of_lot("order:1", new, micro(2))
    holding.reserve("order:2", bags, micro(1))
    taken = holding.take("order:1", bags, micro(4))
    assert {lot.pk: part for lot, part in taken} == {new.pk: micro(2), old.pk: micro(2)}
    assert (_held(old), _held(new)) == (1, 0)


def test_a_holder_that_takes_more_than_is_free_is_told_what_it_could_have(bags):
    _lot(bags, 6)
    holding.reserve("order:1", bags, micro(2))
    holding.reserve("order:2", bags, micro(3))
    with pytest.raises(holding.NotEnough, match="4 asked for, only 3 free"):
        holding.take("order:1", bags, micro(4))
    assert [row.quantity for row in holding.of("order:1")] == [micro(2)]


def test_a_loss_makes_the_newest_hold_give_way(bags, told):
    lot = _lot(bags, 10)
    for holder, count in (("order:1", 4), ("order:2", 3), ("order:3", 2)):
        holding.reserve(holder, bags, micro(count))
    counts.waste(key=key(), lot=lot, quantity=micro(5), reason="mice", by=None)
    assert told == [("order:3", 2), ("order:2", 2)]
    lot.refresh_from_db()
    assert (lot.on_hand, lot.reserved) == (micro(5), micro(5))
    assert list(audit.findings()) == []


def test_a_count_is_never_refused_for_a_hold(bags, told):
    lot = _lot(bags, 10)
    holding.reserve("order:1", bags, micro(8))
    counts.count(key=key(), lot=lot, counted=micro(7), by=None)
    assert told == [("order:1", 1)]
    counts.count(key=key(), lot=lot, counted=0, by=None)
    assert told == [("order:1", 1), ("order:1", 7)]
    assert not Reservation.objects.exists()
    assert list(audit.findings()) == []


def test_more_cannot_be_thrown_away_than_is_there(bags, told):
    lot = _lot(bags, 3)
    holding.reserve("order:1", bags, micro(3))
    with pytest.raises(LedgerError, match="1 short.$"):
        counts.waste(key=key(), lot=lot, quantity=micro(4), reason="mice", by=None)
    assert (_held(lot), told) == (3, [])


def test_the_bench_is_never_refused_for_a_hold(told):
    dye = factories.make_item("colorant", "Plum dye")
    lot = factories.make_lot(dye, 10)
    holding.reserve("trial:1", dye, micro(4))
    draw(key=key(), lot=lot, quantity=micro(12), bench=True, by=None)
    lot.refresh_from_db()
    assert (lot.on_hand, lot.reserved, told) == (0, 0, [("trial:1", 4)])


def test_undoing_what_brought_the_bags_makes_the_hold_give_way(bags, told):
    lot = _lot(bags, 5)
    holding.reserve("order:1", bags, micro(2))
    receipt = lot.movements.get().entry
    counts.undo(key=key(), entry=receipt, by=None)
    assert told == [("order:1", 2)]
    assert list(audit.findings()) == []


def test_the_page_that_undoes_says_which_holds_give_way(owner_client, bags):
    lot = _lot(bags, 5)
    holding.reserve("order:1", bags, micro(2))
    url = reverse("inventory:entry_undo", args=[lot.movements.get().entry_id])
    page = owner_client.get(url).content.decode()
    assert f"2 of Reed Eel, five, lot {lot}, is held for orders" in page
    holding.release("order:1")
    assert "is held for orders" not in owner_client.get(url).content.decode()


def test_a_count_in_between_is_undone_first():
    lot = factories.make_lot(factories.make_item(), 10)
    receipt = lot.movements.get().entry
    counts.count(key=key(), lot=lot, counted=micro(6), by=None)
    with pytest.raises(LedgerError, match="Undo first what was counted since"):
        counts.undo(key=key(), entry=receipt, by=None)


def test_a_hold_given_way_stays_gone_when_the_loss_is_undone(bags, told):
    lot = _lot(bags, 2)
    holding.reserve("order:1", bags, micro(2))
    lost = counts.waste(key=key(), lot=lot, quantity=micro(1), reason="mice", by=None)
    counts.undo(key=key(), entry=lost, by=None)
    assert (_held(lot), lot.on_hand, told) == (1, micro(2), [("order:1", 1)])


def test_an_amended_receipt_of_fewer_bags_makes_the_newest_hold_give_way(bags, told):
    lot = _lot(bags, 5)
    holding.reserve("order:1", bags, micro(3))
    holding.reserve("order:2", bags, micro(2))
    entry = lot.movements.get().entry

    @posting
    def again(key, *, by):
        event = ledger.Event(
            Entry.Kind.RECEIPT, "Received", makes=[ledger.Make(lot, micro(4), cost=micro(3))]
        )
        return ledger.post(key, event, by=by, amends=entry)

    again(key=key(), by=None)
    assert told == [("order:2", 1)]
    assert list(audit.findings()) == []


def test_the_books_find_a_hold_that_is_not_kept_beside_its_lot(bags):
    lot = _lot(bags, 5)
    holding.reserve("order:1", bags, micro(3))
    Lot.objects.filter(pk=lot.pk).update(reserved=micro(2))
    assert any("reserved is kept as 2000000" in finding for finding in audit.findings())


def test_received_bags_are_free_until_somebody_holds_them(bags):
    receiving.receive(key=key(), arrivals=[receiving.Arrival(bags, micro(2), None)], by=None)
    assert bags.lots.free().count() == 1
    holding.reserve("order:1", bags, micro(2))
    assert not bags.lots.free().exists()
