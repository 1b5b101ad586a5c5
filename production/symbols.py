"""Code 128 for lot codes and QR codes for addresses: encoded by libraries, sized and drawn here.

Code 128 (ISO/IEC 15417) keeps ten modules of quiet zone on each side, a QR code (ISO/IEC 18004) four all
around. A module is a whole number of a thermal printer's dots, or bars of one width print as two."""

import functools
import math
from dataclasses import dataclass

import segno
from reportlab.graphics.barcode.code128 import Code128Auto

from inventory import pdf

CODE_128_QUIET = 10
QR_QUIET = 4
#: Narrower bars need a better printer and scanner than a workshop has (common practice, no source).
LEAST_MM, USUAL_MM = 0.25, 0.33
#: A phone reads finer modules of a QR code than of bars, from close by (common practice, no source).
QR_LEAST_MM, QR_USUAL_MM = 0.35, 0.6
#: Dots of an office printer; bars that are whole dots print evenly.
OFFICE_DPI = 600
#: Bars are drawn so much narrower on each side. A printer may blacken every dot that a bar touches, and a bar's
#: edge that lies on the line between two dots, but for the rounding of its figures, touches one too many.
HAIR_MM = 0.002


def modules_mm(least_mm: float, usual_mm: float, most_mm: float, dpi: int | None) -> list[float]:
    """Module sizes of whole dots from the usual one, or `most_mm` if that is less, down to the least."""
    dot = 25.4 / (dpi or OFFICE_DPI)
    top = math.floor(min(usual_mm * 1.02, most_mm) / dot + 1e-9)
    if dpi and top * dot < least_mm:
        # The usual size falls between two dots of a coarse printer: the next larger one, if it fits.
        top = math.ceil(least_mm / dot - 1e-9)
        return [top * dot] if top * dot <= most_mm + 1e-9 else []
    return [n * dot for n in range(top, 0, -1) if n * dot >= least_mm - 1e-9]


@dataclass(frozen=True)
class Strip:
    """A Code 128 of a short text at one size; the width includes its quiet zones."""

    text: str
    module_mm: float
    bars_mm: float

    @property
    def modules(self) -> str:
        """Bars as 1 and spaces as 0, without quiet zones."""
        return strip_modules(self.text)

    @property
    def width_mm(self) -> float:
        return (len(self.modules) + 2 * CODE_128_QUIET) * self.module_mm


@dataclass(frozen=True)
class Square:
    """A QR code of a text at one size; the side includes its quiet zone."""

    text: str
    module_mm: float

    @property
    def rows(self) -> tuple[tuple[int, ...], ...]:
        """Dark modules as 1, without the quiet zone."""
        return square_rows(self.text)

    @property
    def side_mm(self) -> float:
        return (len(self.rows) + 2 * QR_QUIET) * self.module_mm


@functools.lru_cache(maxsize=4096)
def strip_modules(text: str) -> str:
    """The bars of a Code 128 of printable ASCII; raises ValueError on other text."""
    if not text or not all(" " <= letter <= "~" for letter in text):
        raise ValueError(f"“{text}” has a character that Code 128 has no bars for.")
    code = Code128Auto(text, quiet=0)
    code.validate()
    code.encode()
    code.decompose()
    # The library names a bar of n modules by the nth capital letter, a space by the nth small one.
    return "".join(
        "1" * (ord(run) - 64) if run.isupper() else "0" * (ord(run) - 96) for run in code.decomposed
    )


@functools.lru_cache(maxsize=4096)
def square_rows(text: str) -> tuple[tuple[int, ...], ...]:
    """The modules of a QR code that survives 15 % of damage; raises ValueError when the text is too long."""
    code = segno.make_qr(text, error="m", boost_error=False)
    return tuple(tuple(row) for row in code.matrix)


def strip(text: str, width_mm: float, bars_mm: float, dpi: int | None = None) -> Strip | None:
    """The Code 128 that fits the width, at most at its usual size; None when even the least does not."""
    count = len(strip_modules(text)) + 2 * CODE_128_QUIET
    fitting = modules_mm(LEAST_MM, USUAL_MM, width_mm / count, dpi)
    return Strip(text, fitting[0], bars_mm) if fitting else None


def square(text: str, side_mm: float, dpi: int | None = None) -> Square | None:
    """The QR code that fits the square, at most at its usual size; None when even the least does not."""
    count = len(square_rows(text)) + 2 * QR_QUIET
    fitting = modules_mm(QR_LEAST_MM, QR_USUAL_MM, side_mm / count, dpi)
    return Square(text, fitting[0]) if fitting else None


def draw_strip(canvas, symbol: Strip, x: float, y: float) -> None:
    """Draw the bars, quiet zone included, with their lower left corner at (x, y) in points."""
    module = symbol.module_mm * pdf.MM
    left = x + CODE_128_QUIET * module
    for start, length in runs(symbol.modules):
        fill(canvas, left + start * module, y, length * module, symbol.bars_mm * pdf.MM)


def draw_square(canvas, symbol: Square, x: float, y: float) -> None:
    """Draw the code, quiet zone included, with its lower left corner at (x, y) in points."""
    module = symbol.module_mm * pdf.MM
    rows = symbol.rows
    top = y + (QR_QUIET + len(rows)) * module
    for number, row in enumerate(rows, start=1):
        for start, length in runs("".join(map(str, row))):
            left = x + (QR_QUIET + start) * module
            fill(canvas, left, top - number * module, length * module, module)


def fill(canvas, x: float, y: float, width: float, height: float) -> None:
    """Blackens a part of a code, a hair inside its edges."""
    hair = HAIR_MM * pdf.MM
    canvas.rect(x + hair, y + hair, width - 2 * hair, height - 2 * hair, stroke=0, fill=1)


def runs(modules: str):
    """The dark runs of a row of modules: (first module, how many)."""
    start = 0
    while (start := modules.find("1", start)) >= 0:
        end = modules.find("0", start)
        end = len(modules) if end < 0 else end
        yield start, end - start
        start = end
