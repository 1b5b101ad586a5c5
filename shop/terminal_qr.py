"""A link as a QR code made of text, for the camera of a phone in front of the screen."""

import io
import os
import shutil
import sys

import segno

#: Bright white on black, so that light stays light on any terminal's colors (ECMA-48, SGR).
ON, OFF = "\033[97;40m", "\033[0m"


def for_this_terminal(link: str) -> str:
    """Return the code if standard output is a terminal that can show it, else nothing."""
    if not sys.stdout.isatty() or os.environ.get("TERM") == "dumb":
        return ""
    columns = shutil.get_terminal_size().columns
    return draw(link, columns, sys.stdout.encoding, colors=os.name != "nt")


def draw(link: str, columns: int, encoding: str, *, colors: bool) -> str:
    """Return the code in half blocks, nothing if it is too wide or the encoding has no half blocks.

    Without colors it counts on light text on a dark ground, as the Windows console has it.
    """
    drawn = io.StringIO()
    segno.make(link, error="l", micro=False).terminal(drawn, border=2, compact=True)
    lines = drawn.getvalue().splitlines()
    try:
        drawn.getvalue().encode(encoding)
    except (UnicodeEncodeError, LookupError):
        return ""
    if len(lines[0]) > columns:
        return ""
    return "\n".join(f"{ON}{line}{OFF}" if colors else line for line in lines)
