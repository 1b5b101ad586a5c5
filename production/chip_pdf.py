"""The color chip on paper: the drawing of production/chip.py, set as a flowable of the PDF library."""

import re

from reportlab.lib.colors import HexColor
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable

#: The box that `chip.svg` draws in.
BOX = 48
#: What is `currentColor` on the page is a soft black on paper.
_INK = "#3b342a"
_PATH = re.compile(r"<path ([^>]*)/>")
_ATTRIBUTE = re.compile(r'([a-z-]+)="([^"]*)"')
_STEP = re.compile(r"([MLCZ])([^MLCZ]*)")


class Chip(Flowable):
    """A chip `size` points wide and high; `drawing` is what `chip.svg` gave, "" draws nothing."""

    def __init__(self, drawing: str, size: float = 24) -> None:
        super().__init__()
        self.paths = [dict(_ATTRIBUTE.findall(found)) for found in _PATH.findall(drawing)]
        self.width = self.height = size

    def wrap(self, *_available: float) -> tuple[float, float]:
        return self.width, self.height

    def draw(self) -> None:
        drawing: Canvas = self.canv
        drawing.saveState()
        # The page counts upwards, the drawing downwards.
        drawing.translate(0, self.height)
        drawing.scale(self.width / BOX, -self.height / BOX)
        for path in self.paths:
            _draw(drawing, path)
        drawing.restoreState()


def _draw(drawing: Canvas, path: dict[str, str]) -> None:
    filled, stroked = path.get("fill", "none") != "none", path.get("stroke", "none") != "none"
    if filled:
        opacity = float(path.get("fill-opacity", 1))
        drawing.setFillColor(HexColor(_long(path["fill"])), alpha=opacity)
    if stroked:
        drawing.setStrokeColor(HexColor(_INK), alpha=float(path.get("stroke-opacity", 1)))
        drawing.setLineWidth(1)
    outline = drawing.beginPath()
    for step, figures in _STEP.findall(path["d"]):
        _take(outline, step, [float(figure) for figure in figures.replace(",", " ").split()])
    drawing.drawPath(outline, stroke=int(stroked), fill=int(filled))


def _take(outline, step: str, at: list[float]) -> None:
    if step == "Z":
        outline.close()
    for start in range(0, len(at), 6 if step == "C" else 2):
        if step == "C":
            outline.curveTo(*at[start : start + 6])
        elif step == "M" and not start:
            outline.moveTo(*at[:2])
        else:
            outline.lineTo(*at[start : start + 2])


def _long(color: str) -> str:
    """#fff as #ffffff."""
    return "#" + "".join(2 * c for c in color[1:]) if len(color) == 4 else color
