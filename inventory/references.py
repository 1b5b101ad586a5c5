"""Links from a ledger entry to the event behind it, by the text "kind:id".

The shelf knows no pours and no orders; the apps that do register how to reach theirs."""

from collections.abc import Callable

_resolvers: dict[str, Callable[[int], str]] = {}


def register(kind: str, url_of: Callable[[int], str]) -> None:
    """`url_of(id)` gives the page of a `kind`."""
    _resolvers[kind] = url_of


def url(reference: str) -> str:
    """The page behind a reference; empty when there is none."""
    kind, _, number = reference.partition(":")
    if kind not in _resolvers or not number.isdigit():
        return ""
    return _resolvers[kind](int(number))
