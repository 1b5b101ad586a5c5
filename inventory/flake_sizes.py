"""The size of a flake: named in inches by some, in mm by others, and shown in both.

An inch size names the width of the hexagon (common practice, no source); the inch is 25.4 mm.
"""

import re
from decimal import ROUND_HALF_EVEN, Decimal

from inventory import amounts, units

#: Inches. Outside the first nothing is kept; outside the second the page asks: flake is sold from
#: about 0.004 to 0.094 in (common practice, no source).
LEAST, MOST = Decimal("0.0005"), Decimal(1)
USUAL = (Decimal("0.002"), Decimal("0.15"))
_KEPT = Decimal("0.0001")
_WRITTEN = re.compile(
    r"(?P<number>.*?)\s*(?P<unit>in\.?|inch|inches|\"|”|″|mm|millimet(?:er|re)s?)",
    re.IGNORECASE | re.DOTALL,
)


class FlakeSizeError(ValueError):
    """No size of a flake; the text says how to write it instead."""


def parse(text: str) -> Decimal:
    """Inches, to four decimals, of “0.035 in”, “.035"”, “1/16 in” or “0.9 mm”.

    Raises FlakeSizeError, which shows both readings of a number without its unit."""
    said = " ".join(str(text).split())
    written = _WRITTEN.fullmatch(said)
    try:
        number = amounts.number(written["number"] if written else said)
    except amounts.AmountError as error:
        raise FlakeSizeError(
            str(error) if written else "Write it as 0.035 in or 0.9 mm."
        ) from error
    if not written:
        in_mm = f"{said} in is {_mm(number)}; {said} mm is {_inches(number / units.MM_PER_INCH)}."
        raise FlakeSizeError(f"Is it in or mm? {in_mm} Write the unit behind it.")
    metric = written["unit"][0] in "mM"
    inches = number / units.MM_PER_INCH if metric else number
    if not LEAST <= inches <= MOST:
        raise FlakeSizeError(f"A flake is between {show(LEAST)} and {show(MOST)} wide.")
    return inches.quantize(_KEPT, ROUND_HALF_EVEN)


def doubt(inches: Decimal) -> str:
    """A question when it is no usual size, with the other unit's reading; else ""."""
    least, most = USUAL
    if least <= inches <= most:
        return ""
    text = f"{show(inches)} is no usual size of flake."
    if least <= inches / units.MM_PER_INCH <= most:
        number = _figures(inches, 4)
        text += f" Was it {number} mm, which is {_inches(inches / units.MM_PER_INCH)}?"
    elif least <= inches * units.MM_PER_INCH <= most:
        # Four decimals of an inch no longer tell which number of mm was typed.
        text += " Was it meant in inches? 0.035 in is 0.89 mm."
    return text


def show(inches: Decimal, system: str = "us") -> str:
    """Both units, the one of `system` first: “0.035 in · 0.89 mm”."""
    both = [_inches(inches), _mm(inches)]
    return " · ".join(both if system == "us" else reversed(both))


def as_typed(inches: Decimal) -> str:
    """What a field shows for it: “0.035 in”, or mm where only those come out even: “0.9 mm”."""
    inches = Decimal(inches)
    tenth = (inches * units.MM_PER_INCH).quantize(Decimal("0.1"), ROUND_HALF_EVEN)
    even = inches.quantize(Decimal("0.001")) == inches
    if not even and tenth and parse(f"{tenth} mm") == inches.quantize(_KEPT):
        return f"{_figures(tenth, 1)} mm"
    return _inches(inches)


def _inches(inches: Decimal) -> str:
    return f"{_figures(inches, 4)} in"


def _mm(inches: Decimal) -> str:
    return f"{_figures(inches * units.MM_PER_INCH, 2)} mm"


def _figures(value: Decimal, places: int) -> str:
    text = f"{value.quantize(Decimal(1).scaleb(-places), ROUND_HALF_EVEN):f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
