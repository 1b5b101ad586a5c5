"""Two people at one shelf at the same moment, and what the database promises."""

import threading

import pytest
from django.db import connection

from inventory import audit
from inventory.models import Entry, Item, Reservation
from inventory.services import counts, holding, ledger, receiving
from inventory.services.posting import LedgerError, posting
from tests import factories
from tests.factories import key, micro


def _together(deeds) -> list[Exception]:
    errors = []

    def run(deed):
        try:
            deed()
        except LedgerError as refusal:
            errors.append(refusal)
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=[deed]) for deed in deeds]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return errors


@pytest.mark.django_db(transaction=True)
def test_ten_presses_of_one_key_at_once_post_once():
    item = factories.make_item()
    arrival = receiving.Arrival(item, micro(50), micro(5))
    _together([lambda: receiving.receive(key="one", arrivals=[arrival], by=None)] * 10)
    assert Entry.objects.count() == 1
    assert item.lots.get().on_hand == micro(50)


@pytest.mark.django_db(transaction=True)
def test_the_last_of_a_bottle_is_thrown_away_once_whatever_two_people_do():
    lot = factories.make_lot(factories.make_item(), 10)
    deeds = [
        lambda: counts.waste(key=key(), lot=lot, quantity=micro(6), reason="spilled", by=None)
    ] * 6
    refusals = _together(deeds)
    lot.refresh_from_db()
    assert len(refusals) == 5
    assert lot.on_hand == micro(4)


@pytest.mark.django_db
def test_every_sqlite_connection_is_durable_and_checks_its_keys():
    if connection.vendor != "sqlite":
        assert connection.vendor == "postgresql"
        return
    with connection.cursor() as cursor:
        values = {}
        for name in ("synchronous", "foreign_keys"):
            cursor.execute(f"PRAGMA {name}")
            values[name] = cursor.fetchone()[0]
    assert values == {"synchronous": 2, "foreign_keys": 1}


@pytest.mark.django_db(transaction=True)
def test_of_two_who_hold_the_last_bag_one_wins_and_the_other_is_told():
    bags = factories.make_item(Item.Kind.BAGGED, "Reed Eel, five", "each")
    factories.make_lot(bags, 3)
    holding.reserve("order:1", bags, micro(2))
    deeds = [lambda n=n: holding.reserve(f"order:{n}", bags, micro(1)) for n in range(2, 8)]
    refusals = _together(deeds)
    assert len(refusals) == 5
    assert {str(refusal) for refusal in refusals} == {"Reed Eel, five: 1 asked for, none is free."}
    assert Reservation.objects.count() == 2
    assert list(audit.findings()) == []


@pytest.mark.django_db(transaction=True)
def test_a_bag_that_is_held_is_not_sold_at_the_same_moment():
    bags = factories.make_item(Item.Kind.BAGGED, "Reed Eel, five", "each")
    lot = factories.make_lot(bags, 4)

    @posting
    def sell(key, *, by):
        event = ledger.Event(Entry.Kind.SALE, "Sold", draws=[ledger.Draw(lot, micro(1))])
        return ledger.post(key, event, by=by)

    deeds = [lambda n=n: holding.reserve(f"order:{n}", bags, micro(1)) for n in range(4)]
    deeds += [lambda: sell(key=key(), by=None)] * 4
    assert len(_together(deeds)) == 4
    lot.refresh_from_db()
    assert lot.on_hand == lot.reserved
    assert list(audit.findings()) == []
