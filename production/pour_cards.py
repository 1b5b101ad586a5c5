"""A pour sheet's batches as cards in columns: for an evening of many, of which a table takes too much room."""

from collections.abc import Sequence
from dataclasses import dataclass

from inventory import pdf
from production import pour_sheet_parts as parts

COLUMNS = 3
_GAP = 10.0
# Room at the right of a line for what really went in, or came out, in type sizes.
_USED, _COUNTS = 4.5, 11.0
_LEFT = "Leftover"


@dataclass(frozen=True)
class _Card:
    """A batch with its texts broken into lines; `height` is in points."""

    batch: parts.Batch
    head: parts.Cell
    doses: parts.Cell
    molds: parts.Cell
    height: float


def pages(
    batches: Sequence[parts.Batch],
    width: float,
    height: float,
    size: float,
    *,
    strict: bool = False,
) -> list[list[parts.Batch]]:
    """The batches of each page when type is of this size, down one column and on in the next.

    A batch taller than a column takes a page of its own; with `strict` it raises TooTall."""
    found: list[list[parts.Batch]] = [[]]
    for column, cards in enumerate(_columns(batches, width, height, size)):
        if column and column % COLUMNS == 0:
            found.append([])
        found[-1] += [card.batch for card in cards]
        for card in cards:
            if card.height > height and strict:
                raise parts.TooTall(card.batch.recipe)
            if card.height > height:
                found.append([])
    return found


def draw(drawing, batches: Sequence[parts.Batch], width: float, y: float, size: float) -> None:
    """From `y` down, `width` wide."""
    bottom = parts.MARGIN + parts.FOOT
    for column, cards in enumerate(_columns(batches, width, y - bottom, size)):
        x, top = parts.MARGIN + column * (_card_width(width) + _GAP), y
        for card in cards:
            _draw(drawing, card, x, top, _card_width(width), size)
            top -= card.height


def _columns(batches, width: float, height: float, size: float) -> list[list[_Card]]:
    found: list[list[_Card]] = [[]]
    used = 0.0
    for batch in batches:
        card = _card(batch, _card_width(width), size)
        if found[-1] and used + card.height > height:
            found.append([])
            used = 0.0
        found[-1].append(card)
        used += card.height
    return found


def _card_width(width: float) -> float:
    return (width - (COLUMNS - 1) * _GAP) / COLUMNS


def _card(batch: parts.Batch, width: float, size: float) -> _Card:
    room = width - 2 * parts.PAD
    about = ", ".join(text for text in (batch.base, batch.cup, batch.note) if text)
    head = parts.cell(
        [
            parts.Entry(batch.recipe, pdf.BOLD, box=True, scale=1.1),
            parts.Entry(about, scale=0.9, indent=True),
        ],
        room - parts.chip_size(size) - parts.PAD,
        size,
    )
    doses = parts.cell(
        [parts.Entry(f"{dose.measure} {dose.what}", box=True) for dose in batch.doses],
        room - _USED * size,
        size,
    )
    molds = parts.cell(
        [parts.Entry(f"{m.shots} × {m.mold}", box=True) for m in batch.moldings]
        + [parts.Entry(_LEFT)],
        room - _COUNTS * size,
        size,
    )
    # The last line is one to write on: nothing need stand below it.
    height = (head.height + doses.height + molds.height) * size + parts.PAD + 1
    return _Card(batch, head, doses, molds, height)


def _draw(drawing, card: _Card, x: float, top: float, width: float, size: float) -> None:
    drawing.setLineWidth(0.8)
    drawing.rect(x, top - card.height + 1, width, card.height - 2)
    left, right, side = x + parts.PAD, x + width - parts.PAD, parts.chip_size(size)
    parts.paint_chip(drawing, card.batch.chip, left, top - parts.PAD - side, side)
    parts.write(drawing, card.head, left + side + parts.PAD, top, size)
    y = top - card.head.height * size
    for line in parts.write(drawing, card.doses, left, y, size):
        parts.blank(drawing, right - _USED * size + parts.PAD, right, line)
    y -= card.doses.height * size
    *shot, last = parts.write(drawing, card.molds, left, y, size)
    for line in shot:
        half = _COUNTS / 2 * size
        for word, start in (("good", right - 2 * half), ("rejects", right - half)):
            drawing.setFont(pdf.BODY, size * 0.8)
            drawing.drawString(start + 2, line, word)
            after = start + 4 + pdf.width(word, pdf.BODY, size * 0.8)
            parts.blank(drawing, after, start + half, line)
    parts.blank(drawing, left + pdf.width(_LEFT, pdf.BODY, size) + parts.PAD, right, last)
