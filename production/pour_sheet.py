"""The pour sheet: tonight's batches on paper, for the bench, where a phone may not survive.

Large type, a box to tick for every dose and mold, and blank columns for what really happened.
Landscape; the type shrinks until the evening fits on one page, and goes on to a second page
rather than become too small to read in a dim shop.
"""

import io
import re
from collections.abc import Sequence
from dataclasses import dataclass

from inventory import cautions, pdf

BEFORE_POURING = cautions.CAUTIONS["dry"].text
HEAT = cautions.CAUTIONS["heat"].text
BURN = f"{cautions.CAUTIONS['burn'].title} {cautions.CAUTIONS['burn'].text}"

_MARGIN = 30.0
_LARGEST, _SMALLEST = 13.0, 9.0
# A new entry leaves room to write; the lines of one entry stay close.
_LEADING, _CLOSE = 1.5, 1.2
_PAD = 5.0
# Shares of the page's width; the last three are for a pen only.
_COLUMNS = (
    ("Color", 0.185),
    ("Base, cup", 0.1),
    ("Doses", 0.28),
    ("Really used", 0.09),
    ("Molds and shots", 0.155),
    ("Good", 0.055),
    ("Rejects", 0.065),
    ("Leftover", 0.07),
)


class PourSheetError(ValueError):
    """A sheet that cannot be drawn; the text says why."""


@dataclass(frozen=True)
class Dose:
    """One thing that goes into the cup, as hands measure it: “Moss green”, “12 drops”."""

    what: str
    measure: str


@dataclass(frozen=True)
class Molding:
    """A mold and the shots planned for it."""

    mold: str
    shots: int


@dataclass(frozen=True)
class Batch:
    """One batch, in words: `base` is its volume of base with the unit, `cup` the cup's number,
    `chip` the color as #rrggbb or empty, `note` a short remark such as what it continues."""

    recipe: str
    base: str
    cup: str = ""
    chip: str = ""
    doses: tuple[Dose, ...] = ()
    moldings: tuple[Molding, ...] = ()
    note: str = ""


@dataclass(frozen=True)
class PourSheet:
    """An evening: its date and shop as text, its batches in pouring order, its paper
    (“letter” or “a4”)."""

    shop: str
    date: str
    batches: tuple[Batch, ...]
    paper: str = "letter"
    notes: str = ""


@dataclass(frozen=True)
class _Entry:
    """One text of a cell; `box` puts a tick box before it."""

    text: str
    font: str = pdf.BODY
    box: bool = False
    scale: float = 1.0
    indent: bool = False


@dataclass(frozen=True)
class _Cell:
    entries: tuple[tuple[_Entry, tuple[str, ...]], ...]

    @property
    def height(self) -> float:
        """In type sizes."""
        return sum(_LEADING + _CLOSE * (len(lines) - 1) for _entry, lines in self.entries)


def draw(sheet: PourSheet) -> bytes:
    """The sheet as a PDF. The same sheet always gives the same bytes.

    Raises PourSheetError for an evening without batches, an unknown paper, a chip that is no
    #rrggbb color, or a batch that fills more than a page.
    """
    _check(sheet)
    height, width = pdf.PAGES[sheet.paper]
    notes = pdf.wrap(pdf.clean(sheet.notes), pdf.BODY, 11, width - 2 * _MARGIN, break_words=True)
    size, pages = _paginate(sheet.batches, width, height, len(notes))
    out = io.BytesIO()
    drawing = pdf.canvas(out, (width, height), f"Pour sheet {sheet.date}, {sheet.shop}")
    for number, batches in enumerate(pages, 1):
        y = _head(drawing, sheet, notes, width, height)
        _table(drawing, batches, width, y, size)
        _foot(drawing, sheet, width, height, f"Page {number} of {len(pages)}")
        drawing.showPage()
    drawing.save()
    return out.getvalue()


def _check(sheet: PourSheet) -> None:
    if sheet.paper not in pdf.PAGES:
        raise PourSheetError(f"The paper is letter or a4, not “{sheet.paper}”.")
    if not sheet.batches:
        raise PourSheetError("There is no batch to pour.")
    for batch in sheet.batches:
        if batch.chip and not re.fullmatch("#[0-9a-fA-F]{6}", batch.chip):
            raise PourSheetError(f"{batch.recipe}: the chip “{batch.chip}” is no #rrggbb color.")


_HEAD = 74.0
_CAUTION = 44.0
_NOTE = 15.0


def _paginate(batches, width: float, height: float, note_lines: int):
    """The largest type with which all fits on one page, or the smallest over several pages."""
    room = height - 2 * _MARGIN - _HEAD - _CAUTION - _NOTE * note_lines
    size = _LARGEST
    while size > _SMALLEST:
        total = _header_height(size) + sum(_row_height(b, width, size) for b in batches)
        if total <= room:
            return size, [list(batches)]
        size -= 0.25
    pages, used = [[]], _header_height(size)
    for batch in batches:
        row = _row_height(batch, width, size)
        if row + _header_height(size) > room:
            raise PourSheetError(f"{batch.recipe} has more doses or molds than one page can hold.")
        if pages[-1] and used + row > room:
            pages.append([])
            used = _header_height(size)
        pages[-1].append(batch)
        used += row
    return size, pages


def _header_height(size: float) -> float:
    return size * _LEADING + _PAD


def _widths(width: float) -> list[float]:
    return [(width - 2 * _MARGIN) * share for _name, share in _COLUMNS]


def _cells(batch: Batch, width: float, size: float) -> list[_Cell]:
    color = [_Entry(batch.recipe, pdf.BOLD, box=True, scale=1.1)]
    if batch.note:
        color.append(_Entry(batch.note, scale=0.85, indent=True))
    base = [_Entry(batch.base, pdf.BOLD)]
    if batch.cup:
        base.append(_Entry(batch.cup))
    doses = [_Entry(f"{d.measure} {d.what}", box=True) for d in batch.doses]
    molds = [_Entry(f"{m.shots} × {m.mold}", box=True) for m in batch.moldings]
    widths = _widths(width)
    chip = _chip_size(size) + _PAD
    filled = ((color, widths[0] - chip), (base, widths[1]), (doses, widths[2]), (molds, widths[4]))
    return [_cell(entries, room - 2 * _PAD, size) for entries, room in filled]


def _chip_size(size: float) -> float:
    return size * 2.4


def _cell(entries: Sequence[_Entry], room: float, size: float) -> _Cell:
    wrapped = []
    for entry in entries:
        text, scaled = pdf.tie(pdf.clean(entry.text)), size * entry.scale
        available = room - _indent(entry, size)
        lines = pdf.wrap(text, entry.font, scaled, available, break_words=True)
        wrapped.append((entry, tuple(lines)))
    return _Cell(tuple(wrapped))


def _indent(entry: _Entry, size: float) -> float:
    return size * 1.3 if entry.box or entry.indent else 0


def _row_height(batch: Batch, width: float, size: float) -> float:
    # Two blank lines at least, so that a gloved hand can write into the row.
    tallest = max(2 * _LEADING, *(cell.height for cell in _cells(batch, width, size)))
    return tallest * size + 2 * _PAD


def _head(drawing, sheet: PourSheet, notes: list[str], width: float, height: float) -> float:
    """Title and cautions; returns where the table may begin."""
    top = height - _MARGIN
    half = (width - 2 * _MARGIN) / 2 - 5
    title, shop = f"Pour sheet {pdf.clean(sheet.date)}", pdf.clean(sheet.shop)
    drawing.setFont(pdf.BOLD, pdf.fitted(title, pdf.BOLD, 20, half))
    drawing.drawString(_MARGIN, top - 16, title)
    drawing.setFont(pdf.BODY, pdf.fitted(shop, pdf.BODY, 13, half))
    drawing.drawRightString(width - _MARGIN, top - 16, shop)
    box_top = top - 26
    drawing.setLineWidth(1.5)
    drawing.rect(_MARGIN, box_top - 40, width - 2 * _MARGIN, 40)
    x, y = _MARGIN + 8, box_top - 15
    _tick_box(drawing, x, y, 11)
    for text, line in ((BEFORE_POURING, y), (HEAT, y - 17)):
        drawing.setFont(pdf.BOLD, 11)
        drawing.drawString(x + 16, line, text)
    drawing.setFont(pdf.BODY, 8)
    drawing.drawRightString(width - _MARGIN - 8, y, cautions.DEFER)
    y = top - _HEAD
    drawing.setFont(pdf.BODY, 11)
    for line in notes:
        drawing.drawString(_MARGIN, y - 6, line)
        y -= _NOTE
    return y


def _foot(drawing, sheet: PourSheet, width: float, height: float, number: str) -> None:
    drawing.setFont(pdf.BOLD, 10)
    drawing.drawString(_MARGIN, _MARGIN + 12, BURN)
    drawing.setFont(pdf.BODY, 8)
    drawing.drawString(_MARGIN, _MARGIN + 1, cautions.DEFER)
    pdf.footer(drawing, (width, height), _MARGIN, f"{sheet.shop}, pour sheet {sheet.date}", number)


def _table(drawing, batches: Sequence[Batch], width: float, y: float, size: float) -> None:
    top = y
    widths = _widths(width)
    edges = [_MARGIN + sum(widths[:i]) for i in range(len(widths) + 1)]
    header = _header_height(size)
    drawing.setFillGray(0.9)
    drawing.rect(edges[0], y - header, edges[-1] - edges[0], header, stroke=0, fill=1)
    drawing.setFillGray(0)
    for (name, _share), x, room in zip(_COLUMNS, edges, widths, strict=False):
        drawing.setFont(pdf.BOLD, pdf.fitted(name, pdf.BOLD, size * 0.85, room - 6))
        drawing.drawString(x + min(_PAD, 3), y - header + _PAD + size * 0.2, name)
    y -= header
    for batch in batches:
        row = _row_height(batch, width, size)
        _row(drawing, batch, edges, y, width, size)
        y -= row
        drawing.setLineWidth(1)
        drawing.line(edges[0], y, edges[-1], y)
    drawing.setLineWidth(0.6)
    for x in edges:
        drawing.line(x, top, x, y)
    drawing.line(edges[0], top, edges[-1], top)


def _row(drawing, batch: Batch, edges, top: float, width: float, size: float) -> None:
    color, base, doses, molds = _cells(batch, width, size)
    chip = _chip_size(size)
    _chip(drawing, batch.chip, edges[0] + _PAD, top - _PAD - chip, chip)
    _text(drawing, color, edges[0] + chip + 2 * _PAD, top, size)
    _text(drawing, base, edges[1] + _PAD, top, size)
    for y in _text(drawing, doses, edges[2] + _PAD, top, size):
        _blank(drawing, edges, 3, y)
    for y in _text(drawing, molds, edges[4] + _PAD, top, size):
        _blank(drawing, edges, 5, y)
        _blank(drawing, edges, 6, y)


def _blank(drawing, edges, column: int, y: float) -> None:
    """A line to write on."""
    drawing.setLineWidth(0.5)
    drawing.line(edges[column] + _PAD, y - 2, edges[column + 1] - _PAD, y - 2)


def _chip(drawing, chip: str, x: float, y: float, side: float) -> None:
    """The color's square, or an empty frame for one that has no chip yet."""
    drawing.setLineWidth(0.8)
    if chip:
        drawing.setFillColor(chip)
    drawing.rect(x, y, side, side, stroke=1, fill=1 if chip else 0)
    drawing.setFillGray(0)


def _text(drawing, cell: _Cell, x: float, top: float, size: float) -> list[float]:
    """Draw a cell; returns the baseline of each entry's last line."""
    y, baselines = top - _PAD, []
    for entry, lines in cell.entries:
        for number, line in enumerate(lines):
            y -= size * (_CLOSE if number else _LEADING)
            base = y + size * 0.4
            if entry.box and not number:
                _tick_box(drawing, x, base, size)
            drawing.setFont(entry.font, size * entry.scale)
            drawing.drawString(x + _indent(entry, size), base, line)
        baselines.append(y + size * 0.4)
    return baselines


def _tick_box(drawing, x: float, base: float, size: float) -> None:
    drawing.setLineWidth(1)
    drawing.rect(x, base - size * 0.1, size * 0.9, size * 0.9)
