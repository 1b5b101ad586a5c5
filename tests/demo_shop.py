"""The demo shop for tests that look at it: loaded once for a run of the suite, kept as a file, laid into
the test database row by row wherever it is asked for. Loading itself is tested in tests/shop/test_demo.py.
"""

import contextlib
import os
import pickle
import tempfile
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from django.apps import apps
from django.conf import settings
from django.core.management.color import no_style
from django.db import connection, transaction
from django.utils import timezone

from inventory.models import StoredFile
from shop.demo import build
from shop.models import User

#: Its two months contain the change to daylight saving time of 9 March 2025 in the United States.
TODAY = date(2025, 4, 2)
#: In the environment: which run of the suite this is.
RUN = "EVENING_POUR_TEST_RUN"
APPS = ("inventory", "production", "shop")


@dataclass(frozen=True)
class Kept:
    """A loaded shop: when loading began, each table's columns and rows, each stored file."""

    loading: datetime
    tables: dict[str, tuple[list[str], list[tuple]]]
    files: dict[str, bytes]


def lay_in() -> Kept:
    """Puts the demo shop of TODAY, owned by wren, into an empty test database."""
    kept = _kept()
    with transaction.atomic(), connection.cursor() as cursor:
        for table, (columns, rows) in kept.tables.items():
            names = ", ".join(map(connection.ops.quote_name, columns))
            places = ", ".join(["%s"] * len(columns))
            quoted = connection.ops.quote_name(table)
            cursor.executemany(f"INSERT INTO {quoted} ({names}) VALUES ({places})", rows)
        for statement in connection.ops.sequence_reset_sql(no_style(), _models()):
            cursor.execute(statement)
    settings.FILES_DIR.mkdir(parents=True, exist_ok=True)
    for name, content in kept.files.items():
        (settings.FILES_DIR / name).write_bytes(content)
    return kept


def forget() -> None:
    """Removes the file, at the end of the run that made it."""
    _path().unlink(missing_ok=True)
    _path().with_suffix(".lock").unlink(missing_ok=True)


def _path() -> Path:
    return Path(tempfile.gettempdir()) / f"evening-pour-demo-{os.environ[RUN]}.pickle"


def _kept() -> Kept:
    """The kept shop; the first worker that asks makes it, the others wait."""
    path = _path()
    with _alone(path.with_suffix(".lock")):
        if not path.exists():
            path.write_bytes(pickle.dumps(_load()))
        return pickle.loads(path.read_bytes())


@contextlib.contextmanager
def _alone(path: Path):
    with path.open("a") as file:
        if os.name != "nt":
            import fcntl

            fcntl.flock(file, fcntl.LOCK_EX)
        yield


class _ReadBack(Exception):
    """Takes the loading back once its rows are read."""


def _load() -> Kept:
    found: list[Kept] = []
    with contextlib.suppress(_ReadBack), transaction.atomic():
        loading = timezone.now()
        build.load(owner=User.objects.create_user(username="wren", role="owner"), today=TODAY)
        tables = {}
        with connection.cursor() as cursor:
            for model in _models():
                table = model._meta.db_table
                key = connection.ops.quote_name(model._meta.pk.column)
                cursor.execute(f"SELECT * FROM {connection.ops.quote_name(table)} ORDER BY {key}")
                rows = cursor.fetchall()
                if rows:
                    tables[table] = ([column[0] for column in cursor.description], rows)
        names = StoredFile.objects.values_list("stored_as", flat=True)
        files = {name: (settings.FILES_DIR / name).read_bytes() for name in names}
        found.append(Kept(loading, tables, files))
        raise _ReadBack
    return found[0]


def _models() -> list:
    return [
        model
        for name in APPS
        for model in apps.get_app_config(name).get_models(include_auto_created=True)
    ]
