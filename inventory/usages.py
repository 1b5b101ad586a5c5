"""What an item is used in, beyond the shelf: recipes, molds, products.

The shelf knows none of them; the apps that do register a finder."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from itertools import chain

from inventory.models import Item


@dataclass(frozen=True)
class Usage:
    """One thing that uses the item: its name, its page, and how it uses it."""

    label: str
    url: str
    detail: str


#: Gives at most so many usages of an item, in one or two queries whatever their number.
Finder = Callable[[Item, int], Iterable[Usage]]

_finders: list[Finder] = []


def register(finder: Finder) -> None:
    """From now on `finder` is asked about every item that is shown."""
    if finder not in _finders:
        _finders.append(finder)


def of(item: Item, *, most: int) -> list[Usage]:
    """At most so many things that use the item."""
    found = chain.from_iterable(finder(item, most) for finder in _finders)
    return list(found)[:most]
