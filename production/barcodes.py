"""The barcodes of retail packages, EAN-13, UPC-A and EAN-8, checked, sized and drawn.

Sizes follow the GS1 General Specifications as summed up in GS1 Sweden's "Guidelines for size": a
module between 0.264 and 0.660 mm, bars at least 18.28 mm high (EAN-8: 14.58 mm) growing with the
module, and quiet zones counted in modules. The print routine stays at or below about 103 %.
"""

import functools
from dataclasses import dataclass

from inventory import pdf
from production import gtin, symbols

NOMINAL_MM = 0.330
MIN_MODULE_MM = 0.264
# Eight and seven dots of a 600 dpi printer (four and three and a half at 300 dpi): bars that are
# whole dots print evenly. The last choice is whatever fits down to the minimum.
_WHOLE_DOTS_MM = (8 * 25.4 / 600, 7 * 25.4 / 600)

# Each digit's seven modules in the left half of the symbol (ISO/IEC 15420, number set A). The
# right half (set C) is its complement; set B is set C read backwards.
_SET_A = [
    "0001101",
    "0011001",
    "0010011",
    "0111101",
    "0100011",
    "0110001",
    "0101111",
    "0111011",
    "0110111",
    "0001011",
]
_SET_C = ["".join("10"[int(m)] for m in code) for code in _SET_A]
_SET_B = [code[::-1] for code in _SET_C]
# Which set each of six left digits takes says the first digit of thirteen.
_FIRST = [
    "AAAAAA",
    "AABABB",
    "AABBAB",
    "AABBBA",
    "ABAABB",
    "ABBAAB",
    "ABBBAA",
    "ABABAB",
    "ABABBA",
    "ABBABA",
]
_GUARD = "101"
_CENTER = "01010"

# In modules: the figures and the guard bars' tails below the bars, and the quiet zones.
_TEXT = (25.93 - 22.85) / 0.330
_TAIL = 5


@dataclass(frozen=True)
class _Kind:
    left: int
    right: int
    bars_mm: float
    least_bars_mm: float


_KINDS = {
    13: _Kind(11, 7, 22.85, 18.28),
    12: _Kind(9, 9, 22.85, 18.28),
    8: _Kind(7, 7, 18.23, 14.58),
}


def checked(number: str) -> str:
    """The number's digits when they are a valid EAN-8, UPC-A or EAN-13.

    Raises GtinError on other characters, a wrong check digit, or a case's fourteen digits.
    """
    digits = gtin.validate(number)
    if len(digits) not in _KINDS:
        raise gtin.GtinError(
            f"The barcode {digits} has {len(digits)} digits; a bag's barcode has 8 (EAN-8), "
            "12 (UPC-A) or 13 (EAN-13)."
        )
    return digits


@dataclass(frozen=True)
class Symbol:
    """A checked number at one size; widths include the quiet zones, heights the figures.

    `low`: with bars no higher than the least that retail allows, where a coarse printer's modules are
    wide. Scanners at a till like higher bars better."""

    digits: str
    module_mm: float
    low: bool = False

    @property
    def kind(self) -> _Kind:
        return _KINDS[len(self.digits)]

    @property
    def modules(self) -> str:
        """The bars as 1 and spaces as 0, without quiet zones."""
        return _encode(self.digits)

    @property
    def width_mm(self) -> float:
        return (self.kind.left + len(self.modules) + self.kind.right) * self.module_mm

    @property
    def bars_mm(self) -> float:
        if self.low:
            return self.kind.least_bars_mm
        scaled = self.kind.bars_mm * self.module_mm / NOMINAL_MM
        return max(scaled, self.kind.least_bars_mm)

    @property
    def height_mm(self) -> float:
        return self.bars_mm + _TEXT * self.module_mm


def smallest(digits: str, dpi: int | None = None) -> Symbol:
    """The number at the smallest size that retail allows (80 %), on a thermal printer in whole dots."""
    if dpi:
        [*_, least] = symbols.modules_mm(MIN_MODULE_MM, NOMINAL_MM, float("inf"), dpi)
        return Symbol(digits, least, low=True)
    return Symbol(digits, MIN_MODULE_MM)


def sizes(digits: str, width_mm: float, height_mm: float, dpi: int | None = None) -> list[Symbol]:
    """The sizes that fit the space, largest first; empty when even the smallest does not.

    `dpi`: of a thermal printer, on which a module is a whole number of dots. At 203 dpi two dots fall
    under the 80 % that retail allows, so three it is."""
    least = smallest(digits, dpi)
    ratio = min(width_mm / least.width_mm, height_mm / least.height_mm)
    # A hundredth of a percent of slack, so that a space of exactly the least size is enough.
    if ratio < 0.9999:
        return []
    if dpi:
        high = Symbol(digits, least.module_mm)
        return [high, least] if high.height_mm <= height_mm else [least]
    largest = MIN_MODULE_MM * max(ratio, 1.0)
    fitting = [module for module in _WHOLE_DOTS_MM if module <= largest]
    if largest < _WHOLE_DOTS_MM[-1]:
        fitting.append(largest)
    return [Symbol(digits, module) for module in (*fitting, MIN_MODULE_MM)]


@functools.lru_cache(maxsize=4096)
def _encode(digits: str) -> str:
    if len(digits) == 8:
        left = "".join(_SET_A[int(d)] for d in digits[:4])
        right = "".join(_SET_C[int(d)] for d in digits[4:])
        return _GUARD + left + _CENTER + right + _GUARD
    first, *rest = digits.zfill(13)
    sets = {"A": _SET_A, "B": _SET_B}
    left = "".join(sets[name][int(d)] for name, d in zip(_FIRST[int(first)], rest[:6], strict=True))
    right = "".join(_SET_C[int(d)] for d in rest[6:])
    return _GUARD + left + _CENTER + right + _GUARD


def draw(canvas, symbol: Symbol, x: float, y: float) -> None:
    """Draw the symbol with its lower left corner, quiet zone included, at (x, y) in points."""
    module = symbol.module_mm * pdf.MM
    left = x + symbol.kind.left * module
    bottom = y + _TEXT * module
    top = bottom + symbol.bars_mm * pdf.MM
    for start, length in symbols.runs(symbol.modules):
        foot = bottom - (_TAIL * module if _has_tail(symbol, start) else 0)
        symbols.fill(canvas, left + start * module, foot, length * module, top - foot)
    _figures(canvas, symbol, left, y, module)


def _has_tail(symbol: Symbol, start: int) -> bool:
    """Guard bars reach down between the figures; UPC-A's outer digits do too."""
    outer = 10 if len(symbol.digits) == 12 else 3
    count = len(symbol.modules)
    half = count // 2
    return start < outer or start >= count - outer or half - 2 <= start <= half + 2


def _figures(canvas, symbol: Symbol, left: float, y: float, module: float) -> None:
    digits = symbol.digits
    size, small = 10.0 * module, 8.0 * module
    half = len(symbol.modules) // 2

    def put(digit: str, center: float, size: float) -> None:
        canvas.setFont(pdf.BODY, size)
        canvas.drawCentredString(left + center * module, y + 0.4 * module, digit)

    if len(digits) == 12:
        # The outer figures stand in the quiet zones, as on every UPC-A symbol.
        put(digits[0], -5.5, small)
        put(digits[-1], len(symbol.modules) + 5.5, small)
        inner, first = digits[1:-1], 10
    else:
        if len(digits) == 13:
            put(digits[0], -6.5, size)
        inner, first = digits[-8:] if len(digits) == 8 else digits[1:], 3
    middle = len(inner) // 2
    for i, digit in enumerate(inner[:middle]):
        put(digit, first + 7 * i + 3.5, size)
    for i, digit in enumerate(inner[middle:]):
        put(digit, half + 3 + 7 * i + 3.5, size)
