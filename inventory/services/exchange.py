"""Loading a sheet: first a rehearsal that is rolled back, then all of it in one transaction."""

import hashlib
import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.db import IntegrityError

from inventory import resources, shelf_sheet
from inventory.exchange import files
from inventory.exchange import table as tables
from inventory.exchange.notation import Notation
from inventory.exchange.table import Column, Records, Table, Trouble
from inventory.models import Entry
from inventory.resources import CHANGED, NEW, SAME, Outcome, SheetResource
from inventory.services.posting import Key, LedgerError, posting


class Drifted(LedgerError):
    """What the file would do is no longer what was looked at."""


@dataclass(frozen=True)
class Importing:
    """One kind of sheet: its columns, how its lines are read, and which resource writes them.

    `read` gives the things of the sheet and what is wrong with them."""

    sheet: str
    columns: Sequence[Column]
    examples: Sequence[Mapping[str, str]]
    notes: Sequence[str]
    read: Callable[[Records, Notation], tuple[list, list[Trouble]]]
    resource: Callable[..., SheetResource]
    #: Lines of one file: more would keep other writers waiting for many seconds.
    most_rows: int = files.MOST_ROWS


@dataclass
class Review:
    """What a sheet does, or what is wrong with it."""

    outcomes: list[Outcome] = field(default_factory=list)
    troubles: list[Trouble] = field(default_factory=list)
    #: How many things have no trouble of their own.
    fine: int = 0

    def of(self, state: str) -> list[Outcome]:
        return [outcome for outcome in self.outcomes if outcome.state == state]

    @property
    def new(self) -> list[Outcome]:
        return self.of(NEW)

    @property
    def changed(self) -> list[Outcome]:
        return self.of(CHANGED)

    @property
    def same(self) -> list[Outcome]:
        return self.of(SAME)

    @property
    def hinted(self) -> list[Outcome]:
        return [outcome for outcome in self.outcomes if outcome.hints]

    @property
    def does_anything(self) -> bool:
        return len(self.same) < len(self.outcomes)

    @property
    def digest(self) -> str:
        """Equal for two reviews that do the same."""
        deeds = [[o.state, o.title, o.details] for o in self.outcomes if o.state != SAME]
        return hashlib.sha256(json.dumps(deeds).encode()).hexdigest()


def review(importing: Importing, table: Table, notation: Notation) -> Review:
    """What loading the sheet would do; nothing is kept. Raises FileError when its columns are wrong."""
    return _run(importing, table, notation, Key("rehearsal", ""), by=None, dry_run=True)[0]


def load(
    importing: Importing, *, key: str, table: Table, notation: Notation, seen: str, by: Any
) -> Entry | None:
    """Loads the sheet: all of it or nothing. The entry that was posted, if any was.

    `seen`: digest of the review that was confirmed. Raises FileError, Drifted and LedgerError."""

    @posting
    def load_sheet(key: Key, *, content: str, by: Any) -> Entry | None:
        done, resource = _run(importing, table, notation, key, by=by, dry_run=False)
        if done.troubles:
            raise Drifted(
                "The file no longer fits: something changed since you looked. Look at it again."
            )
        if done.does_anything and done.digest != seen:
            raise Drifted(
                "Something changed since you looked, and the file would do something else now. "
                "Nothing was kept: look at it again."
            )
        return next(iter(resource.entries), None)

    content = json.dumps([importing.sheet, table.plain(), [notation.decimal, notation.dates]])
    try:
        return load_sheet(key=key, content=content, by=by)
    except IntegrityError:
        # Two presses at once: the other one made the things first. They are there now.
        return load_sheet(key=key, content=content, by=by)


def _run(
    importing: Importing, table: Table, notation: Notation, key: Key, *, by: Any, dry_run: bool
) -> tuple[Review, SheetResource | None]:
    things, troubles = importing.read(tables.records(table, importing.columns), notation)
    if troubles:
        wrong = {trouble.line for trouble in troubles}
        lines = {line for line, _ in table.rows[1:]}
        return Review(troubles=troubles, fine=len(lines - wrong)), None
    resource = importing.resource(key=key, by=by)
    outcomes, troubles = resources.run(resource, things, dry_run=dry_run)
    return Review(outcomes, troubles), resource


def _read_shelf(records: Records, notation: Notation) -> tuple[list, list[Trouble]]:
    reading = shelf_sheet.read(records, notation, resources.known_shelf(records))
    return reading.items, reading.troubles


SHELF = Importing(
    sheet="shelf",
    columns=shelf_sheet.COLUMNS,
    examples=shelf_sheet.EXAMPLES,
    notes=shelf_sheet.NOTES,
    read=_read_shelf,
    resource=resources.ShelfResource,
)
