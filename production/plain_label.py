"""Labels of a few lines and a code: lids of leftovers, shelf labels of lots, mailing labels.

The first line is the largest; every line shrinks to fit, then wraps at the least size, and what still does
not fit is refused with its text. Lengths are points."""

import io
from collections.abc import Sequence
from dataclasses import dataclass

from inventory import pdf
from inventory.svg import Drawing
from production import label_stock, symbols
from production.label_stock import LabelError
from production.svg_canvas import SvgCanvas

_LEADING = 1.2
#: Read at arm's length by a dim lamp.
_LARGEST, _LINE, _LEAST = 26.0, 12.0, 5.5
_ABOVE = 7.0
_BARS_MM = 6.0
_QR_SHARE = 0.5


@dataclass(frozen=True)
class PlainLabel:
    """`lines` from the top, the first one the title. `strong`: how many lines are set in bold.

    `above` stands over the lines in the smallest type: who sends it.
    `bars` is drawn as Code 128, `address` as a QR code; empty ones are left out. `few`: when there are
    more lines than fit, the last ones are left out and counted, instead of being refused."""

    lines: Sequence[str]
    strong: int = 1
    bars: str = ""
    address: str = ""
    few: bool = False
    above: str = ""


@dataclass(frozen=True)
class Placed:
    text: str
    font: str
    size: float
    x: float
    y: float


@dataclass(frozen=True)
class Plan:
    """A label's lines and codes, placed from its lower left corner."""

    lines: tuple[Placed, ...]
    strip: symbols.Strip | None = None
    strip_at: tuple[float, float] = (0.0, 0.0)
    square: symbols.Square | None = None
    square_at: tuple[float, float] = (0.0, 0.0)


def sheet(
    labels: Sequence[PlainLabel],
    stock: label_stock.Stock,
    start: int = 1,
    *,
    right_mm: float = 0.0,
    down_mm: float = 0.0,
) -> bytes:
    """The labels in order as a PDF, from place `start` of the first sheet. Raises LabelError naming the
    label whose words or codes do not fit."""
    if not labels:
        raise LabelError("There are no labels to print.")
    places = label_stock.positions(stock, start, len(labels))
    # The same label many times is laid out once.
    plans = {id(label): label for label in labels}
    plans = {key: plan(label, stock) for key, label in plans.items()}
    out = io.BytesIO()
    page = (stock.page_w_mm * pdf.MM, stock.page_h_mm * pdf.MM)
    drawing = pdf.canvas(out, page, f"Labels, {stock.name}")
    sheet_now = 1
    for label, (number, _row, _column, x_mm, y_mm) in zip(labels, places, strict=True):
        if number != sheet_now:
            drawing.showPage()
            sheet_now = number
        x = (x_mm + right_mm) * pdf.MM
        y = (stock.page_h_mm - y_mm - down_mm - stock.label_h_mm) * pdf.MM
        draw(drawing, plans[id(label)], stock, x, y)
    drawing.showPage()
    drawing.save()
    return out.getvalue()


def preview(label: PlainLabel, stock: label_stock.Stock) -> Drawing:
    """One label as an SVG picture, drawn by what draws it on paper. Raises LabelError as `sheet` does."""
    drawing = SvgCanvas(stock.label_w_mm * pdf.MM, stock.label_h_mm * pdf.MM)
    draw(drawing, plan(label, stock), stock, 0, 0)
    return drawing.picture(f"The label as it prints: {'; '.join(label.lines)}")


def plan(label: PlainLabel, stock: label_stock.Stock) -> Plan:
    """Where everything goes. Raises LabelError."""
    pad_x, pad_y = (side * pdf.MM for side in stock.padding_mm)
    width, height = stock.label_w_mm * pdf.MM - 2 * pad_x, stock.label_h_mm * pdf.MM - 2 * pad_y
    strip, square, foot, right = _strip(label, width, stock), None, 0.0, 0.0
    if strip:
        foot = _BARS_MM * pdf.MM + 3
    if label.address:
        square = _square(label, width, height - foot, stock)
        right = square.side_mm * pdf.MM + 3
    lines = _lines(label, width - right, height - foot)
    y = pad_y + height
    placed = []
    for text, font, size in lines:
        y -= size
        placed.append(Placed(text, font, size, pad_x, y + size * (1 - pdf.ASCENT)))
        y -= size * (_LEADING - 1)
    at = (pad_x + width - right + 3, pad_y + height - right + 3)
    centered = (width - strip.width_mm * pdf.MM) / 2 if strip else 0
    return Plan(tuple(placed), strip, (pad_x + centered, pad_y), square, at)


def draw(drawing, plan: Plan, stock: label_stock.Stock, x: float, y: float) -> None:
    """Draws one label, its lower left corner at (x, y)."""
    drawing.setFillGray(0)
    for line in plan.lines:
        drawing.setFont(line.font, line.size)
        drawing.drawString(x + line.x, y + line.y, line.text)
    if plan.strip:
        left = label_stock.snapped(stock, x + plan.strip_at[0])
        symbols.draw_strip(drawing, plan.strip, left, y + plan.strip_at[1])
    if plan.square:
        left = label_stock.snapped(stock, x + plan.square_at[0])
        foot = label_stock.snapped(stock, y + plan.square_at[1])
        symbols.draw_square(drawing, plan.square, left, foot)


def _strip(label: PlainLabel, width: float, stock: label_stock.Stock) -> symbols.Strip | None:
    if not label.bars:
        return None
    try:
        found = symbols.strip(label.bars, width / pdf.MM, _BARS_MM, stock.dpi)
    except ValueError as error:
        raise LabelError(str(error)) from error
    if found is None:
        raise LabelError(
            f"The bars of {label.bars} do not fit {width / pdf.MM:.0f} mm. Choose a wider label."
        )
    return found


def _square(label: PlainLabel, width: float, height: float, stock) -> symbols.Square:
    side = min(width * _QR_SHARE, height) / pdf.MM
    try:
        found = symbols.square(label.address, side, stock.dpi)
    except ValueError as error:
        raise LabelError(f"{label.address} is too long for a QR code.") from error
    if found is None:
        raise LabelError(
            f"The QR code of {label.address} does not fit {side:.0f} mm. Choose a bigger label or a "
            "shorter address under Setup."
        )
    return found


def _lines(label: PlainLabel, width: float, height: float) -> list[tuple[str, str, float]]:
    """Text, font and size of each line: as large as all of them fit together."""
    texts = [pdf.clean(text) for text in label.lines if pdf.clean(text)]
    above = pdf.clean(label.above)
    for text in (*texts, above):
        if missing := pdf.missing_letters(text):
            raise LabelError(f"“{text}” has a character that cannot be printed: {missing}")
    head = [
        (part, pdf.BODY, _ABOVE)
        for part in pdf.wrap(above, pdf.BODY, _ABOVE, width, break_words=True)
    ]
    if head:
        # as much again stays free before the lines begin
        head.append(("", pdf.BODY, 2 * _ABOVE))
    for step in range(20, -1, -1):
        lines = [*head, *_set(texts, label.strong, width, step / 20)]
        if sum(size for _, _, size in lines) * _LEADING <= height + 0.01:
            return lines
    if label.few:
        return _shortened(lines, height)
    raise LabelError(
        f"“{texts[0]}” and the lines below it need more than {height / pdf.MM:.0f} mm of height. "
        "Choose a bigger label or shorten a line."
    )


def _set(texts: Sequence[str], strong: int, width: float, share: float) -> list:
    """The lines of each text; those below the title share one size, as small as the longest asks for."""
    fonts = [pdf.BOLD if number < strong else pdf.BODY for number in range(len(texts))]
    sizes = []
    for number, (text, font) in enumerate(zip(texts, fonts, strict=True)):
        most = _LEAST + share * ((_LARGEST if number == 0 else _LINE) - _LEAST)
        sizes.append(pdf.fitted(text, font, most, width))
    whole = [size for size in sizes[1:] if size >= _LEAST]
    lines = []
    for number, (text, font, size) in enumerate(zip(texts, fonts, sizes, strict=True)):
        if size >= _LEAST:
            lines.append((text, font, min(whole) if number else size))
            continue
        for part in pdf.wrap(text, font, _LEAST, width, break_words=True):
            lines.append((part, font, _LEAST))
    return lines


def _shortened(lines: list, height: float) -> list:
    """As many lines as fit, and how many more there are."""
    room = int(height / (_LEAST * _LEADING)) - 1
    kept, used = [], 0.0
    for line in lines:
        if used + line[2] * _LEADING > height - _LEAST * _LEADING or len(kept) >= max(room, 1):
            break
        kept.append(line)
        used += line[2] * _LEADING
    return [*kept, (f"and {len(lines) - len(kept)} more", pdf.BODY, _LEAST)]
