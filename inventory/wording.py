"""Quantities and money in words people read."""

from decimal import ROUND_HALF_UP, Decimal

from inventory import units


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


def money_text(millionths: int | None, currency: str = "") -> str:
    """Money of a cost in millionths of the currency unit, to the cent; unknown is said, not zero."""
    if millionths is None:
        return "unknown"
    value = units.from_micro(millionths).quantize(Decimal("0.01"), rounding=ROUND_HALF_UP)
    return f"{value:,f} {currency}".strip()
