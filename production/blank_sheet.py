"""The blank pour sheet: an evening on paper with nothing planned, in the order in which it is entered
afterwards (production/forms/paper.py)."""

import io
from dataclasses import dataclass

from inventory import pdf
from production import pour_sheet

#: What one row asks for, and its share of the page's width.
COLUMNS = (
    ("No.", 0.035),
    ("Recipe", 0.15),
    ("Base: lot, amount", 0.12),
    ("Leftover in", 0.085),
    ("Doses", 0.15),
    ("Heats: min, peak", 0.09),
    ("Mold", 0.11),
    ("Shots", 0.05),
    ("Good", 0.05),
    ("Seconds", 0.062),
    ("Rejects: how many, why", 0.09),
    ("Left: how much, what became of it", 0.1),
)
ROWS = 8
_MARGIN = 30.0
_HEAD = 96.0


class BlankSheetError(ValueError):
    """A sheet that cannot be drawn; the text says why."""


@dataclass(frozen=True)
class BlankSheet:
    """The shop's name, and the paper (“letter” or “a4”)."""

    shop: str
    paper: str = "letter"


def draw(sheet: BlankSheet) -> bytes:
    """One page as a PDF; the same sheet always gives the same bytes. Raises BlankSheetError."""
    if sheet.paper not in pdf.PAGES:
        raise BlankSheetError(f"The paper is letter or a4, not “{sheet.paper}”.")
    height, width = pdf.PAGES[sheet.paper]
    out = io.BytesIO()
    drawing = pdf.canvas(out, (width, height), f"Blank pour sheet, {sheet.shop}")
    _head(drawing, sheet, width, height)
    _grid(drawing, width, height)
    pdf.footer(drawing, (width, height), _MARGIN, f"{sheet.shop}, pour sheet", "Sheet ___ of ___")
    drawing.showPage()
    drawing.save()
    return out.getvalue()


def _head(drawing, sheet: BlankSheet, width: float, height: float) -> None:
    top = height - _MARGIN
    drawing.setFont(pdf.BOLD, 18)
    drawing.drawString(_MARGIN, top - 14, "Pour sheet")
    shop = pdf.clean(sheet.shop)
    drawing.setFont(pdf.BODY, pdf.fitted(shop, pdf.BODY, 12, width / 3))
    drawing.drawRightString(width - _MARGIN, top - 14, shop)
    drawing.setFont(pdf.BODY, 11)
    blank = "_" * 18
    drawing.drawString(
        _MARGIN + 120, top - 14, f"Date {blank}   Began at {'_' * 10}   By {'_' * 14}"
    )
    drawing.setFont(pdf.BOLD, 9.5)
    for row, text in enumerate((pour_sheet.BEFORE_POURING, pour_sheet.HEAT, pour_sheet.BURN)):
        drawing.drawString(_MARGIN, top - 36 - 13 * row, text)
    drawing.setFont(pdf.BODY, 9.5)
    drawing.drawString(
        _MARGIN, top - 78, "At the end:  ☐ injector purged   ☐ seals checked   ☐ molds dry"
    )


def _grid(drawing, width: float, height: float) -> None:
    top, bottom = height - _MARGIN - _HEAD, _MARGIN + 18
    room = width - 2 * _MARGIN
    total = sum(share for _name, share in COLUMNS)
    edges = [_MARGIN]
    for _name, share in COLUMNS:
        edges.append(edges[-1] + room * share / total)
    head = 34.0
    drawing.setFillGray(0.9)
    drawing.rect(_MARGIN, top - head, room, head, stroke=0, fill=1)
    drawing.setFillGray(0)
    for (name, _share), left, right in zip(COLUMNS, edges, edges[1:], strict=False):
        lines = pdf.wrap(name, pdf.BOLD, 7.5, right - left - 4, break_words=True)
        drawing.setFont(pdf.BOLD, 7.5)
        for row, line in enumerate(lines[:4]):
            drawing.drawString(left + 2, top - 8 - 8 * row, line)
    step = (top - head - bottom) / ROWS
    drawing.setLineWidth(0.8)
    for row in range(ROWS + 1):
        y = top - head - step * row
        drawing.line(_MARGIN, y, width - _MARGIN, y)
        if row < ROWS:
            drawing.setFont(pdf.BODY, 11)
            drawing.drawCentredString((edges[0] + edges[1]) / 2, y - step / 2 - 4, str(row + 1))
    drawing.line(_MARGIN, top, width - _MARGIN, top)
    for x in edges:
        drawing.line(x, top, x, bottom)
