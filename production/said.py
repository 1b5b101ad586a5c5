"""Amounts in the words of the kitchen: “¼ tsp”, “12 drops”, “1 US cup”."""

from decimal import Decimal

from inventory import amounts

# To six decimals, as doses are kept; the text reads back as the same amount.
_FRACTIONS = {
    Decimal("0.125"): "⅛",
    Decimal("0.25"): "¼",
    Decimal("0.333333"): "⅓",
    Decimal("0.375"): "⅜",
    Decimal("0.5"): "½",
    Decimal("0.625"): "⅝",
    Decimal("0.666667"): "⅔",
    Decimal("0.75"): "¾",
    Decimal("0.875"): "⅞",
}
_SPOKEN_IN_PARTS = ("tsp", "tbsp", "US cup", "fl oz", "pt", "qt", "gal")
_MANY = {"drop": "drops", "US cup": "US cups"}


def said(amount: Decimal, unit: str) -> str:
    """Return an amount as one says it, in full: reading it back gives the same six decimals."""
    whole, part = divmod(Decimal(round(amount, 6)), 1)
    if unit in _SPOKEN_IN_PARTS and part in _FRACTIONS:
        number = f"{whole or ''}{_FRACTIONS[part]}"
    else:
        number = f"{round(amount, 6):f}"
        number = number.rstrip("0").rstrip(".") if "." in number else number
    return f"{number} {_MANY.get(unit, unit) if amount > 1 else unit}"


def share(millionths: int) -> str:
    """Return a share of one whole as a percentage: “60 %”."""
    return amounts.show(Decimal(millionths) / 10_000, "%")
