"""A canvas that writes SVG, for the few strokes that labels are drawn with.

What draws a label on paper draws it on the page too, with the same fonts: a preview can't differ."""

from xml.sax import saxutils

from inventory import pdf
from inventory.svg import Drawing

_FAMILY = {pdf.BODY: ("EP Label", 400), pdf.BOLD: ("EP Label", 700)}


class SvgCanvas:
    """As much of a PDF canvas as labels need: lengths in points, y upward from the lower edge."""

    def __init__(self, width: float, height: float) -> None:
        self.width, self.height = width, height
        self._drawn: list[str] = []
        self._font, self._size, self._gray, self._stroke, self._line = pdf.BODY, 10.0, 0.0, 0.0, 1.0
        self._dash = ""
        self._open: list[int] = [0]

    # -- state --------------------------------------------------------------------------------

    def setFont(self, name: str, size: float) -> None:
        self._font, self._size = name, size

    def setFillGray(self, gray: float) -> None:
        self._gray = gray

    def setStrokeGray(self, gray: float) -> None:
        self._stroke = gray

    def setLineWidth(self, width: float) -> None:
        self._line = width

    def setDash(self, *lengths: float) -> None:
        """No lengths: a whole line again."""
        self._dash = " ".join(f"{length:g}" for length in lengths)

    def saveState(self) -> None:
        self._open.append(0)

    def restoreState(self) -> None:
        self._drawn.append("</g>" * self._open.pop())

    def translate(self, x: float, y: float) -> None:
        self._group(f"translate({x:.3f} {-y:.3f})")

    def rotate(self, degrees: float) -> None:
        # about the origin, which lies at the lower left: at (0, height) of the picture
        self._group(f"rotate({-degrees:g} 0 {self.height:.3f})")

    def _group(self, transform: str) -> None:
        self._drawn.append(f'<g transform="{transform}">')
        self._open[-1] += 1

    # -- strokes ------------------------------------------------------------------------------

    def drawString(self, x: float, y: float, text: str) -> None:
        self._text(x, y, text, "start")

    def drawCentredString(self, x: float, y: float, text: str) -> None:
        self._text(x, y, text, "middle")

    def drawRightString(self, x: float, y: float, text: str) -> None:
        self._text(x, y, text, "end")

    def rect(self, x, y, width, height, stroke=1, fill=0) -> None:
        self._shape(
            f'<rect x="{x:.3f}" y="{self.height - y - height:.3f}" width="{width:.3f}" '
            f'height="{height:.3f}"',
            stroke,
            fill,
        )

    def roundRect(self, x, y, width, height, radius, stroke=1, fill=0) -> None:
        self._shape(
            f'<rect x="{x:.3f}" y="{self.height - y - height:.3f}" width="{width:.3f}" '
            f'height="{height:.3f}" rx="{radius:.3f}"',
            stroke,
            fill,
        )

    def circle(self, x, y, radius, stroke=1, fill=0) -> None:
        self._shape(
            f'<circle cx="{x:.3f}" cy="{self.height - y:.3f}" r="{radius:.3f}"', stroke, fill
        )

    def line(self, x1, y1, x2, y2) -> None:
        self._shape(
            f'<line x1="{x1:.3f}" y1="{self.height - y1:.3f}" x2="{x2:.3f}" '
            f'y2="{self.height - y2:.3f}"',
            1,
            0,
        )

    def drawImage(self, image, x, y, width, height, **_options) -> None:
        """A picture by its address, as `Logo.address` gives it."""
        self._drawn.append(
            f'<image href="{_quoted(str(image))}" x="{x:.3f}" y="{self.height - y - height:.3f}" '
            f'width="{width:.3f}" height="{height:.3f}"/>'
        )

    # -- the picture --------------------------------------------------------------------------

    def picture(self, label: str, css_class: str = "label-picture") -> Drawing:
        """The drawing as an SVG element with a text for those who don't see it."""
        body = "".join(self._drawn)
        return Drawing(
            f'<svg class="{css_class}" viewBox="0 0 {self.width:.3f} {self.height:.3f}" role="img" '
            f'aria-label="{_quoted(label)}">'
            f'<rect class="label-paper" width="{self.width:.3f}" height="{self.height:.3f}"/>'
            f"{body}</svg>"
        )

    def _text(self, x: float, y: float, text: str, anchor: str) -> None:
        family, weight = _FAMILY[self._font]
        self._drawn.append(
            f'<text x="{x:.3f}" y="{self.height - y:.3f}" font-size="{self._size:.3f}" '
            f'font-family="{family}" font-weight="{weight}" text-anchor="{anchor}" '
            f'textLength="{pdf.width(text, self._font, self._size):.3f}" '
            f'fill="{_gray(self._gray)}">{saxutils.escape(text)}</text>'
            if text.strip()
            else ""
        )

    def _shape(self, opening: str, stroke: int, fill: int) -> None:
        paint = f' fill="{_gray(self._gray)}"' if fill else ' fill="none"'
        if stroke:
            paint += f' stroke="{_gray(self._stroke)}" stroke-width="{self._line:g}"'
            paint += f' stroke-dasharray="{self._dash}"' if self._dash else ""
        self._drawn.append(f"{opening}{paint}/>")


def _gray(value: float) -> str:
    level = round(value * 255)
    return f"#{level:02x}{level:02x}{level:02x}"


def _quoted(text: str) -> str:
    return saxutils.escape(text, {'"': "&quot;"})
