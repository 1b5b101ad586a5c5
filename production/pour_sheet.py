"""The pour sheet: tonight's batches on paper, for the bench, where a phone may not survive.

Large type, a box to tick for every dose and mold, and blanks for what really happened. Landscape; a
table for a few batches, cards in three columns for many. The type shrinks until the evening fits on
one page, and goes on to a second page rather than become too small to read in a dim shop.
"""

import io
import re
from dataclasses import dataclass

from inventory import cautions, pdf
from production import pour_cards, pour_table
from production import pour_sheet_parts as parts

# The words of a sheet are read as pour_sheet.Batch and so on.
Batch = parts.Batch
Dose = parts.Dose
Molding = parts.Molding

BEFORE_POURING = cautions.CAUTIONS["dry"].text
HEAT = cautions.CAUTIONS["heat"].text
BURN = f"{cautions.CAUTIONS['burn'].title} {cautions.CAUTIONS['burn'].text}"

_LARGEST, _SMALLEST = 13.0, 9.0


class PourSheetError(ValueError):
    """A sheet that cannot be drawn; the text says why."""


@dataclass(frozen=True)
class PourSheet:
    """An evening: its date and shop as text, its batches in pouring order, its paper
    (“letter” or “a4”)."""

    shop: str
    date: str
    batches: tuple[Batch, ...]
    paper: str = "letter"
    notes: str = ""


def draw(sheet: PourSheet) -> bytes:
    """The sheet as a PDF. The same sheet always gives the same bytes.

    Raises PourSheetError for an evening without batches, an unknown paper, a chip that is no
    #rrggbb color, or a batch that fills more than a page.
    """
    _check(sheet)
    height, width = pdf.PAGES[sheet.paper]
    notes = pdf.wrap(
        pdf.clean(sheet.notes), pdf.BODY, 11, width - 2 * parts.MARGIN, break_words=True
    )
    layout, size, pages = _paginate(sheet.batches, width, height, len(notes))
    out = io.BytesIO()
    drawing = pdf.canvas(out, (width, height), f"Pour sheet {sheet.date}, {sheet.shop}")
    for number, batches in enumerate(pages, 1):
        y = _head(drawing, sheet, notes, width, height)
        layout.draw(drawing, batches, width - 2 * parts.MARGIN, y, size)
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
_NOTE = 15.0


def _paginate(batches, width: float, height: float, note_lines: int):
    """The layout, its type size and the batches of each page: the one that allows the larger type on one
    page, the table if both do alike; else the smallest type, as cards, over several pages."""
    room = (
        width - 2 * parts.MARGIN,
        height - 2 * parts.MARGIN - _HEAD - parts.FOOT - _NOTE * note_lines,
    )
    size = _LARGEST
    while size >= _SMALLEST:
        for layout in (pour_table, pour_cards):
            pages = layout.pages(batches, *room, size)
            if len(pages) == 1:
                return layout, size, pages
        size -= 0.25
    try:
        return pour_cards, _SMALLEST, pour_cards.pages(batches, *room, _SMALLEST, strict=True)
    except parts.TooTall as error:
        raise PourSheetError(f"{error} has more doses or molds than one page can hold.") from error


def _head(drawing, sheet: PourSheet, notes: list[str], width: float, height: float) -> float:
    """Title and cautions; returns where the table may begin."""
    top = height - parts.MARGIN
    half = (width - 2 * parts.MARGIN) / 2 - 5
    title, shop = f"Pour sheet {pdf.clean(sheet.date)}", pdf.clean(sheet.shop)
    drawing.setFont(pdf.BOLD, pdf.fitted(title, pdf.BOLD, 20, half))
    drawing.drawString(parts.MARGIN, top - 16, title)
    drawing.setFont(pdf.BODY, pdf.fitted(shop, pdf.BODY, 13, half))
    drawing.drawRightString(width - parts.MARGIN, top - 16, shop)
    box_top = top - 26
    drawing.setLineWidth(1.5)
    drawing.rect(parts.MARGIN, box_top - 40, width - 2 * parts.MARGIN, 40)
    x, y = parts.MARGIN + 8, box_top - 15
    parts.tick_box(drawing, x, y, 11)
    for text, line in ((BEFORE_POURING, y), (HEAT, y - 17)):
        drawing.setFont(pdf.BOLD, 11)
        drawing.drawString(x + 16, line, text)
    drawing.setFont(pdf.BODY, 8)
    drawing.drawRightString(width - parts.MARGIN - 8, y, cautions.DEFER)
    y = top - _HEAD
    drawing.setFont(pdf.BODY, 11)
    for line in notes:
        drawing.drawString(parts.MARGIN, y - 6, line)
        y -= _NOTE
    return y


def _foot(drawing, sheet: PourSheet, width: float, height: float, number: str) -> None:
    drawing.setFont(pdf.BOLD, 10)
    drawing.drawString(parts.MARGIN, parts.MARGIN + 12, BURN)
    drawing.setFont(pdf.BODY, 8)
    drawing.drawString(parts.MARGIN, parts.MARGIN + 1, cautions.DEFER)
    pdf.footer(
        drawing, (width, height), parts.MARGIN, f"{sheet.shop}, pour sheet {sheet.date}", number
    )
