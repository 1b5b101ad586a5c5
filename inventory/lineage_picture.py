"""The family of a lot, drawn: boxes that can be walked, on the page and on paper."""

from collections.abc import Mapping
from dataclasses import dataclass
from xml.sax import saxutils

from reportlab.pdfgen.canvas import Canvas

from inventory import pdf
from inventory.lineage_layout import Layout
from inventory.svg import HEX, Drawing

BOX_W, BOX_H, GAP_X, GAP_Y, MARGIN = 148.0, 46.0, 14.0, 40.0, 8.0


@dataclass(frozen=True)
class Box:
    """A lot in two lines, the page behind it, its color as #rrggbb or "", and whether it is on hold."""

    name: str
    said: str
    url: str
    color: str = ""
    held: bool = False


def size(layout: Layout) -> tuple[float, float]:
    """How wide and high the picture is."""
    across = max(
        len(row) + bool(left) for row, left in zip(layout.rows, layout.left_out, strict=True)
    )
    width = across * (BOX_W + GAP_X) - GAP_X + 2 * MARGIN
    return width, len(layout.rows) * (BOX_H + GAP_Y) - GAP_Y + 2 * MARGIN


def corners(layout: Layout) -> dict[int, tuple[float, float]]:
    """The top left corner of every box."""
    return {
        pk: (MARGIN + place * (BOX_W + GAP_X), MARGIN + number * (BOX_H + GAP_Y))
        for number, row in enumerate(layout.rows)
        for place, pk in enumerate(row)
    }


def svg(layout: Layout, boxes: Mapping[int, Box], middle: int, title: str) -> Drawing:
    """The picture as SVG; each box links to its lot. Fill and line colors are the style sheet's."""
    width, height = size(layout)
    at = corners(layout)
    lines = "".join(_line(at[start], at[end]) for start, end in layout.edges)
    drawn = "".join(_box(at[pk], boxes[pk], pk == middle) for row in layout.rows for pk in row)
    return Drawing(
        f'<svg class="family" width="{width:.0f}" height="{height:.0f}" '
        f'viewBox="0 0 {width:.0f} {height:.0f}" role="group" aria-label="{_quoted(title)}">'
        f"{lines}{drawn}{_left_out(layout)}</svg>"
    )


def _line(start: tuple[float, float], end: tuple[float, float]) -> str:
    x, y = start[0] + BOX_W / 2, start[1] + BOX_H
    to_x, to_y = end[0] + BOX_W / 2, end[1]
    bend = min(GAP_Y, to_y - y) * 0.6
    return (
        f'<path class="family-line" d="M{x:.1f} {y:.1f}C{x:.1f} {y + bend:.1f} '
        f'{to_x:.1f} {to_y - bend:.1f} {to_x:.1f} {to_y:.1f}"/>'
    )


def _box(corner: tuple[float, float], box: Box, middle: bool) -> str:
    x, y = corner
    kind = (
        "family-box" + (" family-middle" if middle else "") + (" family-held" if box.held else "")
    )
    dot = (
        f'<circle cx="{x + 12:.1f}" cy="{y + 15:.1f}" r="5" fill="{box.color}" class="family-dot"/>'
        if HEX.fullmatch(box.color)
        else ""
    )
    held = ", on hold" if box.held else ""
    name = f"{box.name}{held}"
    shown = f"{_cut(name, 12.5)} {_cut(box.said, 11)}"
    # What is seen comes first in what is heard: whoever speaks to the page names what is seen.
    heard = shown if "…" not in shown else f"{shown}, {name} {box.said}"
    return (
        f'<a href="{_quoted(box.url)}" aria-label="{_quoted(heard)}">'
        f'<rect class="{kind}" x="{x:.1f}" y="{y:.1f}" width="{BOX_W:.0f}" height="{BOX_H:.0f}" rx="6"/>'
        f'{dot}<text class="family-name" x="{x + (22 if box.color else 10):.1f}" y="{y + 19:.1f}">'
        f"{saxutils.escape(_cut(name, 12.5))}</text> "
        f'<text class="family-said" x="{x + 10:.1f}" y="{y + 36:.1f}">'
        f"{saxutils.escape(_cut(box.said, 11))}</text></a>"
    )


def _left_out(layout: Layout) -> str:
    found = ""
    for number, (row, left) in enumerate(zip(layout.rows, layout.left_out, strict=True)):
        if left:
            x = MARGIN + len(row) * (BOX_W + GAP_X)
            y = MARGIN + number * (BOX_H + GAP_Y) + BOX_H / 2 + 4
            found += f'<text class="family-said" x="{x:.1f}" y="{y:.1f}">and {left} more</text>'
    return found


def _cut(text: str, size: float) -> str:
    """The text cut to the box's width, as the bundled font measures it: it runs wider than most."""
    room = BOX_W - 24
    if pdf.width(text, pdf.BODY, size) <= room:
        return text
    while text and pdf.width(f"{text}…", pdf.BODY, size) > room:
        text = text[:-1]
    return f"{text.rstrip()}…"


def _quoted(text: str) -> str:
    return saxutils.escape(text, {'"': "&quot;"})


def draw(
    drawing: Canvas,
    layout: Layout,
    boxes: Mapping[int, Box],
    middle: int,
    *,
    left: float,
    top: float,
    room: tuple[float, float],
) -> float:
    """Draws the same picture into `room` (width, height; points), shrunk to fit; how high it came out."""
    width, height = size(layout)
    scale = min(1.0, room[0] / width, room[1] / height)
    at = corners(layout)
    drawing.saveState()
    drawing.translate(left, top)
    drawing.scale(scale, -scale)
    drawing.setLineWidth(0.8)
    drawing.setStrokeGray(0.45)
    for start, end in layout.edges:
        x, y = at[start][0] + BOX_W / 2, at[start][1] + BOX_H
        to_x, to_y = at[end][0] + BOX_W / 2, at[end][1]
        bend = min(GAP_Y, to_y - y) * 0.6
        drawing.bezier(x, y, x, y + bend, to_x, to_y - bend, to_x, to_y)
    for pk, (x, y) in at.items():
        drawing.setStrokeGray(0)
        drawing.setLineWidth(1.8 if pk == middle else 0.7)
        drawing.setFillGray(1)
        drawing.roundRect(x, y, BOX_W, BOX_H, 6, fill=1)
        _text(drawing, x + 10, y + 19, _cut(_held_name(boxes[pk]), 12.5), pdf.BOLD, 11.5)
        _text(drawing, x + 10, y + 36, _cut(boxes[pk].said, 11), pdf.BODY, 10.5)
    drawing.restoreState()
    return height * scale


def _held_name(box: Box) -> str:
    return f"{box.name}, on hold" if box.held else box.name


def _text(drawing: Canvas, x: float, y: float, text: str, font: str, size: float) -> None:
    """Upright text although the picture runs downward."""
    drawing.saveState()
    drawing.translate(x, y)
    drawing.scale(1, -1)
    drawing.setFillGray(0)
    drawing.setFont(font, size)
    drawing.drawString(0, 0, text)
    drawing.restoreState()
