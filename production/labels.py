"""Bag labels as a PDF: what is in the bag, how many, who made it and from which lot.

The count is the net quantity of contents, so its letters are never smaller than the type height
for the package's principal display panel, and the space around it stays free of other print.
Sources: 16 CFR 500.21 (panel area; the five bands as in 21 CFR 101.7(i)), and for the free area the
state rule that follows the Uniform Packaging and Labeling Regulation. Not legal advice: the maker
answers for the label, and local rules decide.
"""

import io
from collections.abc import Sequence
from dataclasses import dataclass

from inventory import pdf
from production import barcodes, gtin, label_layout, label_stock

LabelError = label_stock.LabelError

_CM_PER_IN = 2.54
# Up to so many square inches of panel, letters of at least so many inches.
_BANDS_IN = ((5, 1 / 16), (25, 1 / 8), (100, 3 / 16), (400, 1 / 4), (float("inf"), 1 / 2))


@dataclass(frozen=True)
class BagLabel:
    """The words on one bag. Empty texts are left out.

    `barcode` is an EAN-8, UPC-A or EAN-13 number. `panel_sq_in` is the area of the bag's (or its
    header card's) front in square inches; without it, the label's own area sets the type height,
    which is too small a height for a bigger bag. `note` is small print chosen by the maker.
    """

    shop: str
    bait: str
    length: str
    color: str
    count_text: str
    lot: str
    date: str
    barcode: str | None = None
    place: str = ""
    note: str = ""
    panel_sq_in: float | None = None


def type_height_mm(panel_sq_in: float) -> float:
    """The least letter height of the net quantity for a panel of this area, in millimeters."""
    return next(height for area, height in _BANDS_IN if panel_sq_in <= area) * 10 * _CM_PER_IN


def count_height_mm(label: BagLabel, stock: label_stock.Stock) -> float:
    """The height of the lower case of the count as it is drawn. Raises LabelError as `sheet` does."""
    count = pdf.clean(label.count_text)
    lines = [line for line in _design(label, stock).lines if line.text and line.text in count]
    return min((line.size for line in lines), default=0.0) * pdf.X_HEIGHT / pdf.MM


def sheet(labels: Sequence[BagLabel], stock: label_stock.Stock, start: int = 1) -> bytes:
    """The labels in order on sheets of `stock`, from place `start` of the first sheet, as a PDF.

    The same labels always give the same bytes. Raises LabelError, naming the label and the text
    or barcode, when anything would not fit, could not be drawn, or has a wrong check digit.
    """
    if not labels:
        raise LabelError("There are no labels to print.")
    places = label_stock.positions(stock, start, len(labels))
    designs = {label: _design(label, stock) for label in dict.fromkeys(labels)}
    out = io.BytesIO()
    drawing = pdf.canvas(out, _page(stock), f"Labels, {stock.name}")
    sheet_now = 1
    for label, (page, _row, _column, x_mm, y_mm) in zip(labels, places, strict=True):
        if page != sheet_now:
            drawing.showPage()
            sheet_now = page
        _draw(drawing, designs[label], stock, x_mm, y_mm)
    # Without this a label of empty texts would give a document without a page.
    drawing.showPage()
    drawing.save()
    return out.getvalue()


def alignment_page(stock: label_stock.Stock) -> bytes:
    """One page with the outline of every label and its place number: printed on plain paper and
    held behind a sheet of labels against the light, it shows whether the two agree."""
    out = io.BytesIO()
    drawing = pdf.canvas(out, _page(stock), f"Alignment, {stock.name}")
    drawing.setLineWidth(0.5)
    size = (stock.label_w_mm * pdf.MM, stock.label_h_mm * pdf.MM)
    for place in label_stock.positions(stock, 1, stock.per_sheet):
        _page_number, row, column, x_mm, y_mm = place
        x, y = _corner(stock, x_mm, y_mm)
        drawing.roundRect(x, y, *size, stock.radius_mm * pdf.MM)
        number = str((row - 1) * stock.columns + column)
        drawing.setFont(pdf.BOLD, 14)
        drawing.drawCentredString(x + size[0] / 2, y + size[1] / 2 - 5, number)
    drawing.save()
    return out.getvalue()


def _page(stock: label_stock.Stock) -> tuple[float, float]:
    return stock.page_w_mm * pdf.MM, stock.page_h_mm * pdf.MM


def _corner(stock: label_stock.Stock, x_mm: float, y_mm: float) -> tuple[float, float]:
    """A label's lower left corner in points from the page's, for its top left in millimeters."""
    return x_mm * pdf.MM, (stock.page_h_mm - y_mm - stock.label_h_mm) * pdf.MM


def _draw(drawing, design: label_layout.Design, stock, x_mm: float, y_mm: float) -> None:
    x, y = _corner(stock, x_mm, y_mm)
    for line in design.lines:
        drawing.setFont(line.font, line.size)
        drawing.drawString(x + line.x, y + line.y, line.text)
    if design.symbol:
        left = label_stock.snapped(stock, x + design.symbol_x)
        barcodes.draw(drawing, design.symbol, left, y + design.symbol_y)


def _design(label: BagLabel, stock: label_stock.Stock) -> label_layout.Design:
    try:
        texts = _texts(label, stock)
        symbol = barcodes.checked(label.barcode) if label.barcode else None
        pad_x, pad_y = (side * pdf.MM for side in stock.padding_mm)
        width, height = stock.label_w_mm * pdf.MM, stock.label_h_mm * pdf.MM
        box = label_layout.Box(pad_x, pad_y, width - 2 * pad_x, height - 2 * pad_y)
        return label_layout.arrange(texts, symbol, box, stock.dpi)
    except (LabelError, gtin.GtinError) as problem:
        said = pdf.clean(" ".join(filter(None, (label.bait, label.length, label.color))))
        raise LabelError(f"Label for {said}: {problem}") from problem


def _texts(label: BagLabel, stock: label_stock.Stock) -> label_layout.Texts:
    lot = f"Lot {label.lot}" if label.lot.strip() else ""
    area = stock.label_w_mm * stock.label_h_mm / (10 * _CM_PER_IN) ** 2
    area = max(area, label.panel_sq_in or 0)
    texts = label_layout.Texts(
        bait=_joined(label.bait, label.length),
        color=pdf.clean(label.color),
        maker=_joined(label.shop, label.place),
        lot=_joined(lot, label.date),
        count=pdf.clean(label.count_text),
        note=pdf.clean(label.note),
        count_height_mm=type_height_mm(area),
    )
    for text in (texts.bait, texts.color, texts.maker, texts.lot, texts.count, texts.note):
        if missing := pdf.missing_letters(text):
            raise LabelError(f"“{text}” has a character that cannot be printed: {missing}")
    return texts


def _joined(*parts: str) -> str:
    return label_layout.SEPARATOR.join(filter(None, map(pdf.clean, parts)))
