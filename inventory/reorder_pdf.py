"""The reorder list on paper: per supplier, what is low and what to buy, with boxes to tick.

All figures come as finished text with their units; this module only sets them. Prices appear only
when asked for, so a page for someone without cost rights cannot show them by oversight.
"""

from dataclasses import dataclass

from reportlab.lib import colors
from reportlab.platypus import Flowable, KeepTogether, Spacer, Table, TableStyle

from inventory import pdf, pdf_flow
from inventory.pdf_flow import text

UNKNOWN = "unknown"

_SMALL_TABLE = 12


class ReorderPdfError(ValueError):
    """A list that cannot be drawn; the text says why."""


@dataclass(frozen=True)
class Line:
    """One item to buy. `minimum` is what it is ordered at, `target` up to what; `packs` is what to put
    in the basket: “2 × 1 gal”; `why` a sentence. A price or sum of None is not known and printed so,
    never as nothing."""

    item: str
    on_hand: str
    minimum: str
    target: str
    packs: str
    price: str | None = None
    amount: str | None = None
    why: str = ""


@dataclass(frozen=True)
class Supplier:
    """One supplier's part of the list. `contact` is a line under the name: a phone number, the
    shop's customer number, an order minimum."""

    name: str
    lines: tuple[Line, ...]
    contact: str = ""
    total: str | None = None


@dataclass(frozen=True)
class ReorderList:
    """The whole list: shop and date as text, suppliers in the order they are printed, the paper
    (“letter” or “a4”)."""

    shop: str
    date: str
    suppliers: tuple[Supplier, ...]
    paper: str = "letter"
    total: str | None = None


def draw(reorder: ReorderList, *, with_costs: bool = False) -> bytes:
    """The list as a PDF. The same list always gives the same bytes.

    Without `with_costs` no price, sum or total is printed. An empty list says that nothing is low.
    Raises ReorderPdfError for an unknown paper.
    """
    if reorder.paper not in pdf.PAGES:
        raise ReorderPdfError(f"The paper is letter or a4, not “{reorder.paper}”.")
    page = pdf.PAGES[reorder.paper]
    title = f"Reorder list {pdf.clean(reorder.date)}, {pdf.clean(reorder.shop)}"
    width = page[0] - 2 * pdf_flow.MARGIN
    return pdf_flow.draw(title, page, lambda: _story(reorder, width, with_costs))


def _story(reorder: ReorderList, width: float, with_costs: bool) -> list[Flowable]:
    story = [
        text(f"Reorder list {reorder.date}", 18, bold=True),
        text(reorder.shop, 11),
        Spacer(0, 14),
    ]
    if not any(supplier.lines for supplier in reorder.suppliers):
        return [*story, text("Nothing is low. There is nothing to buy.", 11)]
    for supplier in reorder.suppliers:
        if supplier.lines:
            story += [_block(supplier, width, with_costs), Spacer(0, 16)]
    if with_costs:
        story.append(text(f"All suppliers: {reorder.total or UNKNOWN}", 12, bold=True, right=True))
    return story


def _block(supplier: Supplier, width: float, with_costs: bool) -> Flowable:
    """A supplier's table; a short one stays on one page, a long one repeats its heading."""
    table = _table(supplier, width, with_costs)
    return KeepTogether(table) if len(supplier.lines) <= _SMALL_TABLE else table


def _table(supplier: Supplier, width: float, with_costs: bool) -> Table:
    names = ["", "Item", "On hand", "Order at", "Up to", "Buy"]
    shares = [0.04, 0.36, 0.14, 0.14, 0.14, 0.18]
    if with_costs:
        names += ["Price", "Sum"]
        shares = [0.035, 0.19, 0.135, 0.135, 0.135, 0.15, 0.1, 0.12]
    right = {"On hand", "Order at", "Up to", "Price", "Sum"}
    head = [text(supplier.name, 13, bold=True)]
    if supplier.contact:
        head.append(text(supplier.contact))
    rows = [
        [head, *[""] * (len(names) - 1)],
        [text(name, 8.5, bold=True, right=name in right) for name in names],
    ]
    reasons = []
    for line in supplier.lines:
        rows.append(_row(line, with_costs))
        if line.why:
            # The sentence has a row of its own, over all columns, and stays with its item.
            at = len(rows)
            rows.append(["", text(line.why, 8), *[""] * (len(names) - 2)])
            reasons += [
                ("SPAN", (1, at), (-1, at)),
                ("LINEBELOW", (0, at - 1), (-1, at - 1), 0.5, colors.white),
                ("TOPPADDING", (0, at), (-1, at), 0),
                ("NOSPLIT", (0, at - 1), (-1, at)),
            ]
    style = [
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), 4),
        ("RIGHTPADDING", (0, 0), (-1, -1), 4),
        ("TOPPADDING", (0, 0), (-1, -1), 4),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 4),
        ("SPAN", (0, 0), (-1, 0)),
        ("LEFTPADDING", (5, 1), (5, -1), 10),
        ("LEFTPADDING", (0, 0), (-1, 0), 0),
        ("BACKGROUND", (0, 1), (-1, 1), colors.Color(0.92, 0.92, 0.92)),
        ("LINEBELOW", (0, 0), (-1, -1), 0.5, colors.Color(0.6, 0.6, 0.6)),
    ]
    style += reasons
    if with_costs:
        total = text(f"Together: {supplier.total or UNKNOWN}", bold=True, right=True)
        rows.append([total, *[""] * (len(names) - 1)])
        style += [("SPAN", (0, -1), (-1, -1)), ("LINEABOVE", (0, -1), (-1, -1), 1, colors.black)]
        # A total alone on the next page would belong to nothing.
        style.append(("NOSPLIT", (0, -2), (-1, -1)))
    return Table(rows, [width * share for share in shares], repeatRows=2, style=TableStyle(style))


def _row(line: Line, costs: bool) -> list[Flowable]:
    row = [
        _TickBox(),
        text(line.item, bold=True),
        text(line.on_hand, right=True),
        text(line.minimum, right=True),
        text(line.target, right=True),
        text(line.packs, bold=True),
    ]
    if costs:
        row += [text(line.price or UNKNOWN, right=True), text(line.amount or UNKNOWN, right=True)]
    return row


class _TickBox(Flowable):
    """An empty box the height of a line."""

    def wrap(self, available_width, available_height):
        return 9, 11

    def draw(self):
        self.canv.setLineWidth(0.8)
        self.canv.rect(0, 0.5, 9, 9)
