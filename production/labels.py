"""Bag labels as a PDF: what is in the bag, how many, who made it and from which lot.

The count is the net quantity of contents, so its letters are never smaller than the type height
for the package's principal display panel, and the space around it stays free of other print.
Sources: 16 CFR 500.21 (panel area; the five bands as in 21 CFR 101.7(i)), and for the free area the
state rule that follows the Uniform Packaging and Labeling Regulation. Not legal advice: the maker
answers for the label, and local rules decide.
"""

import functools
import io
from collections.abc import Sequence
from dataclasses import dataclass

from reportlab.lib.utils import ImageReader

from inventory import pdf
from inventory.svg import Drawing
from production import barcodes, gtin, label_layout, label_stock, label_template, symbols
from production.svg_canvas import SvgCanvas

LabelError = label_stock.LabelError

_CM_PER_IN = 2.54
# Up to so many square inches of panel, letters of at least so many inches.
_BANDS_IN = ((5, 1 / 16), (25, 1 / 8), (100, 3 / 16), (400, 1 / 4), (float("inf"), 1 / 2))


@dataclass(frozen=True)
class BagLabel:
    """The words on one bag. Empty texts are left out.

    `barcode` is an EAN-8, UPC-A or EAN-13 number. `panel_sq_in` is the area of the bag's (or its
    header card's) front in square inches; without it, the label's own area sets the type height,
    which is too small a height for a bigger bag. `note` is small print chosen by the maker. `bars` is
    the lot's code for Code 128, `address` a web address for a QR code: both where the template asks.
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
    bars: str = ""
    address: str = ""


@dataclass(frozen=True)
class Logo:
    """The shop's picture: PNG or JPEG bytes, width over height, and its address for the preview."""

    data: bytes
    ratio: float
    address: str = ""

    @functools.cached_property
    def reader(self) -> ImageReader:
        return ImageReader(io.BytesIO(self.data))


@dataclass(frozen=True)
class Look:
    """How labels are drawn: the parts that show, the logo, and how far the printer prints off, in mm."""

    template: label_template.Template = label_template.USUAL
    logo: Logo | None = None
    right_mm: float = 0.0
    down_mm: float = 0.0


USUAL = Look()


def type_height_mm(panel_sq_in: float) -> float:
    """The least letter height of the net quantity for a panel of this area, in millimeters."""
    return next(height for area, height in _BANDS_IN if panel_sq_in <= area) * 10 * _CM_PER_IN


def count_height_mm(label: BagLabel, stock: label_stock.Stock, look: Look = USUAL) -> float:
    """The height of the lower case of the count as it is drawn. Raises LabelError as `sheet` does."""
    count = pdf.clean(label.count_text)
    lines = [line for line in design(label, stock, look).lines if line.text and line.text in count]
    return min((line.size for line in lines), default=0.0) * pdf.X_HEIGHT / pdf.MM


def sheet(
    labels: Sequence[BagLabel], stock: label_stock.Stock, start: int = 1, look: Look = USUAL
) -> bytes:
    """The labels in order on sheets of `stock`, from place `start` of the first sheet, as a PDF.

    The same labels always give the same bytes. Raises LabelError, naming the label and the text
    or barcode, when anything would not fit, could not be drawn, or has a wrong check digit.
    """
    if not labels:
        raise LabelError("There are no labels to print.")
    places = label_stock.positions(stock, start, len(labels))
    designs = {label: design(label, stock, look) for label in dict.fromkeys(labels)}
    out = io.BytesIO()
    drawing = pdf.canvas(out, _page(stock), f"Labels, {stock.name}")
    sheet_now = 1
    for label, (page, _row, _column, x_mm, y_mm) in zip(labels, places, strict=True):
        if page != sheet_now:
            drawing.showPage()
            sheet_now = page
        x, y = _corner(stock, x_mm + look.right_mm, y_mm + look.down_mm)
        draw_design(drawing, designs[label], stock, x, y, look.logo)
    # Without this a label of empty texts would give a document without a page.
    drawing.showPage()
    drawing.save()
    return out.getvalue()


def preview(label: BagLabel, stock: label_stock.Stock, look: Look = USUAL) -> Drawing:
    """One label as an SVG picture, drawn by what draws it on paper. Raises LabelError as `sheet` does."""
    drawn = design(label, stock, look)
    drawing = SvgCanvas(stock.label_w_mm * pdf.MM, stock.label_h_mm * pdf.MM)
    draw_design(drawing, drawn, stock, 0, 0, look.logo)
    said = " ".join(line.text for line in drawn.lines)
    return drawing.picture(f"The label as it prints: {said}")


def alignment_page(stock: label_stock.Stock, right_mm: float = 0.0, down_mm: float = 0.0) -> bytes:
    """One page with the outline of every label and its place number: printed on plain paper and
    held behind a sheet of labels against the light, it shows whether the two agree."""
    out = io.BytesIO()
    drawing = pdf.canvas(out, _page(stock), f"Alignment, {stock.name}")
    drawing.setLineWidth(0.5)
    size = (stock.label_w_mm * pdf.MM, stock.label_h_mm * pdf.MM)
    for place in label_stock.positions(stock, 1, stock.per_sheet):
        _page_number, row, column, x_mm, y_mm = place
        x, y = _corner(stock, x_mm + right_mm, y_mm + down_mm)
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


def draw_design(
    drawing, design: label_layout.Design, stock, x: float, y: float, logo: Logo | None
) -> None:
    """Draws one label, its lower left corner at (x, y), on paper or into a preview."""
    drawing.setFillGray(0)
    if design.logo and logo:
        box = design.logo
        image = logo.address if isinstance(drawing, SvgCanvas) else logo.reader
        drawing.drawImage(image, x + box.x, y + box.y, box.w, box.h, mask="auto")
    for line in design.lines:
        drawing.setFont(line.font, line.size)
        drawing.drawString(x + line.x, y + line.y, line.text)
    if design.symbol:
        left = label_stock.snapped(stock, x + design.symbol_x)
        barcodes.draw(drawing, design.symbol, left, y + design.symbol_y)
    if design.strip:
        left = label_stock.snapped(stock, x + design.strip_at[0])
        symbols.draw_strip(drawing, design.strip, left, y + design.strip_at[1])
    if design.square:
        left, foot = (
            label_stock.snapped(stock, at)
            for at in (x + design.square_at[0], y + design.square_at[1])
        )
        symbols.draw_square(drawing, design.square, left, foot)


def design(label: BagLabel, stock: label_stock.Stock, look: Look) -> label_layout.Design:
    """Where the words and codes of a label go. Raises LabelError naming the label and what is wrong."""
    shown = look.template.shows
    try:
        texts = _texts(label, stock, look.template)
        number = label.barcode if label.barcode and shown("barcode") else None
        symbol = barcodes.checked(number) if number else None
        extras = label_layout.Extras(
            bars=label.bars if shown("bars") else "",
            address=label.address if shown("address") else "",
            logo=look.logo.ratio if look.logo and shown("logo") else None,
            logo_scale=look.template.scale("logo"),
        )
        pad_x, pad_y = (side * pdf.MM for side in stock.padding_mm)
        width, height = stock.label_w_mm * pdf.MM, stock.label_h_mm * pdf.MM
        box = label_layout.Box(pad_x, pad_y, width - 2 * pad_x, height - 2 * pad_y)
        return label_layout.arrange_all(texts, symbol, extras, box, stock.dpi)
    except (ValueError, gtin.GtinError) as problem:
        said = pdf.clean(" ".join(filter(None, (label.bait, label.length, label.color))))
        raise LabelError(f"Label for {said}: {problem}") from problem


def _texts(
    label: BagLabel, stock: label_stock.Stock, template: label_template.Template
) -> label_layout.Texts:
    def shown(part: str, text: str) -> str:
        return text if template.shows(part) else ""

    lot = f"Lot {label.lot}" if label.lot.strip() else ""
    area = stock.label_w_mm * stock.label_h_mm / (10 * _CM_PER_IN) ** 2
    area = max(area, label.panel_sq_in or 0)
    texts = label_layout.Texts(
        bait=shown("bait", _joined(label.bait, label.length)),
        color=shown("color", pdf.clean(label.color)),
        maker=shown("maker", _joined(label.shop, label.place)),
        lot=shown("lot", _joined(lot, label.date)),
        count=shown("count", pdf.clean(label.count_text)),
        note=shown("note", pdf.clean(label.note)),
        count_height_mm=type_height_mm(area),
        scale={part: template.scale(part) for part in label_template.PARTS},
    )
    for text in (texts.bait, texts.color, texts.maker, texts.lot, texts.count, texts.note):
        if missing := pdf.missing_letters(text):
            raise LabelError(f"“{text}” has a character that cannot be printed: {missing}")
    return texts


def _joined(*parts: str) -> str:
    return label_layout.SEPARATOR.join(filter(None, map(pdf.clean, parts)))
