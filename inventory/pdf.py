"""What all printed pages share: the fonts, measured text, and the foot of a page.

Lengths are PDF points (1/72 inch) unless a name ends in `_mm`.
"""

import functools
import re
import unicodedata
from pathlib import Path
from xml.sax import saxutils

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

MM = 72 / 25.4
LETTER = (215.9 * MM, 279.4 * MM)
A4 = (210 * MM, 297 * MM)
PAGES = {"letter": LETTER, "a4": A4}

BODY = "DejaVuSans"
BOLD = "DejaVuSans-Bold"

# Heights over the type size, from the font's outlines (units of 2048 to the em): flat lower
# case 1120, capitals and figures 1493. A round "o" is a little taller than flat lower case.
X_HEIGHT = 1120 / 2048
CAP_HEIGHT = 1493 / 2048
ASCENT = 0.76
DESCENT = 0.24

_FONTS = Path(__file__).parent / "fonts"


@functools.cache
def register_fonts() -> None:
    """Make the shipped fonts known to the PDF library, once per process."""
    for name in (BODY, BOLD):
        pdfmetrics.registerFont(TTFont(name, _FONTS / f"{name}.ttf"))
    pdfmetrics.registerFontFamily(BODY, normal=BODY, bold=BOLD, italic=BODY, boldItalic=BOLD)


def canvas(out, page: tuple[float, float], title: str) -> Canvas:
    """A canvas that writes the same bytes for the same drawing, with the fonts ready."""
    register_fonts()
    drawing = Canvas(
        out, pagesize=page, invariant=1, lang="en", initialFontName=BODY, initialFontSize=10
    )
    drawing.setTitle(clean(title))
    return drawing


def tie(text: str) -> str:
    """The text with each figure tied to the word after it, so that “4 in” is never parted."""
    return re.sub("(?<=[0-9¼½¾⅓⅔⅛⅜⅝⅞]) (?=[^\\W\\d_])", "\N{NO-BREAK SPACE}", text)


def clean(text: str) -> str:
    """The text on one line, composed, without control characters."""
    composed = unicodedata.normalize("NFC", str(text))
    visible = (" " if unicodedata.category(c) == "Cc" else c for c in composed)
    return re.sub(" +", " ", "".join(visible)).strip()


def escape(text: str) -> str:
    """The text made safe for a paragraph, which would read < and & as markup."""
    return saxutils.escape(clean(text))


def missing_letters(text: str, font: str = BODY) -> str:
    """The characters of the text that can't be printed, in order, each once: those the font has not, and
    those of scripts that run from right to left, which would stand the wrong way round."""
    register_fonts()
    known = pdfmetrics.getFont(font).face.charToGlyph
    return "".join(
        dict.fromkeys(
            c for c in text if ord(c) not in known or unicodedata.bidirectional(c) in ("R", "AL")
        )
    )


def width(text: str, font: str, size: float) -> float:
    """How wide the text is when set on one line, in points."""
    register_fonts()
    return pdfmetrics.stringWidth(text, font, size)


def fitted(text: str, font: str, most: float, available: float) -> float:
    """The size, at most `most`, at which the text is no wider than `available` points."""
    return min(most, available / max(width(text, font, 1), 0.001))


def wrap(
    text: str, font: str, size: float, available: float, *, break_words: bool = False
) -> list[str]:
    """Break the text at spaces into lines no wider than `available` points.

    A word that is wider alone stays whole on its line, for the caller to refuse, unless
    `break_words` allows a break inside it. A no-break space holds. Returns an empty list for empty text.
    """
    lines: list[str] = []
    for word in text.split(" ") if text else ():
        if lines and width(f"{lines[-1]} {word}", font, size) <= available:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
        while break_words and width(lines[-1], font, size) > available and len(lines[-1]) > 1:
            head, tail = _cut(lines[-1], font, size, available)
            lines[-1:] = [head, tail]
    return [line.replace("\N{NO-BREAK SPACE}", " ") for line in lines]


def _cut(word: str, font: str, size: float, available: float) -> tuple[str, str]:
    count = 1
    while count < len(word) - 1 and width(word[: count + 1], font, size) <= available:
        count += 1
    return word[:count], word[count:]


def footer(drawing: Canvas, page: tuple[float, float], margin: float, text: str, number: str):
    """The foot of a page: what it is on the left, its number on the right."""
    room = page[0] - 2 * margin - width(number, BODY, 8) - 12
    drawing.setFillGray(0.25)
    drawing.setFont(BODY, fitted(clean(text), BODY, 8, room))
    drawing.drawString(margin, margin * 0.6, clean(text))
    drawing.setFont(BODY, 8)
    drawing.drawRightString(page[0] - margin, margin * 0.6, number)
    drawing.setFillGray(0)
