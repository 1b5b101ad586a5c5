"""Tools that are due for service. The shelf knows none; the app that counts their shots registers a finder."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from itertools import chain


@dataclass(frozen=True)
class Due:
    """A tool whose shots since its last service reached what its owner set: its name, its page, where
    "serviced today" is posted."""

    label: str
    url: str
    done_url: str
    shots: int
    every: int


#: Gives what is due, in a few queries whatever the number of tools.
Finder = Callable[[], Iterable[Due]]

_finders: list[Finder] = []


def register(finder: Finder) -> None:
    """From now on `finder` is asked what is due."""
    if finder not in _finders:
        _finders.append(finder)


def due() -> list[Due]:
    """All that is due, what is furthest over first."""
    found = chain.from_iterable(finder() for finder in _finders)
    return sorted(found, key=lambda one: (-one.shots / one.every, one.label))
