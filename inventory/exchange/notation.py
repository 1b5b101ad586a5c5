"""How a file writes its figures and days. Where that can be read in two ways, it is asked, not guessed."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date

from inventory.exchange.table import AMOUNT, DAY, NUMBER, TEXT, Cell, Column, Record

POINT, COMMA = "point", "comma"
DAY_FIRST, MONTH_FIRST = "day", "month"
_SAMPLES = 5

_ISO = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_PARTS = re.compile(r"(\d{1,2})[./-](\d{1,2})[./-](\d{4})", re.ASCII)
_SHORT_YEAR = re.compile(r"\d{1,2}[./-]\d{1,2}[./-]\d{2}", re.ASCII)
_FIGURE = re.compile(r"[0-9.,]*[0-9][0-9.,]*", re.ASCII)
_GROUPED_BY_POINT = re.compile(r"[0-9]{1,3}(\.[0-9]{3})+", re.ASCII)
_WITH_COMMA = re.compile(r"([0-9]+|[0-9]{1,3}(\.[0-9]{3})+)?(,[0-9]+)?", re.ASCII)
_WITH_POINT = re.compile(r"([0-9]+|[0-9]{1,3}(,[0-9]{3})+)?(\.[0-9]*)?", re.ASCII)


@dataclass(frozen=True)
class Notation:
    """What was answered: `decimal` POINT or COMMA, `dates` DAY_FIRST or MONTH_FIRST; "": not asked."""

    decimal: str = ""
    dates: str = ""


@dataclass(frozen=True)
class Question:
    """`name` of the answer in Notation; `choices` as (value, words); `samples` from the file."""

    name: str
    text: str
    choices: tuple[tuple[str, str], ...]
    samples: list[str] = field(default_factory=list)


DECIMAL = (
    "decimal",
    "What does a comma in a figure mean?",
    (
        (COMMA, "It parts off decimals: 2,5 is two and a half"),
        (POINT, "It groups thousands: 2,500"),
    ),
)
DATES = (
    "dates",
    "Which comes first in the days?",
    ((DAY_FIRST, "The day: 03/04 is 3 April"), (MONTH_FIRST, "The month: 03/04 is March 4")),
)


def questions(
    records: Iterable[Record], columns: Sequence[Column], notation: Notation, separator: str = ""
) -> list[Question]:
    """What must be asked before the file can be read: nothing where every cell has one reading."""
    kinds = {column.name: column.kind for column in columns}
    commas, days = [], []
    for record in records:
        for name, cell in record.cells.items():
            if cell.kind != TEXT or not cell.text:
                continue
            sample = f"line {record.line}, {name}: {cell.text[:40]}"
            if kinds[name] in (NUMBER, AMOUNT) and _two_readings(cell.text, separator):
                commas.append(sample)
            elif kinds[name] == DAY and _PARTS.fullmatch(cell.text):
                days.append(sample)
    asked = []
    if commas and not notation.decimal:
        asked.append(Question(*DECIMAL, samples=commas[:_SAMPLES]))
    if days and not notation.dates:
        asked.append(Question(*DATES, samples=days[:_SAMPLES]))
    return asked


def _two_readings(text: str, separator: str) -> bool:
    figures = _FIGURE.findall(text)
    if any("," in figure for figure in figures):
        return True
    # Spreadsheets that part cells with ; write the decimal comma: 1.250 may be a thousand there.
    return separator == ";" and any(_GROUPED_BY_POINT.fullmatch(figure) for figure in figures)


def figure(cell: Cell, notation: Notation) -> str:
    """The cell's figure, or amount with its unit, with a decimal point. Raises ValueError."""
    if cell.kind != TEXT or not notation.decimal:
        return cell.text
    wanted = _WITH_COMMA if notation.decimal == COMMA else _WITH_POINT

    def pointed(found: re.Match) -> str:
        text = found[0]
        if not wanted.fullmatch(text):
            said = "a decimal comma" if notation.decimal == COMMA else "a decimal point"
            raise ValueError(f"“{text}” doesn't fit: the figures of this file have {said}.")
        if notation.decimal == COMMA:
            return text.replace(".", "").replace(",", ".")
        return text.replace(",", "")

    return _FIGURE.sub(pointed, cell.text)


def day(cell: Cell, notation: Notation) -> date:
    """The cell's day: year-month-day, or as was answered. Raises ValueError."""
    text = cell.text
    if _ISO.fullmatch(text):
        try:
            return date.fromisoformat(text)
        except ValueError as error:
            raise ValueError(f"There is no day {text}.") from error
    parts = _PARTS.fullmatch(text)
    if not parts or not notation.dates:
        year = " with all four digits of the year" if _SHORT_YEAR.fullmatch(text) else ""
        raise ValueError(f"“{text[:40]}” isn't a day. Write year-month-day{year}: 2027-06-30.")
    first, second, year = (int(part) for part in parts.groups())
    day_of, month = (first, second) if notation.dates == DAY_FIRST else (second, first)
    try:
        return date(year, month, day_of)
    except ValueError as error:
        order = "day first" if notation.dates == DAY_FIRST else "month first"
        raise ValueError(
            f"There is no day {text}, read {order}. Write it as year-month-day: 2027-06-30."
        ) from error
