"""What open work will take from the shelf: planned batches, open orders.

The shelf knows neither; the apps that do register a finder."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class Need:
    """Millionths of an item's stock unit that something will take; `what` in the plural, as a sentence
    goes on: "open orders", "planned batches"."""

    item_id: int
    quantity: int
    what: str


#: Gives everything that is needed, in a few queries whatever its number.
Finder = Callable[[], Iterable[Need]]

_finders: list[Finder] = []


def register(finder: Finder) -> None:
    """From now on what `finder` gives counts as needed."""
    if finder not in _finders:
        _finders.append(finder)


def by_item() -> dict[int, list[Need]]:
    """Item id → what is needed of it, one row for each kind of work."""
    sums: dict[int, dict[str, int]] = {}
    for finder in _finders:
        for need in finder():
            of_item = sums.setdefault(need.item_id, {})
            of_item[need.what] = of_item.get(need.what, 0) + need.quantity
    return {
        item: [Need(item, quantity, what) for what, quantity in whats.items() if quantity > 0]
        for item, whats in sums.items()
    }
