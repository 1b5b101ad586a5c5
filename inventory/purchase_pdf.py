"""A purchase order on paper, as the supplier gets it and as goods are ticked off against it.

All figures come as finished text with their units; this module only sets them."""

from dataclasses import dataclass

from reportlab.lib import colors
from reportlab.platypus import Flowable, Spacer, Table, TableStyle

from inventory import pdf, pdf_flow
from inventory.pdf_flow import text


class PurchasePdfError(ValueError):
    """An order that cannot be drawn; the text says why."""


@dataclass(frozen=True)
class Line:
    """So many of a pack, what that makes together, at which price."""

    packs: str
    item: str
    together: str
    price: str
    amount: str


@dataclass(frozen=True)
class Order:
    """The whole order. `sums`: (label, amount) under the table, the last one set in bold."""

    number: str
    shop: str
    supplier: str
    contact: str
    ordered_on: str
    expected_on: str
    lines: tuple[Line, ...]
    sums: tuple[tuple[str, str], ...]
    notes: str = ""
    paper: str = "letter"


def draw(order: Order) -> bytes:
    """The order as a PDF; the same order always gives the same bytes. Raises PurchasePdfError for an
    unknown paper."""
    if order.paper not in pdf.PAGES:
        raise PurchasePdfError(f"The paper is letter or a4, not “{order.paper}”.")
    page = pdf.PAGES[order.paper]
    title = f"Purchase order {pdf.clean(order.number)}, {pdf.clean(order.shop)}"
    return pdf_flow.draw(title, page, lambda: _story(order, page[0] - 2 * pdf_flow.MARGIN))


def _story(order: Order, width: float) -> list[Flowable]:
    story = [
        text(f"Purchase order {order.number}", 18, bold=True),
        Spacer(0, 6),
        text(f"From {order.shop}", 11),
        text(f"To {order.supplier}", 11, bold=True),
    ]
    if order.contact:
        story.append(text(order.contact))
    story += [
        Spacer(0, 6),
        text(f"Ordered {order.ordered_on}. Expected {order.expected_on}."),
        Spacer(0, 14),
        _table(order, width),
    ]
    if order.notes:
        story += [Spacer(0, 14), *(text(line) for line in order.notes.splitlines() if line.strip())]
    return story


def _table(order: Order, width: float) -> Table:
    names = ["Order", "Item", "Together", "Price", "Sum"]
    shares = [0.24, 0.34, 0.15, 0.12, 0.15]
    right = {"Together", "Price", "Sum"}
    rows = [[text(name, 8.5, bold=True, right=name in right) for name in names]]
    for line in order.lines:
        rows.append(
            [
                text(line.packs, bold=True),
                text(line.item),
                *(text(cell, right=True) for cell in (line.together, line.price, line.amount)),
            ]
        )
    style = [
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), 4),
        ("RIGHTPADDING", (0, 0), (-1, -1), 4),
        ("TOPPADDING", (0, 0), (-1, -1), 4),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 4),
        ("BACKGROUND", (0, 0), (-1, 0), colors.Color(0.92, 0.92, 0.92)),
        ("LINEBELOW", (0, 0), (-1, len(order.lines)), 0.5, colors.Color(0.6, 0.6, 0.6)),
    ]
    for number, (label, amount) in enumerate(order.sums, 1):
        bold = number == len(order.sums)
        rows.append(
            ["", "", "", text(label, bold=bold, right=True), text(amount, bold=bold, right=True)]
        )
        # Sums alone on the next page would belong to nothing.
        style.append(("NOSPLIT", (0, -number - 1), (-1, -number)))
    return Table(rows, [width * share for share in shares], repeatRows=1, style=TableStyle(style))
