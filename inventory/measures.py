"""An item's own measures of the hand: its pinch, squirt or scoop. What is said in them is an estimate."""

import re

from inventory import amounts, units
from inventory.models import Item

_ONE = re.compile(r"^\s*(?:an?|one)\s+", re.IGNORECASE)


def of(item: Item) -> dict[str, int]:
    """Name → millionths of the item's stock unit that one of them holds."""
    if item.pk is None:
        return {}
    return {measure.name: measure.quantity for measure in item.measures.all()}


def read(text: str, item: Item) -> int | None:
    """Millionths of the stock unit in “2 pinches”, “1 scoop” or “a pinch”; None where it names no
    measure of the item. Raises units.UnitsError for more than can be kept.

    Ask it only after `amounts.parse` could not read the text: a measure is never named like a unit,
    so nothing is hidden by the order, and a page of many amounts asks the database for none."""
    held = of(item)
    try:
        amount = amounts.parse(_ONE.sub("1 ", text, count=1), measures=held)
    except amounts.AmountError:
        return None
    if amount.unit not in held:
        return None
    quantity = amount.value * units.from_micro(held[amount.unit])
    return units.to_micro(round(quantity) if item.stock_unit == "each" else quantity)


def many(name: str) -> str:
    """More than one of it: pinches, scoops."""
    return f"{name}es" if name.endswith(("s", "sh", "ch", "x", "z")) else f"{name}s"
