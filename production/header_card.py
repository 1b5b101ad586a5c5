"""Header cards: folded over the mouth of the bag and stapled, with a hole to hang it by.

A card is printed flat: the front below the fold, the back above it and upside down, so that both stand
upright once it is folded. The hole goes through both halves. Lengths are points unless named _mm."""

import io
from collections.abc import Sequence
from dataclasses import dataclass, replace

from inventory import pdf
from inventory.svg import Drawing
from production import label_stock, labels, plain_label
from production.label_stock import LabelError
from production.svg_canvas import SvgCanvas

#: A round hole that common pegs go through, its middle so far below the fold (common practice, no source).
HOLE_MM, HOLE_BELOW_FOLD_MM = 8.0, 9.0
_MARK_MM = 4.0


@dataclass(frozen=True)
class Card:
    """The front's words as on a bag label, and the lines of the back."""

    front: labels.BagLabel
    back: Sequence[str] = ()


def half(stock: label_stock.Stock) -> label_stock.Stock:
    """One half of a folded card, as a label of its own."""
    high = stock.label_h_mm / 2
    return replace(
        stock,
        page_w_mm=stock.label_w_mm,
        page_h_mm=high,
        rows=1,
        columns=1,
        label_h_mm=high,
        left_mm=0,
        top_mm=0,
        gap_x_mm=0,
        gap_y_mm=0,
        radius_mm=min(stock.radius_mm, high / 2),
    )


def panel_sq_in(stock: label_stock.Stock) -> float:
    """The area of the card's front: a header card counts as the principal display panel."""
    return stock.label_w_mm * stock.label_h_mm / 2 / 25.4**2


def sheet(
    cards: Sequence[Card],
    stock: label_stock.Stock,
    start: int = 1,
    look: labels.Look = labels.USUAL,
) -> bytes:
    """The cards in order as a PDF, with fold and cut marks. Raises LabelError naming what does not fit."""
    if not cards:
        raise LabelError("There are no cards to print.")
    out = io.BytesIO()
    page = (stock.page_w_mm * pdf.MM, stock.page_h_mm * pdf.MM)
    drawing = pdf.canvas(out, page, f"Header cards, {stock.name}")
    designs = {id(card): _designs(card, stock, look) for card in cards}
    sheet_now = 1
    for card, (number, _row, _column, x_mm, y_mm) in zip(
        cards, label_stock.positions(stock, start, len(cards)), strict=True
    ):
        if number != sheet_now:
            drawing.showPage()
            sheet_now = number
        x = (x_mm + look.right_mm) * pdf.MM
        y = (stock.page_h_mm - y_mm - look.down_mm - stock.label_h_mm) * pdf.MM
        _draw(drawing, designs[id(card)], stock, x, y, look)
    drawing.showPage()
    drawing.save()
    return out.getvalue()


def preview(card: Card, stock: label_stock.Stock, look: labels.Look = labels.USUAL) -> Drawing:
    """One flat card as an SVG picture. Raises LabelError as `sheet` does."""
    drawing = SvgCanvas(stock.label_w_mm * pdf.MM, stock.label_h_mm * pdf.MM)
    _draw(drawing, _designs(card, stock, look), stock, 0, 0, look)
    said = [card.front.bait, card.front.color, card.front.count_text, *card.back]
    return drawing.picture(f"The card as it prints: {'; '.join(filter(None, said))}")


def count_height_mm(
    front: labels.BagLabel, stock: label_stock.Stock, look: labels.Look = labels.USUAL
) -> float:
    """The height of the lower case of the front's count as it is drawn. Raises LabelError as `sheet` does."""
    return labels.count_height_mm(_front(front, stock), _lower(stock), look)


def _front(front: labels.BagLabel, stock: label_stock.Stock) -> labels.BagLabel:
    """The front's words for a panel that is at least the card's own."""
    return replace(front, panel_sq_in=max(front.panel_sq_in or 0, panel_sq_in(stock)))


def _lower(stock: label_stock.Stock) -> label_stock.Stock:
    """The part of one half that lies below the hole. Raises LabelError when it is too low for words."""
    panel = half(stock)
    head_mm = HOLE_BELOW_FOLD_MM + HOLE_MM / 2 + 2
    if panel.label_h_mm < head_mm + 12:
        raise LabelError(
            f"{stock.name}: a card folded to {panel.label_h_mm:.0f} mm has no room for words beside its "
            "hole. Choose a higher card."
        )
    return replace(panel, label_h_mm=panel.label_h_mm - head_mm, page_h_mm=panel.label_h_mm)


def _designs(card: Card, stock: label_stock.Stock, look: labels.Look):
    lower = _lower(stock)
    design = labels.design(_front(card.front, stock), lower, look)
    back = None
    if any(card.back):
        back = plain_label.plan(plain_label.PlainLabel(card.back, few=False), lower)
    return design, back, lower


def _draw(
    drawing, designs, stock: label_stock.Stock, x: float, y: float, look: labels.Look
) -> None:
    design, back, lower = designs
    labels.draw_design(drawing, design, lower, x, y, look.logo)
    width, height = stock.label_w_mm * pdf.MM, stock.label_h_mm * pdf.MM
    if back:
        drawing.saveState()
        # The upper half stands on its head: turned about the card's upper right corner.
        drawing.translate(x + width, y + height)
        drawing.rotate(180)
        plain_label.draw(drawing, back, lower, 0, 0)
        drawing.restoreState()
    _marks(drawing, x, y, width, height)


def _marks(drawing, x: float, y: float, width: float, height: float) -> None:
    """Where to cut, where to fold, where to punch."""
    drawing.setLineWidth(0.4)
    drawing.setStrokeGray(0.35)
    mark, fold = _MARK_MM * pdf.MM, y + height / 2
    for left in (x, x + width):
        inward = mark if left == x else -mark
        for foot in (y, y + height):
            upward = mark if foot == y else -mark
            drawing.line(left, foot, left + inward, foot)
            drawing.line(left, foot, left, foot + upward)
        drawing.setDash(2, 2)
        drawing.line(left, fold, left + 2 * inward, fold)
        drawing.setDash()
    for side in (-1, 1):
        middle = fold + side * HOLE_BELOW_FOLD_MM * pdf.MM
        drawing.circle(x + width / 2, middle, HOLE_MM / 2 * pdf.MM)
