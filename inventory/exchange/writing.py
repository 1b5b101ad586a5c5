"""Sheets going out, as CSV or XLSX, row by row: the whole is never held in memory.

Text passes the guard; an XLSX cell is a number or a string, never a formula.
"""

import csv
import io
import re
import zipfile
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from itertools import chain, count, islice
from typing import BinaryIO

from inventory.exchange import guard

#: What XML 1.0 can't carry (section 2.2), lone surrogates included.
_NO_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
#: An XLSX cell holds no more (ECMA-376, limits of common spreadsheets).
LONGEST = 32_767
#: Rows of an XLSX sheet (ECMA-376), the first of them the names; what is over goes to a further sheet.
MOST_ROWS = 1_048_576
#: A spreadsheet's number is a double: more digits than this are kept as text.
DIGITS = 15

Value = str | int | Decimal | date | datetime | bool | None


@dataclass(frozen=True)
class Sheet:
    """`rows` is called when the sheet is written."""

    name: str
    head: Sequence[str]
    rows: Callable[[], Iterable[Sequence[Value]]]


def spoken(value: Value) -> str | int | Decimal:
    """The value as a cell holds it: numbers stay numbers, days are year-month-day, text is disarmed."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int):
        return value
    if isinstance(value, Decimal):
        return plain_number(value)
    if isinstance(value, datetime):
        return value.isoformat(sep=" ", timespec="seconds")
    if isinstance(value, date):
        return value.isoformat()
    text = _NO_XML.sub("", str(value)).replace("\r\n", "\n")
    return guard.disarmed(text)[:LONGEST]


def plain_number(value: Decimal) -> Decimal:
    """The number without trailing zeros or an exponent."""
    text = f"{value:f}"
    return Decimal(text.rstrip("0").rstrip(".") if "." in text else text)


def write_csv(sheet: Sheet, out: BinaryIO) -> None:
    """UTF-8 with the byte-order mark, by which spreadsheets know it."""
    text = io.TextIOWrapper(out, encoding="utf-8-sig", newline="", write_through=True)
    writer = csv.writer(text)
    writer.writerow([spoken(cell) for cell in sheet.head])
    for row in sheet.rows():
        writer.writerow([_csv_cell(spoken(cell)) for cell in row])
    text.flush()
    text.detach()


def _csv_cell(value: str | int | Decimal) -> str | int:
    return f"{value:f}" if isinstance(value, Decimal) else value


def write_zip(sheets: Iterable[Sheet], out: BinaryIO) -> None:
    """An archive with a CSV file for each sheet."""
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for sheet in sheets:
            with archive.open(f"{sheet.name}.csv", "w", force_zip64=True) as part:
                write_csv(sheet, part)


def write_xlsx(sheets: Iterable[Sheet], out: BinaryIO) -> None:
    """A workbook with a sheet for each, the first line frozen."""
    from openpyxl import Workbook

    book = Workbook(write_only=True)
    for sheet in sheets:
        rows = iter(sheet.rows())
        for part in count(1):
            page = book.create_sheet(f"{sheet.name[:26]}{f' {part}' if part > 1 else ''}")
            page.freeze_panes = "A2"
            page.append([_xlsx_cell(name, page) for name in sheet.head])
            for row in islice(rows, MOST_ROWS - 1):
                page.append([_xlsx_cell(value, page) for value in row])
            if (over := next(rows, None)) is None:
                break
            rows = chain([over], rows)
    book.save(out)


def _xlsx_cell(value: Value, page):
    from openpyxl.cell import WriteOnlyCell

    if value is None:
        return None
    said = spoken(value)
    if isinstance(said, str) or _too_long(said):
        cell = WriteOnlyCell(page, value=str(said))
        cell.data_type = "s"
        return cell
    return said


def _too_long(number: int | Decimal) -> bool:
    return len(Decimal(number).as_tuple().digits) > DIGITS
