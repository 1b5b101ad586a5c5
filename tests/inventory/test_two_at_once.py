"""Two people at one shelf at the same moment, and what the database promises."""

import threading

import pytest
from django.db import connection

from inventory.models import Entry
from inventory.services import counts, receiving
from inventory.services.posting import LedgerError
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
