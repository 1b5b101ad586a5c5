"""What else is short and should be made: the apps in front of the bench register a finder.

The bench knows no orders; the app that does says how many bags they still need."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class Want:
    """`bags` of a product (its id) still to be filled for what `why` says, and `ready` bags that it
    takes from those that stand bagged now."""

    product: int
    bags: int
    ready: int
    why: str


#: Gives what is wanted in a fixed number of queries.
Finder = Callable[[], Iterable[Want]]

_finders: list[Finder] = []


def register(finder: Finder) -> None:
    """From now on `finder` is asked whenever an evening is planned."""
    if finder not in _finders:
        _finders.append(finder)


def found() -> list[Want]:
    """Everything that is wanted, from every finder."""
    return [want for finder in _finders for want in finder()]
