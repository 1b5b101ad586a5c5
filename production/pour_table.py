"""A pour sheet's batches as a table: a row for each, and columns to write in."""

from collections.abc import Sequence

from inventory import pdf
from production import pour_sheet_parts as parts

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


def pages(
    batches: Sequence[parts.Batch], width: float, height: float, size: float
) -> list[list[parts.Batch]]:
    """The batches of each page when type is of this size."""
    found, used = [[]], _header_height(size)
    for batch in batches:
        row = _row_height(batch, width, size)
        if found[-1] and used + row > height:
            found.append([])
            used = _header_height(size)
        found[-1].append(batch)
        used += row
    return found if used <= height else [*found, []]


def _header_height(size: float) -> float:
    return size * parts.LEADING + parts.PAD


def _widths(width: float) -> list[float]:
    return [width * share for _name, share in _COLUMNS]


def _cells(batch: parts.Batch, width: float, size: float) -> list[parts.Cell]:
    color = [parts.Entry(batch.recipe, pdf.BOLD, box=True, scale=1.1)]
    if batch.note:
        color.append(parts.Entry(batch.note, scale=0.85, indent=True))
    base = [parts.Entry(batch.base, pdf.BOLD)]
    if batch.cup:
        base.append(parts.Entry(batch.cup))
    doses = [parts.Entry(f"{d.measure} {d.what}", box=True) for d in batch.doses]
    molds = [parts.Entry(f"{m.shots} × {m.mold}", box=True) for m in batch.moldings]
    widths = _widths(width)
    chip = parts.chip_size(size) + parts.PAD
    filled = ((color, widths[0] - chip), (base, widths[1]), (doses, widths[2]), (molds, widths[4]))
    return [parts.cell(entries, room - 2 * parts.PAD, size) for entries, room in filled]


def _row_height(batch: parts.Batch, width: float, size: float) -> float:
    # Two blank lines at least, so that a gloved hand can write into the row.
    tallest = max(2 * parts.LEADING, *(cell.height for cell in _cells(batch, width, size)))
    return tallest * size + 2 * parts.PAD


def draw(drawing, batches: Sequence[parts.Batch], width: float, y: float, size: float) -> None:
    """From `y` down, `width` wide."""
    top = y
    widths = _widths(width)
    edges = [parts.MARGIN + sum(widths[:i]) for i in range(len(widths) + 1)]
    header = _header_height(size)
    drawing.setFillGray(0.9)
    drawing.rect(edges[0], y - header, edges[-1] - edges[0], header, stroke=0, fill=1)
    drawing.setFillGray(0)
    for (name, _share), x, room in zip(_COLUMNS, edges, widths, strict=False):
        drawing.setFont(pdf.BOLD, pdf.fitted(name, pdf.BOLD, size * 0.85, room - 6))
        drawing.drawString(x + min(parts.PAD, 3), y - header + parts.PAD + size * 0.2, name)
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


def _row(drawing, batch: parts.Batch, edges, top: float, width: float, size: float) -> None:
    color, base, doses, molds = _cells(batch, width, size)
    chip = parts.chip_size(size)
    parts.paint_chip(drawing, batch.chip, edges[0] + parts.PAD, top - parts.PAD - chip, chip)
    parts.write(drawing, color, edges[0] + chip + 2 * parts.PAD, top, size)
    parts.write(drawing, base, edges[1] + parts.PAD, top, size)
    for y in parts.write(drawing, doses, edges[2] + parts.PAD, top, size):
        _blank(drawing, edges, 3, y)
    for y in parts.write(drawing, molds, edges[4] + parts.PAD, top, size):
        _blank(drawing, edges, 5, y)
        _blank(drawing, edges, 6, y)


def _blank(drawing, edges, column: int, y: float) -> None:
    parts.blank(drawing, edges[column] + parts.PAD, edges[column + 1] - parts.PAD, y)
