"""Lot codes as people type them and scanners send them.

A code of our own is one letter that says what it is, the day in six digits, and a count: B261125-02. No
letter stands where a digit may, so what was read wrongly can be set right by its place alone."""

import re

#: Letters that no code starts with: each is taken for a digit or for another letter (common practice,
#: no source; ISO 3779 leaves I, O and Q out of vehicle numbers for the same reason).
LOOK_ALIKE = frozenset("IOQSZG")

_TO_DIGIT = str.maketrans("OQDILZSBG", "000112586")
_TO_LETTER = str.maketrans("0OQ8I1", "DDDBLL")
_DASHES = re.compile(r"[\s\-\u2010-\u2015\u2212_]+")
_OURS = re.compile(r"(?P<letter>.)(?P<day>.{6})(?P<count>.{1,6}?)(?P<moved>/M[0-9]+)?", re.DOTALL)
_ADDRESS = re.compile(r"/shelf/lots/([0-9]{1,15})/?$")


def folded(text: str) -> str:
    """A code without spaces and dashes, in capitals: what two ways of writing it share."""
    return _DASHES.sub("", text).upper()


def reading(text: str) -> str | None:
    """The code of our own pattern that was meant, look-alikes set right by their place; None when it
    can't be one: `b 261125 2` and `8261125-O2` both mean B261125-02."""
    found = _OURS.fullmatch(folded(text))
    if not found:
        return None
    letter = found["letter"].translate(_TO_LETTER)
    day, count = (found[part].translate(_TO_DIGIT) for part in ("day", "count"))
    if not (letter.isascii() and letter.isalpha() and f"{day}{count}".isascii()):
        return None
    if not f"{day}{count}".isdigit():
        return None
    return f"{letter}{day}-{int(count):02d}{(found['moved'] or '').lower()}"


def lot_of_address(text: str) -> int | None:
    """The lot's id in the web address that the QR code of a lid or shelf label holds."""
    found = _ADDRESS.search(text.strip())
    return int(found[1]) if found else None
