"""What a pour sheet is made of: its batches in words, and cells of text with boxes to tick.

Lengths are points; heights of cells are in type sizes.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from inventory import pdf

MARGIN = 30.0
# A new entry leaves room to write; the lines of one entry stay close.
LEADING, CLOSE = 1.5, 1.2
PAD = 5.0
#: What the page's foot takes: cautions and the page's number.
FOOT = 44.0


class TooTall(ValueError):
    """A batch that one page cannot hold; the text names it."""


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
class Entry:
    """One text of a cell; `box` puts a tick box before it."""

    text: str
    font: str = pdf.BODY
    box: bool = False
    scale: float = 1.0
    indent: bool = False


@dataclass(frozen=True)
class Cell:
    """Texts with the lines into which they were broken."""

    entries: tuple[tuple[Entry, tuple[str, ...]], ...]

    @property
    def height(self) -> float:
        """In type sizes."""
        return sum(LEADING + CLOSE * (len(lines) - 1) for _entry, lines in self.entries)


def cell(entries: Sequence[Entry], room: float, size: float) -> Cell:
    """The texts broken into lines no wider than `room`."""
    wrapped = []
    for entry in entries:
        text, scaled = pdf.tie(pdf.clean(entry.text)), size * entry.scale
        available = room - _indent(entry, size)
        lines = pdf.wrap(text, entry.font, scaled, available, break_words=True)
        wrapped.append((entry, tuple(lines)))
    return Cell(tuple(wrapped))


def _indent(entry: Entry, size: float) -> float:
    return size * 1.3 if entry.box or entry.indent else 0


def chip_size(size: float) -> float:
    """The side of a color's square beside type of this size."""
    return size * 2.4


def paint_chip(drawing, chip: str, x: float, y: float, side: float) -> None:
    """The color's square, or an empty frame for one that has no chip yet."""
    drawing.setLineWidth(0.8)
    if chip:
        drawing.setFillColor(chip)
    drawing.rect(x, y, side, side, stroke=1, fill=1 if chip else 0)
    drawing.setFillGray(0)


def write(drawing, cell: Cell, x: float, top: float, size: float) -> list[float]:
    """Draw a cell; returns the baseline of each entry's last line."""
    y, baselines = top - PAD, []
    for entry, lines in cell.entries:
        for number, line in enumerate(lines):
            y -= size * (CLOSE if number else LEADING)
            base = y + size * 0.4
            if entry.box and not number:
                tick_box(drawing, x, base, size)
            drawing.setFont(entry.font, size * entry.scale)
            drawing.drawString(x + _indent(entry, size), base, line)
        baselines.append(y + size * 0.4)
    return baselines


def blank(drawing, left: float, right: float, y: float) -> None:
    """A line to write on."""
    drawing.setLineWidth(0.5)
    drawing.line(left, y - 2, right, y - 2)


def tick_box(drawing, x: float, base: float, size: float) -> None:
    """A box as tall as the letters on the baseline `base`."""
    drawing.setLineWidth(1)
    drawing.rect(x, base - size * 0.1, size * 0.9, size * 0.9)
