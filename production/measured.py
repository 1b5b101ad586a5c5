"""Volumes, weights and lengths as people write them, with what a bait, a mold or a scale can be.

Each raises ValueError whose text says how to write it instead.
"""

import re
from decimal import Decimal

from inventory import amounts, units

#: mL or g: what a figure of a mold, a cup or a scale lies between.
LEAST, MOST = Decimal("0.001"), Decimal(100_000)
_EXAMPLES = {"volume": "25 mL or 1 fl oz", "mass": "28.3 g or 1 oz"}
_NOUNS = {"volume": "volume", "mass": "weight"}
_LENGTH = re.compile(
    r"(?P<number>.*?)\s*(?P<unit>in\.?|inch|inches|\"|”|″|mm|cm)", re.IGNORECASE | re.DOTALL
)


def amount(text: str, unit: str, *, allow_zero: bool = False) -> Decimal:
    """A volume or a weight in any unit, in `unit` (mL or g); a bare number is in it already."""
    kind = units.kind(unit)
    read = amounts.parse(text, default_unit=unit)
    if read.unit == "drop" or units.kind(read.unit) != kind:
        raise ValueError(f"Write a {_NOUNS[kind]}, for example {_EXAMPLES[kind]}.")
    value = units.convert(read.value, read.unit, unit)
    if allow_zero and not value:
        return value
    if not LEAST <= value <= MOST:
        raise ValueError(f"This must be above 0 and at most {amounts.show(MOST, unit)}.")
    return value


def length(text: str) -> Decimal:
    """mm of a length in inches, cm or mm; the unit must be said."""
    parts = _LENGTH.fullmatch(text.strip())
    if not parts:
        raise ValueError("Write the length with in or mm, for example 4 in or 100 mm.")
    scale = {"mm": Decimal(1), "cm": Decimal(10)}.get(parts["unit"].casefold(), units.MM_PER_INCH)
    return amounts.number(parts["number"]) * scale


def bait_length(text: str) -> Decimal:
    """mm of a bait's length."""
    value = length(text)
    if not 1 <= value <= 2000:
        raise ValueError("A bait is between 1 mm and 2000 mm (79 in) long.")
    return value


def bore(text: str) -> Decimal:
    """mm of the inner width of a barrel."""
    value = length(text)
    if not 1 <= value <= 200:
        raise ValueError("A bore is between 1 mm and 200 mm (8 in) wide.")
    return value


def front(text: str) -> Decimal:
    """mm of one side of a package's front."""
    value = length(text)
    if not 5 <= value <= 1000:
        raise ValueError("A front is between 5 mm and 1000 mm (39 in) wide and high.")
    return round(value, 2)
