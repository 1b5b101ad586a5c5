"""What `serve` does before it changes a database of an earlier day: look whether it may, and copy it."""

import contextlib
import datetime
import os
import sqlite3

from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from shop import environment

KEPT = 10


def before_migrating(data: str) -> None:
    """Back up the database if migrations are about to change it; say where, or whose job it is.

    Raise Trouble when the database is newer than the code, or the copy cannot be written.
    """
    executor = MigrationExecutor(connection)
    refuse_newer(executor.loader, os.path.join(data, "backups"))
    ahead = executor.migration_plan(executor.loader.graph.leaf_nodes())
    if not ahead or not connection.introspection.table_names():
        return
    if connection.vendor != "sqlite":
        environment.say(
            "Bringing the database up to date. Evening Pour makes no back-up of PostgreSQL: that is "
            "yours to do, with pg_dump, before each update."
        )
        return
    path = back_up(os.path.join(data, "backups"))
    environment.say(f"Bringing the database up to date; as it was before, it is in {path}")


def refuse_newer(loader, backups: str) -> None:
    """Raise Trouble when the database has migrations that this code does not know."""
    known = set(loader.disk_migrations)
    for migration in loader.disk_migrations.values():
        known.update(migration.replaces)
    unknown = sorted(set(loader.applied_migrations) - known)
    if unknown:
        place = f"from {backups}" if connection.vendor == "sqlite" else "that you took with pg_dump"
        raise environment.Trouble(
            f"The database is newer than this code ({'.'.join(unknown[-1])} is unknown here): update "
            f"the code, or take the back-up {place}"
        )


def back_up(folder: str) -> str:
    """Copy the open SQLite database into a folder, keep the newest copies, and return the path.

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
        remove_old(folder, path)
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
