"""Molds as a sheet: a line for each bait in a mold, with its cavities and volumes.

Pure: records in, molds and troubles out. What the shop already knows is passed in.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from inventory import amounts
from inventory.exchange.notation import Notation
from inventory.exchange.reading import Line
from inventory.exchange.table import (
    AMOUNT,
    NUMBER,
    Cell,
    Column,
    Record,
    Records,
    Trouble,
    closest,
    same_name,
)
from production import measured

COLUMNS = (
    Column(
        "mold", needed=True, longest=80, also=("name", "mold name"), help="your own name for it"
    ),
    Column("bait", needed=True, longest=80, help="the bait that its cavities give"),
    Column(
        "bait length",
        AMOUNT,
        also=("length",),
        help="with its unit: 4 in, 100 mm; needed where the bait is new",
    ),
    Column("flat", help="yes, where one side of the bait must be up; no"),
    Column("cavities", NUMBER, needed=True, also=("count",), help="of this bait"),
    Column("bait volume", AMOUNT, needed=True, help="of one bait: 5 mL, 0.2 fl oz"),
    Column("part", help="what lies in each cavity before the shot: the name of a hook or rattle"),
    Column("parts each", NUMBER, help="how many in one cavity; empty: 1"),
    Column(
        "shot volume",
        AMOUNT,
        needed=True,
        also=("one shot",),
        help="of the whole mold, sprue included; it needs to stand only once for each mold",
    ),
    Column("copies", NUMBER, also=("owned",), help="how many of it you own; empty: 1"),
    Column(
        "minutes per cycle", NUMBER, help="from one shot to the next; empty: 6", also=("cycle",)
    ),
    Column("notes", longest=2_000),
)
EXAMPLES = (
    {
        "mold": "Reed Eel four",
        "bait": "Reed Eel",
        "bait length": "4 in",
        "flat": "no",
        "cavities": "4",
        "bait volume": "5 mL",
        "shot volume": "26 mL",
        "copies": "2",
        "minutes per cycle": "6",
    },
    {
        "mold": "Pond pair",
        "bait": "Mud Minnow",
        "bait length": "75 mm",
        "flat": "yes",
        "cavities": "2",
        "bait volume": "6.5 mL",
        "shot volume": "18 mL",
    },
)
NOTES = (
    "One line for each bait in a mold. A mold with two baits has two lines; its own facts need to stand "
    "only in one of them.",
    "All lines of a mold together are the mold: a bait that is left out is taken from it. An empty cell "
    "elsewhere says nothing: what is known stays.",
    "Overwrite the example lines. Lines that begin with # are notes and are not read.",
)


@dataclass(frozen=True)
class KnownBait:
    pk: int
    name: str
    length_mm: Decimal
    flat: bool
    archived: bool = False


@dataclass(frozen=True)
class Known:
    """What the shop has: molds and baits by `same_name`, part items likewise (name → id).

    A mold's value is (id, archived)."""

    molds: Mapping[str, tuple[int, bool]] = field(default_factory=dict)
    baits: Mapping[str, KnownBait] = field(default_factory=dict)
    parts: Mapping[str, tuple[int, str]] = field(default_factory=dict)


@dataclass(frozen=True)
class CavityLine:
    """A bait in a mold. Volumes in mL, lengths in mm; None: the sheet doesn't say."""

    line: int
    bait: str
    length_mm: Decimal | None
    flat: bool | None
    count: int
    bait_ml: Decimal
    part: int | None
    parts_each: int | None


@dataclass
class MoldLines:
    line: int
    name: str
    #: shot_ml, copies, minutes_per_cycle, notes: only what stands there.
    facts: dict[str, Any] = field(default_factory=dict)
    lines: list[CavityLine] = field(default_factory=list)
    known: int | None = None


def read(
    records: Records, notation: Notation, known: Known
) -> tuple[list[MoldLines], list[Trouble]]:
    """The molds of the sheet, and what is wrong with it."""
    troubles = list(records.troubles)
    molds: dict[str, MoldLines] = {}
    baits: dict[tuple[str, str], tuple[int, Any]] = {}
    for record in records:
        _Line(record, notation, known, troubles).read(molds, baits)
    for mold in molds.values():
        if not mold.known and "shot_ml" not in mold.facts:
            troubles.append(
                Trouble(mold.line, "shot volume", "Write how much one shot of the mold takes.")
            )
    troubles.sort(key=lambda trouble: trouble.line)
    return list(molds.values()), troubles


class _Line(Line):
    def __init__(
        self, record: Record, notation: Notation, known: Known, troubles: list[Trouble]
    ) -> None:
        super().__init__(record, notation, troubles)
        self.known, self.before = known, len(troubles)

    def read(self, molds: dict[str, MoldLines], baits: dict) -> None:
        name = self.record.text("mold")
        if not name:
            self.wrong("mold", "The mold has no name.")
            return
        pk, archived = self.known.molds.get(same_name(name), (None, False))
        if archived:
            self.wrong("mold", f"“{name}” is put away. Take it back on its page first.")
        mold = molds.setdefault(same_name(name), MoldLines(self.record.line, name, known=pk))
        for fact, column, reader in (
            ("shot_ml", "shot volume", self._volume),
            ("copies", "copies", lambda cell: self._whole(cell, 99)),
            ("minutes_per_cycle", "minutes per cycle", self._minutes),
            ("notes", "notes", lambda cell: cell.text),
        ):
            value = self.cell(column, reader)
            if value is not None and mold.facts.setdefault(fact, value) != value:
                self.wrong(column, f"“{name}” has another one on an earlier line. Make them agree.")
        cavity = self._cavity(mold, baits)
        if len(self.troubles) == self.before:
            mold.lines.append(cavity)

    def _cavity(self, mold: MoldLines, baits: dict) -> CavityLine | None:
        bait = self.record.text("bait")
        if not bait:
            self.wrong("bait", "The bait has no name.")
            return None
        key = same_name(bait)
        if any(same_name(line.bait) == key for line in mold.lines):
            self.wrong("bait", f"“{bait}” is already in “{mold.name}”. Add up its cavities.")
        there = self.known.baits.get(key)
        if there and there.archived:
            self.wrong("bait", f"“{bait}” is put away. Take it back on its page first.")
        length = self._once(baits, key, "bait length", self._length)
        flat = self._once(baits, key, "flat", lambda cell: _yes(cell.text))
        if not there and not length and not self.record.text("bait length"):
            self.wrong(
                "bait length", f"“{bait}” is new: write its length, for example 4 in or 100 mm."
            )
        count = self._needed("cavities", lambda cell: self._whole(cell, 500))
        volume = self._needed("bait volume", self._volume)
        part = self.cell("part", self._part)
        each = self.cell("parts each", lambda cell: self._whole(cell, 99))
        if each and not part:
            self.wrong("part", "Write which part lies in the cavity, or leave “parts each” empty.")
        return CavityLine(self.record.line, bait, length, flat, count, volume, part, each)

    def _once(self, baits: dict, key: str, column: str, reader: Callable) -> Any:
        """A fact of the bait, which must be the same wherever it stands."""
        value = self.cell(column, reader)
        if value is None:
            return baits.get((key, column), (0, None))[1]
        line, first = baits.setdefault((key, column), (self.record.line, value))
        if first != value:
            self.wrong(column, f"The bait has another one on line {line}. Make them agree.")
        return value

    def _needed(self, column: str, reader: Callable) -> Any:
        if not self.record.text(column):
            self.wrong(column, "This is missing.")
            return None
        return self.cell(column, reader)

    def _volume(self, cell: Cell) -> Decimal:
        return round(measured.amount(self.pointed(cell), "mL"), 3)

    def _length(self, cell: Cell) -> Decimal:
        return round(measured.bait_length(self.pointed(cell)), 1)

    def _whole(self, cell: Cell, most: int) -> int:
        value = amounts.number(self.pointed(cell))
        if value != int(value) or not 1 <= value <= most:
            raise ValueError(f"Write a whole number from 1 to {most}.")
        return int(value)

    def _minutes(self, cell: Cell) -> Decimal:
        value = amounts.number(self.pointed(cell))
        if not Decimal("0.1") <= value <= 600 or value != round(value, 1):
            raise ValueError("Write minutes from 0.1 to 600, with at most one decimal.")
        return value

    def _part(self, cell: Cell) -> int:
        parts = self.known.parts
        if same_name(cell.text) not in parts:
            hint = closest(cell.text, [name for _, name in parts.values()])
            raise ValueError(
                f"There is no part called “{cell.text[:60]}” on the shelf.{hint} Add it there first."
            )
        return parts[same_name(cell.text)][0]


def _yes(text: str) -> bool:
    if text.casefold() in ("yes", "y", "true", "x", "flat"):
        return True
    if text.casefold() in ("no", "n", "false"):
        return False
    raise ValueError(f"“{text[:40]}”: write yes or no.")
