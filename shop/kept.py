"""What was typed into a form while the sign-in had lapsed: kept on the sign-in page, offered afterwards.

It travels signed and for a while only; it goes back to an address of this site and nowhere else, and
nothing of it is posted before the person who signed in presses the button."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.core import signing
from django.http import HttpRequest

SALT = "shop.kept"
#: An evening at the bench, in seconds.
MOST_SECONDS = 12 * 60 * 60
MOST_CHARACTERS = 48_000
_NEVER = ("csrfmiddlewaretoken",)
#: Not shown among what was typed: they say nothing to a person.
_SILENT = ("key", "really", "count", "press")


@dataclass(frozen=True)
class Kept:
    """A form as it was sent: its address on this site, and its fields in their order."""

    path: str
    fields: Sequence[tuple[str, str]]

    @property
    def typed(self) -> list[tuple[str, str]]:
        """What a person would recognise: names in words, and what stood in them."""
        return [
            (name.replace("_", " ").replace("-", " "), value)
            for name, value in self.fields
            if value and name not in _SILENT and not name.startswith("planned_")
        ]


def pack(request: HttpRequest) -> str:
    """What was posted, signed; "" when it is too much to carry, or nothing that may be carried."""
    fields = [
        (name, value)
        for name in request.POST
        for value in request.POST.getlist(name)
        if name not in _NEVER
    ]
    # A password stays on no page.
    if any("password" in name for name, _value in fields) or not _ours(request.get_full_path()):
        return ""
    if sum(len(name) + len(value) for name, value in fields) > MOST_CHARACTERS:
        return ""
    return signing.dumps([request.get_full_path(), fields], salt=SALT, compress=True)


def unpack(text: str) -> Kept | None:
    """What `pack` signed; None for anything else, or when it is too old."""
    try:
        path, fields = signing.loads(text, salt=SALT, max_age=MOST_SECONDS)
    except signing.BadSignature:
        return None
    return Kept(path, _pairs(fields)) if _ours(path) else None


def _pairs(fields: Iterable[Sequence[str]]) -> list[tuple[str, str]]:
    return [(name, value) for name, value in fields]


def _ours(path: str) -> bool:
    """Whether it is a path of this site: “//other” and “/\\other” lead elsewhere."""
    return path.startswith("/") and not path.startswith(("//", "/\\"))
