"""A price list on paper: the shop, and each bait's colors with their chips, pack and price.

Texts come finished; this module only sets them."""

from collections.abc import Callable
from dataclasses import dataclass

from reportlab.lib import colors
from reportlab.platypus import Flowable, KeepTogether, Spacer, Table, TableStyle

from inventory import pdf, pdf_flow
from inventory.pdf_flow import text
from production.chip_pdf import Chip

CHIP_SIZE = 22.0
#: Chips of an assortment that stand beside its name.
MOST_CHIPS = 4
_RULE = colors.Color(0.75, 0.75, 0.75)


@dataclass(frozen=True)
class Line:
    """One product: the drawings of its chips, its color, how many to a bag, and its price."""

    chips: tuple[str, ...]
    color: str
    pack: str
    price: str
    barcode: str = ""


@dataclass(frozen=True)
class Section:
    name: str
    lines: tuple[Line, ...]


@dataclass(frozen=True)
class PriceSheet:
    """The whole list; `sender`: the shop's name, address and so on, a line each."""

    title: str
    sender: tuple[str, ...]
    note: str
    sections: tuple[Section, ...]
    paper: str = "letter"


def draw(sheet: PriceSheet) -> bytes:
    """The list as a PDF; the same list always gives the same bytes. An empty list says so."""
    page = pdf.PAGES[sheet.paper]
    title = ", ".join(pdf.clean(part) for part in (sheet.title, *sheet.sender[:1]))
    return pdf_flow.draw(title, page, lambda: _story(sheet, page[0] - 2 * pdf_flow.MARGIN))


def _story(sheet: PriceSheet, width: float) -> list[Flowable]:
    story: list[Flowable] = [text(sheet.title, 20, bold=True), Spacer(0, 4)]
    story += [text(line, 11, bold=number == 0) for number, line in enumerate(sheet.sender)]
    story += [Spacer(0, 4), text(sheet.note, 9.5), Spacer(0, 10)]
    if not sheet.sections:
        story.append(text("Nothing is sold yet.", 11))
    for section in sheet.sections:
        story += _section(section, width)
    return story


def _section(section: Section, width: float) -> list[Flowable]:
    codes = any(line.barcode for line in section.lines)
    shares = [0.19, 0.38, 0.15, 0.16, 0.12] if codes else [0.19, 0.53, 0.15, 0.13]
    rows = [[_chips(line, width * shares[0]), *_cells(line, codes)] for line in section.lines]
    style = TableStyle(
        [
            ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
            *((name, (0, 0), (-1, -1), 4) for name in ("LEFTPADDING", "RIGHTPADDING")),
            *((name, (0, 0), (-1, -1), 3) for name in ("TOPPADDING", "BOTTOMPADDING")),
            ("LINEBELOW", (0, 0), (-1, -1), 0.5, _RULE),
        ]
    )
    widths = [width * share for share in shares]
    head: list[Flowable] = [text(section.name, 13, bold=True), Spacer(0, 2)]
    # A heading never stands alone at the foot of a page.
    first = Table(rows[:3], widths, style=style)
    rest = [Table(rows[3:], widths, style=style)] if rows[3:] else []
    return [KeepTogether([*head, first]), *rest, Spacer(0, 12)]


def _chips(line: Line, width: float) -> Flowable | str:
    drawn = [Chip(drawing, CHIP_SIZE) for drawing in line.chips[:MOST_CHIPS] if drawing]
    if not drawn:
        return ""
    across = min(CHIP_SIZE + 1, (width - 8) / len(drawn))
    bare = [(name, (0, 0), (-1, -1), 0) for name in ("LEFTPADDING", "RIGHTPADDING")]
    bare += [(name, (0, 0), (-1, -1), 0) for name in ("TOPPADDING", "BOTTOMPADDING")]
    return Table([drawn], [across] * len(drawn), style=TableStyle(bare), hAlign="LEFT")


def _cells(line: Line, codes: bool) -> list[Flowable]:
    cell: Callable[..., Flowable] = text
    found = [cell(line.color, 10.5), cell(line.pack, 9.5, right=True)]
    if codes:
        found.append(cell(line.barcode, 7.5, right=True))
    return [*found, cell(line.price, 10.5, bold=True, right=True)]
