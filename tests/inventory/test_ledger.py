"""The ledger's rules, seen from the shelf."""

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from inventory import queries
from inventory.models import AppendOnlyError, Entry, Lot, Movement
from inventory.services import counts, receiving
from inventory.services.posting import KeyReused, LedgerError
from inventory.services.reversal import StillUsed
from production.services import batches
from tests import factories
from tests.factories import key, micro

pytestmark = pytest.mark.django_db


def _mix(pour, lot, quantity, **facts):
    part = batches.Part(lot.item, micro(quantity), lot=lot)
    return batches.mix(key=key(), pour=pour, version=None, parts=[part], by=None, **facts)


def test_a_receipt_stands_on_the_shelf_at_what_it_cost():
    lot = factories.make_lot(factories.make_item(), 118.294, 9.75)
    assert (lot.on_hand, lot.cost, lot.made) == (micro(118.294), micro(9.75), micro(118.294))


def test_the_same_key_with_the_same_content_posts_once():
    item = factories.make_item()
    arrival = receiving.Arrival(item, micro(50), micro(5))
    first = receiving.receive(key="k", arrivals=[arrival], by=None)
    assert receiving.receive(key="k", arrivals=[arrival], by=None) == first
    assert item.lots.count() == 1


def test_the_same_key_with_other_content_is_said_and_posts_nothing():
    item = factories.make_item()
    receiving.receive(key="k", arrivals=[receiving.Arrival(item, micro(50), None)], by=None)
    with pytest.raises(KeyReused, match="already posted"):
        receiving.receive(key="k", arrivals=[receiving.Arrival(item, micro(60), None)], by=None)
    assert item.lots.count() == 1


def test_ledger_rows_are_never_changed_or_deleted():
    lot = factories.make_lot(factories.make_item())
    entry = Entry.objects.get()
    for attempt in (entry.save, entry.delete, lot.movements.get().delete):
        with pytest.raises(AppendOnlyError):
            attempt()
    with pytest.raises(AppendOnlyError):
        Movement.objects.filter(lot=lot).update(quantity=0)


def test_the_last_draw_takes_the_rest_of_the_cost():
    lot = factories.make_lot(factories.make_plastisol(), 3, 10)
    pour = factories.make_pour()
    costs = [_mix(pour, lot, 1).movements.get(role="drawn").cost for _ in range(3)]
    assert sum(costs) == -micro(10)
    assert costs == [-3333333, -3333334, -3333333]
    lot.refresh_from_db()
    assert (lot.on_hand, lot.cost) == (0, 0)


def test_unknown_cost_stays_unknown_and_never_becomes_zero():
    lot = factories.make_lot(factories.make_plastisol(), 500, None)
    entry = _mix(factories.make_pour(), lot, 100)
    assert entry.movements.get(role="made").cost is None
    lot.refresh_from_db()
    assert lot.cost is None


def test_the_bench_is_never_refused_and_the_shortfall_is_found_stock_to_be_counted():
    lot = factories.make_lot(factories.make_plastisol(), 100, 5)
    entry = _mix(factories.make_pour(), lot, 140)
    found = entry.movements.get(role="found")
    assert (found.quantity, found.cost) == (micro(40), micro(2))
    lot.refresh_from_db()
    assert (lot.on_hand, lot.cost, lot.count_me) == (0, 0, True)


def test_use_with_no_lot_at_all_makes_one_marked_found():
    item = factories.make_item(name="Plum dye")
    base = factories.make_lot(factories.make_plastisol())
    parts = [batches.Part(base.item, micro(100)), batches.Part(item, micro(2))]
    batches.mix(key=key(), pour=factories.make_pour(), version=None, parts=parts, by=None)
    lot = item.lots.get()
    assert (lot.found, lot.count_me, lot.on_hand, lot.cost) == (True, True, 0, None)


def test_throwing_away_more_than_there_is_is_refused_and_says_by_how_much():
    lot = factories.make_lot(factories.make_item(name="Plum dye"), 10)
    with pytest.raises(LedgerError, match="Plum dye.*12 mL asked for, 2 mL short"):
        counts.waste(key=key(), lot=lot, quantity=micro(12), reason="spilled", by=None)
    lot.refresh_from_db()
    assert lot.on_hand == micro(10)


def test_a_reversal_gives_back_exactly_what_the_event_took():
    lot = factories.make_lot(factories.make_plastisol(), 700, 33.33)
    entry = _mix(factories.make_pour(), lot, 123.4)
    counts.undo(key=key(), entry=entry, by=None)
    lot.refresh_from_db()
    batch = entry.batch.lot
    batch.refresh_from_db()
    assert (lot.on_hand, lot.cost) == (micro(700), micro(33.33))
    assert (batch.on_hand, batch.made, batch.cost) == (0, 0, 0)
    assert queries.composition(batch) == {}


def test_undoing_a_receipt_that_was_used_names_its_users_newest_first():
    lot = factories.make_lot(factories.make_plastisol())
    pour = factories.make_pour()
    first, second = _mix(pour, lot, 100), _mix(pour, lot, 50)
    receipt = Entry.objects.get(kind="receipt")
    with pytest.raises(StillUsed) as refusal:
        counts.undo(key=key(), entry=receipt, by=None)
    assert refusal.value.users == [second, first]
    counts.undo(key=key(), entry=second, by=None)
    counts.undo(key=key(), entry=first, by=None)
    counts.undo(key=key(), entry=receipt, by=None)
    lot.refresh_from_db()
    assert (lot.on_hand, lot.cost) == (0, 0)


def test_an_entry_is_undone_once_and_an_undo_is_not_undone():
    factories.make_lot(factories.make_item())
    receipt = Entry.objects.get()
    undo = counts.undo(key=key(), entry=receipt, by=None)
    for entry in (receipt, undo):
        with pytest.raises(LedgerError):
            counts.undo(key=key(), entry=entry, by=None)


def test_a_count_fixes_what_was_there_when_it_was_counted():
    lot = factories.make_lot(factories.make_plastisol(), 1000, 20)
    before = timezone.now()
    _mix(factories.make_pour(), lot, 300, happened_at=before + timedelta(milliseconds=1))
    counts.count(key=key(), lot=lot, counted=micro(900), counted_at=before, by=None)
    lot.refresh_from_db()
    assert lot.on_hand == micro(600)


def test_a_count_in_the_future_is_refused():
    lot = factories.make_lot(factories.make_item())
    with pytest.raises(LedgerError, match="future"):
        counts.count(
            key=key(), lot=lot, counted=1, counted_at=timezone.now() + timedelta(hours=1), by=None
        )


def test_what_orders_hold_can_not_exceed_what_is_on_hand():
    lot = factories.make_lot(factories.make_item(), 10)
    with pytest.raises(IntegrityError), transaction.atomic():
        Lot.objects.filter(pk=lot.pk).update(reserved=micro(11))


def test_lots_are_drawn_first_expiring_then_first_in():
    item = factories.make_item()
    today = timezone.localdate()
    late = factories.make_lot(item, 10, on=today - timedelta(days=9))
    soon = factories.make_lot(item, 10, expires_on=today + timedelta(days=5))
    early = factories.make_lot(item, 10, on=today - timedelta(days=20))
    picked = queries.pick(item, micro(25))
    assert [(lot.pk, quantity) for lot, quantity in picked] == [
        (soon.pk, micro(10)),
        (early.pk, micro(10)),
        (late.pk, micro(5)),
    ]
