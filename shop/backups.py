"""What `serve` does before it changes a database of an earlier day: look whether it may, and copy it."""

import contextlib
import datetime
import os
import sqlite3
import traceback

from django.core.management import call_command
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder

from shop import environment

KEPT = 10


def migrate(data: str) -> None:
    """Bring the database up to date, after a back-up of what it was, and remove the oldest back-ups.

    Raise Trouble when the database is newer than the code, the copy cannot be written, or a migration
    fails. Old copies go only after success, so that failing again and again loses none of them.
    """
    copy = before_migrating(data)
    try:
        call_command("migrate", interactive=False, verbosity=0)
    except Exception as error:  # a migration runs any code and may fail in any way
        raise environment.Trouble(_half_way(data, copy, error)) from error
    if copy:
        with contextlib.suppress(OSError):
            remove_old(os.path.dirname(copy), copy)


def before_migrating(data: str) -> str:
    """Back up the database if migrations are about to change it; say where, or whose job it is.

    Return the path of the copy, empty when none was made. Raise Trouble as migrate() does.
    """
    executor = MigrationExecutor(connection)
    refuse_newer(executor.loader, os.path.join(data, "backups"))
    ahead = executor.migration_plan(executor.loader.graph.leaf_nodes())
    if not ahead or not connection.introspection.table_names():
        return ""
    if connection.vendor != "sqlite":
        environment.say(
            "Bringing the database up to date. Evening Pour makes no back-up of PostgreSQL: that is "
            "yours to do, with pg_dump, before each update."
        )
        return ""
    path = back_up(os.path.join(data, "backups"))
    environment.say(f"Bringing the database up to date; as it was before, it is in {path}")
    return path


def _half_way(data: str, copy: str, error: Exception) -> str:
    """Write down in full why an update failed; return the one line that says how to go on."""
    report = os.path.join(data, "failed_update.txt")
    with contextlib.suppress(OSError), open(report, "w", encoding="utf-8") as file:
        traceback.print_exception(error, file=file)
    if copy:
        way = f"to go back, put {copy} in the place of db.sqlite3 and take the code you had before"
    elif connection.vendor == "sqlite":
        way = f"nothing was in it yet, so delete db.sqlite3 in {data} and start again"
    else:
        way = "to go back, take the back-up that you took with pg_dump and the code you had before"
    reason = " ".join(str(error).split()) or type(error).__name__
    return f"The update of the database failed half-way ({reason}; in full in {report}): {way}"


def refuse_newer(loader: MigrationLoader, backups: str) -> None:
    """Raise Trouble when the database has migrations that this code does not know.

    What the database remembers of an app that is gone is no such thing; nor is a migration that was
    squashed away: one that this code does know was applied after it.
    """
    known = set(loader.disk_migrations)
    for migration in loader.disk_migrations.values():
        known.update(migration.replaces)
    # The loader's own record names squashed migrations by their parts; the table has the order.
    rows = MigrationRecorder(connection).applied_migrations()
    newest = {}
    for app, name in sorted(rows, key=lambda key: rows[key].id):
        if app in loader.migrated_apps:
            newest[app] = (app, name)
    unknown = [key for key in newest.values() if key not in known]
    if unknown:
        place = f"from {backups}" if connection.vendor == "sqlite" else "that you took with pg_dump"
        raise environment.Trouble(
            f"The database is newer than this code ({'.'.join(unknown[-1])} is unknown here): update "
            f"the code, or take the back-up {place}"
        )


def back_up(folder: str) -> str:
    """Copy the open SQLite database into a folder and return the path.

    SQLite's own back-up takes along what still waits in the write-ahead log, which a copy of the file
    would miss (https://www.sqlite.org/backup.html). The copy gets its name only once it is complete.
    """
    now = datetime.datetime.now(datetime.UTC)
    path = os.path.join(folder, f"db-{now:%Y%m%d-%H%M%S}.sqlite3")
    unfinished = path + ".part"
    try:
        os.makedirs(folder, mode=0o700, exist_ok=True)
        os.close(os.open(unfinished, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600))
        with contextlib.closing(sqlite3.connect(unfinished)) as copy:
            connection.connection.backup(copy)
        os.replace(unfinished, path)
    except (OSError, sqlite3.Error) as error:
        with contextlib.suppress(OSError):
            os.remove(unfinished)
        raise environment.Trouble(
            f"No back-up could be written in {folder} ({error}), so the database was left as it was: "
            "see to the folder's rights and free disk, then start again"
        ) from error
    return path


def remove_old(folder: str, newest: str) -> None:
    """Remove all but the newest copies; the one just made stays even if the clock was set back."""
    copies = [
        entry.path
        for entry in os.scandir(folder)
        if entry.name.startswith("db-") and entry.name.endswith(".sqlite3") and entry.path != newest
    ]
    for path in sorted(copies)[: -(KEPT - 1)]:
        os.remove(path)
