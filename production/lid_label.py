"""The label on the lid of a puck or a jar: what is in it, how much, how often it was melted.

One small page for each label, to print on a label printer or to cut out. Lengths are points."""

import io
from collections.abc import Sequence
from dataclasses import dataclass

from inventory import pdf

PAGE = (62 * pdf.MM, 40 * pdf.MM)
MARGIN = 3 * pdf.MM
#: Type sizes: the name is read at arm's length in dim light.
NAME, LINE, LEAST = 13, 8, 5


@dataclass(frozen=True)
class Lid:
    """What one lid says. `doses` are lines such as “12.4 mL Plum dye”, the largest first."""

    name: str
    lot: str
    amount: str
    melts: str
    day: str
    doses: Sequence[str] = ()


def draw(lids: Sequence[Lid]) -> bytes:
    """The labels as a PDF, one on each page; what doesn't fit on a line is set smaller, then cut with …"""
    out = io.BytesIO()
    drawing = pdf.canvas(out, PAGE, "Lid labels")
    for lid in lids:
        _draw_one(drawing, lid)
        drawing.showPage()
    drawing.save()
    return out.getvalue()


def lines(lid: Lid) -> list[tuple[str, str, float]]:
    """Text, font and size of each line, from the top; at most as many as the label holds."""
    room = PAGE[0] - 2 * MARGIN
    wanted = [
        (lid.name, pdf.BOLD, NAME),
        (f"{lid.lot} · {lid.day}", pdf.BODY, LINE),
        (f"{lid.amount} · {lid.melts}", pdf.BOLD, LINE),
        *((dose, pdf.BODY, LINE - 1) for dose in lid.doses),
    ]
    placed, height = [], PAGE[1] - 2 * MARGIN
    for number, (text, font, most) in enumerate(wanted):
        text = pdf.clean(text)
        size = max(LEAST, pdf.fitted(text, font, most, room))
        while pdf.width(text, font, size) > room:
            text = text[:-2].rstrip() + "…"
        height -= size * 1.25
        more = len(wanted) - number
        if height < (size * 1.25 if more > 1 else 0):
            placed.append((f"and {more} more" if more > 1 else text, font, size))
            break
        placed.append((text, font, size))
    return placed


def _draw_one(drawing, lid: Lid) -> None:
    y = PAGE[1] - MARGIN
    for text, font, size in lines(lid):
        y -= size
        drawing.setFont(font, size)
        drawing.drawString(MARGIN, y, text)
        y -= size * 0.25
