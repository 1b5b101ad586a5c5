"""A sheet as it was read: rows of cells, each with its line, and what is wrong with them."""

import difflib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

TEXT, NUMBER, DAY = "text", "number", "day"
#: A kind of column besides TEXT, NUMBER and DAY: a number with its unit, "3.5 fl oz".
AMOUNT = "amount"
#: Letters of a cell that a message quotes.
_SHOWN = 40


class FileError(ValueError):
    """The file as a whole can't be read; the text says why and what to do."""


@dataclass(frozen=True)
class Cell:
    """`kind` NUMBER or DAY: the spreadsheet kept it as one, so that `text` (2.5, 2027-06-30) is
    certain. `trouble`: why the cell can't be read at all."""

    text: str = ""
    kind: str = TEXT
    trouble: str = ""


@dataclass(frozen=True)
class Trouble:
    """What is wrong in a line, in which column ("" when it is the whole line), and what was read there."""

    line: int
    column: str
    text: str
    read: str = ""

    @property
    def where(self) -> str:
        """“Line 3, on hand “40 drops””; what was read is left out where the text quotes it."""
        place = f"Line {self.line}{', ' if self.column else ''}{self.column}"
        read = f"{self.read[:_SHOWN]}…" if len(self.read) > _SHOWN else self.read
        return f"{place} “{read}”" if read and f"“{read}”" not in self.text else place


@dataclass(frozen=True)
class Table:
    """The rows that hold anything, with their line numbers, the header first.

    `notes`: what was recognised and should be looked at. `separator`: of a CSV file."""

    rows: tuple[tuple[int, tuple[Cell, ...]], ...]
    separator: str = ""
    notes: tuple[str, ...] = ()
    troubles: tuple[Trouble, ...] = ()

    def plain(self) -> dict:
        """As JSON can hold it."""
        return {
            "rows": [[line, [_short(cell) for cell in cells]] for line, cells in self.rows],
            "separator": self.separator,
            "notes": list(self.notes),
            "troubles": [[t.line, t.column, t.text] for t in self.troubles],
        }

    @classmethod
    def from_plain(cls, plain: Mapping) -> "Table":
        return cls(
            rows=tuple(
                (line, tuple(Cell(*([c] if isinstance(c, str) else c)) for c in cells))
                for line, cells in plain["rows"]
            ),
            separator=plain["separator"],
            notes=tuple(plain["notes"]),
            troubles=tuple(Trouble(*trouble) for trouble in plain["troubles"]),
        )


def _short(cell: Cell) -> str | list[str]:
    return [cell.text, cell.kind, cell.trouble] if cell.trouble or cell.kind != TEXT else cell.text


@dataclass(frozen=True)
class Column:
    """One column of ours. `also`: other names it is known by."""

    name: str
    kind: str = TEXT
    needed: bool = False
    also: tuple[str, ...] = ()
    longest: int = 120
    #: What to write in it, for the notes of the empty file.
    help: str = ""


@dataclass(frozen=True)
class Record:
    """One line below the header: its cells by column name."""

    line: int
    cells: Mapping[str, Cell]

    def text(self, column: str) -> str:
        cell = self.cells.get(column)
        return cell.text if cell else ""


@dataclass
class Records:
    records: list[Record] = field(default_factory=list)
    troubles: list[Trouble] = field(default_factory=list)

    def __iter__(self) -> Iterator[Record]:
        return iter(self.records)


def records(table: Table, columns: Sequence[Column]) -> Records:
    """The lines by column. Raises FileError when the columns are wrong: no line can be trusted then."""
    if not table.rows:
        raise FileError("The file is empty.")
    (_, head), *lines = table.rows
    names = _header([cell.text for cell in head], columns)
    if not lines:
        raise FileError("The file has its column names but no lines below them.")
    found = Records(troubles=list(table.troubles))
    by_name = {column.name: column for column in columns}
    seen: dict[tuple, int] = {}
    for line, cells in lines:
        if any(cell.text or cell.trouble for cell in cells[len(names) :]):
            found.troubles.append(
                Trouble(
                    line,
                    "",
                    f"There are {len(cells)} cells but {len(names)} columns. A text with a comma in "
                    "it must stand in quotation marks.",
                )
            )
            continue
        record = Record(line, dict(zip(names, cells, strict=False)))
        found.troubles += _cell_troubles(record, by_name)
        content = tuple(record.text(name) for name in names)
        if content in seen:
            found.troubles.append(_twice(line, seen[content]))
        seen.setdefault(content, line)
        found.records.append(record)
    return found


def _twice(line: int, first: int) -> Trouble:
    return Trouble(
        line,
        "",
        f"This line is the same as line {first}. Remove one of them; if there are two such things, "
        "tell them apart (two lots by a lot number each).",
    )


def _cell_troubles(record: Record, columns: Mapping[str, Column]) -> Iterable[Trouble]:
    for name, cell in record.cells.items():
        column = columns[name]
        if cell.trouble:
            yield Trouble(record.line, name, cell.trouble)
        elif cell.kind == DAY and column.kind != DAY:
            yield Trouble(
                record.line,
                name,
                f"The spreadsheet made the day {cell.text} of this. Format the cell as text and "
                "write it again.",
            )
        elif len(cell.text) > column.longest:
            yield Trouble(record.line, name, f"This is longer than {column.longest} letters.")


def _header(cells: list[str], columns: Sequence[Column]) -> list[str]:
    by_name = {_plainly(name): c.name for c in columns for name in (c.name, *c.also)}
    while cells and not cells[-1]:
        cells = cells[:-1]
    header: list[str] = []
    for place, cell in enumerate(cells, start=1):
        name = by_name.get(_plainly(cell))
        if name is None:
            raise FileError(
                _unknown(place, cell, [c.name for c in columns if c.name not in header])
            )
        if name in header:
            raise FileError(f"The column “{name}” is there twice. Remove or rename one of them.")
        header.append(name)
    if missing := [
        column.name for column in columns if column.needed and column.name not in header
    ]:
        needed = ", ".join(column.name for column in columns if column.needed)
        raise FileError(f"The file lacks the column “{missing[0]}”. Needed: {needed}.")
    return header


def _unknown(place: int, cell: str, left: list[str]) -> str:
    if not cell:
        return f"Column {place} has no name. Write one in the first line, or remove the column."
    close = difflib.get_close_matches(_plainly(cell), left, n=1)
    hint = f"Did you mean “{close[0]}”? " if close else ""
    return (
        f"Column {place} is named “{cell[:40]}”, which isn't one of ours. {hint}Rename it or remove "
        f"the column. Expected here: {', '.join(left)}."
    )


def _plainly(name: str) -> str:
    return " ".join(name.replace("_", " ").casefold().split())


def same_name(name: str) -> str:
    """What two spellings of one name share: letter size and spaces don't count."""
    return " ".join(name.split()).casefold()


def closest(name: str, names: Iterable[str]) -> str:
    """“ Did you mean “Ember flake”?” where a name is close, else ""."""
    by_key = {same_name(each): each for each in names}
    found = difflib.get_close_matches(same_name(name), by_key, n=1, cutoff=0.75)
    return f" Did you mean “{by_key[found[0]]}”?" if found else ""
