"""From the bytes of an uploaded file to a table: CSV in the usual shapes, or one sheet of an XLSX.

Nothing in the bytes is believed: not the name, not the sizes an archive declares, not the XML.
"""

import csv
import io
import re
import warnings
import zipfile
import zlib
from collections.abc import Iterable
from datetime import date, datetime
from decimal import Decimal

from inventory.exchange import guard
from inventory.exchange.table import DAY, NUMBER, Cell, FileError, Table, Trouble

MOST_BYTES = 2_000_000
MOST_ROWS = 2_000
MOST_COLUMNS = 60
#: A workbook of 2,000 lines unpacks to a few MB; a bomb to gigabytes.
MOST_UNPACKED = 25_000_000
MOST_PARTS = 300
#: XML elements of all parts together: what the reader must hold in memory.
MOST_ELEMENTS = 400_000
#: Rows a sheet may reach down to, empty ones among them.
LOWEST_ROW = 10_000
LONGEST_CELL = 4_000

_NOTE = "# "
_PICTURES = {
    b"\x89PNG\r\n\x1a\n": "a picture (PNG)",
    b"\xff\xd8\xff": "a picture (JPEG)",
    b"GIF8": "a picture (GIF)",
    b"%PDF": "a PDF",
    b"\x1f\x8b": "a packed file (gzip)",
}
_AGAIN = "Save it as XLSX or as CSV (UTF-8) and choose that file."


def read(data: bytes, *, sheets: Iterable[str] = (), most_rows: int = MOST_ROWS) -> Table:
    """The file's table. Of a workbook the sheet named in `sheets` is read, else the first visible one.

    Raises FileError; a cell that can't be read holds its trouble instead."""
    if not data.strip(b"\x00 \t\r\n"):
        raise FileError("The file is empty.")
    if len(data) > MOST_BYTES:
        raise FileError(too_large())
    for start, what in _PICTURES.items():
        if data.startswith(start):
            raise FileError(f"This is {what}, whatever its name says. {_AGAIN}")
    if data.startswith(b"\xd0\xcf\x11\xe0"):
        raise FileError(f"This is an old or a password-protected spreadsheet. {_AGAIN}")
    table = _Workbook(data).table(sheets) if data.startswith(b"PK") else _csv(data)
    if len(table.rows) > most_rows + 1:
        raise FileError(f"The file has more than {most_rows:,} lines. Load it in parts.")
    return table


def too_large() -> str:
    return f"The file is larger than {MOST_BYTES // 1_000_000} MB. Split it, or remove what isn't needed."


def _checked(rows: list[tuple[int, tuple[Cell, ...]]]) -> tuple:
    """Rows that hold anything but notes, within the limits."""
    kept = []
    for line, cells in rows:
        while cells and not (cells[-1].text or cells[-1].trouble):
            cells = cells[:-1]
        first = next((cell.text for cell in cells if cell.text), "")
        if not cells or first.startswith(_NOTE):
            continue
        if len(cells) > MOST_COLUMNS:
            raise FileError(f"Line {line} has more than {MOST_COLUMNS} columns. Remove some.")
        kept.append((line, cells))
    if not kept:
        raise FileError("The file is empty.")
    return tuple(kept)


def _text_cell(text: str) -> Cell:
    text = guard.rearmed(text.replace("\r\n", "\n").replace("\r", "\n").strip())
    if len(text) > LONGEST_CELL:
        return Cell(text[:40], trouble=f"This is longer than {LONGEST_CELL:,} letters.")
    return Cell(text)


# --- CSV ---------------------------------------------------------------------


def _csv(data: bytes) -> Table:
    text, notes = _decoded(data)
    if "\0" in text:
        raise FileError(f"The file holds characters that are no text. {_AGAIN}")
    head = next(
        (line for line in text.splitlines() if line.strip() and not line.startswith(_NOTE)), ""
    )
    separator = max(",;\t", key=head.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    rows, line = [], 1
    try:
        for cells in reader:
            rows.append((line, tuple(_text_cell(cell) for cell in cells)))
            line = reader.line_num + 1
    except csv.Error as error:
        raise FileError(
            f"Line {line} can't be read as CSV: a quotation mark isn't closed or stands alone."
        ) from error
    return Table(_checked(rows), separator=separator, notes=notes)


def _decoded(data: bytes) -> tuple[str, tuple[str, ...]]:
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        try:
            return data.decode("utf-16"), ()
        except UnicodeDecodeError as error:
            raise FileError(f"The file's text is broken (UTF-16). {_AGAIN}") from error
    try:
        return data.decode("utf-8-sig"), ()
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
    try:
        text = data.decode("cp1252")
    except UnicodeDecodeError as error:
        raise FileError(
            f"The letters of the file can't be read (line {line}). In the spreadsheet, save it as "
            "“CSV UTF-8”."
        ) from error
    words = dict.fromkeys(re.findall(r"[^\W\d_]*[^\x00-\x7f][^\W\d_]*", text))
    seen = ", ".join(f"“{word[:30]}”" for word in list(words)[:5])
    return text, (
        f"The file isn't UTF-8; its letters were read as Windows-1252: {seen}. If that looks wrong, "
        "save the file as “CSV UTF-8” and choose it again.",
    )


# --- XLSX --------------------------------------------------------------------


class _Workbook:
    def __init__(self, data: bytes) -> None:
        self.data = data
        _refuse_bombs(data)

    def table(self, sheets: Iterable[str]) -> Table:
        from openpyxl import load_workbook

        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                # Once for the values kept beside formulas, once to know which cells are formulas.
                values = load_workbook(io.BytesIO(self.data), data_only=True, keep_links=False)
                formulas = load_workbook(io.BytesIO(self.data), keep_links=False)
        # A broken workbook makes the reader stumble in any way at all.
        except Exception as error:
            raise FileError(
                f"The workbook can't be read. Open it in the spreadsheet once more. {_AGAIN}"
            ) from error
        sheet = _chosen(values, sheets)
        if sheet.max_row > LOWEST_ROW or sheet.max_row * sheet.max_column > MOST_ELEMENTS:
            raise FileError(
                f"The sheet “{sheet.title}” reaches to row {sheet.max_row:,}, column "
                f"{sheet.max_column:,}. Delete the empty rows and columns behind the last one in use."
            )
        rows = []
        for cells, behind in zip(sheet.rows, formulas[sheet.title].rows, strict=True):
            read = tuple(_cell(a, b) for a, b in zip(cells, behind, strict=True))
            rows.append((cells[0].row, read))
        kept = _checked(rows)
        lines = {line for line, _ in kept}
        troubles = [
            Trouble(
                area.min_row,
                "",
                f"The cells {area.coord} are merged. Split them, and write what belongs to each line "
                "into it.",
            )
            for area in sorted(sheet.merged_cells.ranges, key=lambda area: area.min_row)
            if lines & set(range(area.min_row, area.max_row + 1))
        ]
        return Table(kept, troubles=tuple(troubles))


def _chosen(book, wanted: Iterable[str]):
    shown = [sheet for sheet in book.worksheets if sheet.sheet_state == "visible"]
    if not shown:
        raise FileError("The workbook has no sheet that can be seen.")
    names = {name.casefold() for name in wanted}
    return next((sheet for sheet in shown if sheet.title.casefold() in names), shown[0])


def _cell(cell, behind) -> Cell:
    value = cell.value
    if behind.data_type == "f" and value is None:
        return Cell(
            trouble="The formula in this cell has no result in the file. Open it in the spreadsheet "
            "and save it again, or write the value itself."
        )
    if value is None:
        return Cell()
    if cell.data_type == "e":
        return Cell(trouble=f"“{str(value)[:20]}” is an error of the spreadsheet. Write the value.")
    if isinstance(value, bool):
        return Cell("yes" if value else "no")
    if isinstance(value, int | float):
        number = Decimal(repr(value)) if isinstance(value, float) else Decimal(value)
        text = f"{number:f}"
        return Cell(text.rstrip("0").rstrip(".") if "." in text else text, NUMBER)
    if isinstance(value, datetime | date):
        return Cell(f"{value:%Y-%m-%d}", DAY)
    if isinstance(value, str):
        return _text_cell(value)
    return Cell(trouble="The spreadsheet made a time of this. Format the cell as text.")


def _refuse_bombs(data: bytes) -> None:
    """Measures what an archive unpacks to, and walks its XML without keeping any of it."""
    broken = f"The file is no whole XLSX workbook. {_AGAIN}"
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            parts = archive.infolist()
            if len(parts) > MOST_PARTS or sum(part.file_size for part in parts) > MOST_UNPACKED:
                raise FileError(_too_much())
            if "xl/workbook.xml" not in archive.namelist():
                raise FileError(f"This is an archive, but no XLSX workbook. {_AGAIN}")
            if any(part.flag_bits & 1 for part in parts):
                raise FileError(f"The workbook is locked with a password. {_AGAIN}")
            _walk(archive, parts)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, ValueError) as error:
        if isinstance(error, FileError):
            raise
        raise FileError(broken) from error


def _walk(archive: zipfile.ZipFile, parts: list[zipfile.ZipInfo]) -> None:
    from xml.sax import ContentHandler, SAXException

    import defusedxml.sax
    from defusedxml import DefusedXmlException

    class Counter(ContentHandler):
        elements = 0

        def startElement(self, name, attrs) -> None:
            self.elements += 1
            if self.elements > MOST_ELEMENTS:
                raise FileError(_too_much())

    unpacked, counter = 0, Counter()
    for part in parts:
        with archive.open(part) as stream:
            content = stream.read(MOST_UNPACKED - unpacked + 1)
        unpacked += len(content)
        if unpacked > MOST_UNPACKED:
            raise FileError(_too_much())
        if part.filename.endswith((".xml", ".rels", ".vml")):
            try:
                defusedxml.sax.parseString(content, counter, forbid_dtd=True)
            except DefusedXmlException as error:
                raise FileError(
                    f"The workbook holds declarations (DTD) that no spreadsheet writes. {_AGAIN}"
                ) from error
            except SAXException as error:
                raise FileError(
                    f"The workbook is damaged ({part.filename[:60]}). {_AGAIN}"
                ) from error


def _too_much() -> str:
    return (
        "The workbook unpacks to far more than a sheet of this kind needs. Copy the lines into a new "
        "workbook, without pictures and empty formatted rows, and choose that one."
    )
