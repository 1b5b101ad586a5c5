"""Quantities and money in words people read."""

from decimal import ROUND_HALF_UP, Decimal

from inventory import units


def quantity_text(millionths: int, unit: str) -> str:
    """ "12.5 mL", "3": at most three decimals, no trailing zeros, thousands grouped."""
    value = units.from_micro(millionths)
    rounded = value.quantize(Decimal("0.001") if abs(value) < 100 else Decimal("0.1"))
    text = f"{rounded:,f}"
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
