"""Quantities and money in words people read."""

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from inventory import amounts, units


@dataclass(frozen=True)
class Told:
    """A quantity in the shop's units, figure and unit apart, and in the other system beside it.

    `unit` and `other` are empty for what is counted."""

    figure: str
    unit: str
    other: str

    def __str__(self) -> str:
        return f"{self.figure} {self.unit}".strip()


_SYSTEMS = ("us", "metric")


def quantity_text(millionths: int, unit: str) -> str:
    """For people: "164.7 mL", "9.93 mL", "0.835 g", "3". Four figures or so, no trailing zeros."""
    value = units.from_micro(millionths)
    size = abs(value)
    step = "0.1" if size >= 10 else "0.01" if size >= 1 else "0.001"
    text = f"{value.quantize(Decimal(step)):,f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    if text == "-0":
        text = "0"
    return text if unit == "each" else f"{text} {unit}"


def told(millionths: int, unit: str, system: str) -> Told:
    """A quantity for reading at a glance, in the units of `system` ("us" or "metric") first."""
    if units.kind(unit) == "count" or not millionths:
        return Told(quantity_text(millionths, "each"), "" if unit == "each" else unit, "")
    first, other = (
        _in_system(millionths, unit, name) for name in _SYSTEMS[:: 1 if system == "us" else -1]
    )
    return Told(*first, " ".join(other))


def _in_system(millionths: int, unit: str, system: str) -> tuple[str, str]:
    value, handy = amounts.in_system(units.from_micro(millionths), unit, system)
    return quantity_text(units.to_micro(value), "each"), handy


def money_text(millionths: int | None, currency: str = "") -> str:
    """Money of a cost in millionths of the currency unit, to the cent; unknown is said, not zero."""
    if millionths is None:
        return "unknown"
    value = units.from_micro(millionths).quantize(Decimal("0.01"), rounding=ROUND_HALF_UP)
    return f"{value:,f} {currency}".strip()
