"""Sheets going out, as CSV or XLSX, row by row: the whole is never held in memory.

Text passes the guard; an XLSX cell is a number or a string, never a formula.
"""

import csv
import io
import re
import zipfile
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from functools import cache
from itertools import chain, count, islice
from typing import BinaryIO
from xml.sax.saxutils import escape, quoteattr

from inventory.exchange import guard

#: What XML 1.0 can't carry (section 2.2), lone surrogates included.
_NO_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
#: An XLSX cell holds no more (ECMA-376, limits of common spreadsheets).
LONGEST = 32_767
#: Rows of an XLSX sheet (ECMA-376), the first of them the names; what is over goes to a further sheet.
MOST_ROWS = 1_048_576
#: A spreadsheet's number is a double: more digits than this are kept as text.
DIGITS = 15
#: Bytes sent at a time.
PIECE = 64 * 1024

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
    for _ in _csv(sheet, out):
        pass


def _csv(sheet: Sheet, out: BinaryIO) -> Iterator[None]:
    """Writes the sheet; stops after each row."""
    text = io.TextIOWrapper(out, encoding="utf-8-sig", newline="", write_through=True)
    writer = csv.writer(text)
    writer.writerow([spoken(cell) for cell in sheet.head])
    for row in sheet.rows():
        writer.writerow([_csv_cell(spoken(cell)) for cell in row])
        yield
    text.flush()
    text.detach()


def _csv_cell(value: str | int | Decimal) -> str | int:
    return f"{value:f}" if isinstance(value, Decimal) else value


class _Outbox(io.RawIOBase):
    """Takes bytes in and hands them on; an archive written to it is never sought in."""

    def __init__(self) -> None:
        self._waiting: list[bytes] = []
        self.size = 0

    def writable(self) -> bool:
        return True

    def write(self, data) -> int:
        self._waiting.append(bytes(data))
        self.size += len(data)
        return len(data)

    def taken(self) -> bytes:
        data = b"".join(self._waiting)
        self._waiting.clear()
        self.size = 0
        return data


def _pieces(fill: Callable[[zipfile.ZipFile], Iterator[None]]) -> Iterator[bytes]:
    """An archive piece by piece, while `fill` writes it row by row."""
    out = _Outbox()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for _ in fill(archive):
            if out.size >= PIECE:
                yield out.taken()
    yield out.taken()


def zip_pieces(sheets: Iterable[Sheet]) -> Iterator[bytes]:
    """An archive with a CSV file for each sheet, in pieces as they are written."""

    def fill(archive: zipfile.ZipFile) -> Iterator[None]:
        for sheet in sheets:
            with archive.open(f"{sheet.name}.csv", "w", force_zip64=True) as part:
                yield from _csv(sheet, part)

    return _pieces(fill)


def xlsx_pieces(sheets: Iterable[Sheet]) -> Iterator[bytes]:
    """A workbook with a sheet for each, the first line frozen, in pieces as they are written.

    Office Open XML (ECMA-376 part 1, 18.2 and 18.3) in an archive (part 2), texts inside their cells:
    libraries make the whole file before its first byte can be sent."""

    def fill(archive: zipfile.ZipFile) -> Iterator[None]:
        for path, text in _FRAME.items():
            archive.writestr(path, text)
        names: list[str] = []
        for sheet in sheets:
            rows = iter(sheet.rows())
            for part in count(1):
                names.append(f"{sheet.name[:26]}{f' {part}' if part > 1 else ''}")
                path = f"xl/worksheets/sheet{len(names)}.xml"
                # Not in ZIP64, which spreadsheets may refuse: a full sheet stays far below 2 GiB.
                with archive.open(path, "w") as page:
                    page.write(_PAGE_STARTS)
                    page.write(_xlsx_row(1, sheet.head))
                    for number, row in enumerate(islice(rows, MOST_ROWS - 1), 2):
                        page.write(_xlsx_row(number, row))
                        yield
                    page.write(_PAGE_ENDS)
                if (over := next(rows, None)) is None:
                    break
                rows = chain([over], rows)
        for path, text in _contents(names).items():
            archive.writestr(path, text)

    return _pieces(fill)


def write_xlsx(sheets: Iterable[Sheet], out: BinaryIO) -> None:
    """The workbook of `xlsx_pieces`, into a file."""
    for piece in xlsx_pieces(sheets):
        out.write(piece)


_XML = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_LINK = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_PACKAGE = "http://schemas.openxmlformats.org/package/2006"
_KIND = "application/vnd.openxmlformats-officedocument.spreadsheetml"
#: What stands in front, whatever the sheets: every part is a sheet, except for the list of them.
_FRAME = {
    "[Content_Types].xml": (
        f'{_XML}<Types xmlns="{_PACKAGE}/content-types">'
        '<Default Extension="rels" '
        'ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
        f'<Default Extension="xml" ContentType="{_KIND}.worksheet+xml"/>'
        f'<Override PartName="/xl/workbook.xml" ContentType="{_KIND}.sheet.main+xml"/></Types>'
    ),
    "_rels/.rels": (
        f'{_XML}<Relationships xmlns="{_PACKAGE}/relationships"><Relationship Id="rId1" '
        f'Type="{_LINK}/officeDocument" Target="xl/workbook.xml"/></Relationships>'
    ),
}
_PAGE_STARTS = (
    f'{_XML}<worksheet xmlns="{_MAIN}"><sheetViews><sheetView workbookViewId="0">'
    '<pane ySplit="1" topLeftCell="A2" activePane="bottomLeft" state="frozen"/>'
    "</sheetView></sheetViews><sheetData>"
).encode()
_PAGE_ENDS = b"</sheetData></worksheet>"


def _contents(names: Sequence[str]) -> dict[str, str]:
    """The list of the sheets, and where each lies."""
    listed = "".join(
        f'<sheet name={quoteattr(name)} sheetId="{n}" r:id="rId{n}"/>'
        for n, name in enumerate(names, 1)
    )
    lie = "".join(
        f'<Relationship Id="rId{n}" Type="{_LINK}/worksheet" Target="worksheets/sheet{n}.xml"/>'
        for n in range(1, len(names) + 1)
    )
    return {
        "xl/workbook.xml": (
            f'{_XML}<workbook xmlns="{_MAIN}" xmlns:r="{_LINK}"><bookViews><workbookView/></bookViews>'
            f"<sheets>{listed}</sheets></workbook>"
        ),
        "xl/_rels/workbook.xml.rels": (
            f'{_XML}<Relationships xmlns="{_PACKAGE}/relationships">{lie}</Relationships>'
        ),
    }


def _xlsx_row(number: int, row: Sequence[Value]) -> bytes:
    cells = [_xlsx_cell(f"{_letters(at)}{number}", value) for at, value in enumerate(row)]
    return f'<row r="{number}">{"".join(cells)}</row>'.encode()


def _xlsx_cell(at: str, value: Value) -> str:
    if value is None:
        return ""
    said = spoken(value)
    if said == "":
        return ""
    if isinstance(said, str) or _too_long(said):
        text = escape(str(said), {"\r": "&#13;"})
        return f'<c r="{at}" t="inlineStr"><is><t xml:space="preserve">{text}</t></is></c>'
    return f'<c r="{at}"><v>{said}</v></c>'


@cache
def _letters(column: int) -> str:
    """A, B, … Z, AA, AB … for 0, 1, …"""
    before, at = divmod(column, 26)
    return (_letters(before - 1) if before else "") + chr(ord("A") + at)


def _too_long(number: int | Decimal) -> bool:
    if isinstance(number, int):
        return abs(number) >= 10**DIGITS
    return len(number.as_tuple().digits) > DIGITS
