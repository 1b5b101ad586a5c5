"""What every connection to the database is told."""

import threading

import pytest
from django.db import connection

sqlite_only = pytest.mark.skipif(connection.vendor != "sqlite", reason="about SQLite")


def _told():
    """What this connection answers, and its own identity."""
    with connection.cursor() as cursor:
        answers = {}
        for name in ("synchronous", "journal_mode", "foreign_keys"):
            cursor.execute(f"PRAGMA {name}")
            answers[name] = cursor.fetchone()[0]
    return answers, connection.connection


@sqlite_only
@pytest.mark.django_db(transaction=True)
def test_every_connection_survives_a_power_cut_and_holds_rows_together():
    # https://www.sqlite.org/pragma.html: synchronous 2 is FULL.
    right = {"synchronous": 2, "journal_mode": "wal", "foreign_keys": 1}
    seen = []

    def elsewhere():
        seen.append(_told())
        connection.close()

    for _ in range(2):
        thread = threading.Thread(target=elsewhere)
        thread.start()
        thread.join()
    seen.append(_told())
    connection.close()
    seen.append(_told())
    assert [answers for answers, _ in seen] == [right] * 4
    assert len({id(own) for _, own in seen}) == 4
