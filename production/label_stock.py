"""Sheets and rolls of labels: where each label lies on its page.

The layouts are common cut sizes, named by their dimensions only; their margins are common
practice, from memory. A shop checks its own sheet with the alignment page (`labels.alignment_page`)
and can describe any other sheet with a `Stock` of its own.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

LETTER_MM = (215.9, 279.4)
A4_MM = (210.0, 297.0)

# Clear of the label's cut edge, for sheets that feed a little off; wider on bigger labels.
EDGE_MM = 1.6
_EDGE_SHARE = 0.055
_WIDEST_EDGE_MM = 4.0
# Office printers leave about 1/6 inch of the page's edge unprinted (common practice, no source).
UNPRINTED_MM = 4.3
# Rounding of printed dimensions must not refuse a sheet that fits.
_SLACK_MM = 0.05


class LabelError(ValueError):
    """A label or sheet that cannot be printed; the text says why, in the user's words."""


@dataclass(frozen=True)
class Stock:
    """One kind of label sheet, in millimeters; margins are those of the page's top left label.

    Raises LabelError when the labels do not fit the page or overlap.
    """

    key: str
    name: str
    page_w_mm: float
    page_h_mm: float
    rows: int
    columns: int
    label_w_mm: float
    label_h_mm: float
    left_mm: float
    top_mm: float
    gap_x_mm: float = 0.0
    gap_y_mm: float = 0.0
    radius_mm: float = 0.0
    #: Dots per inch of the thermal printer it runs through; None: an office printer's sheet.
    dpi: int | None = None

    def __post_init__(self):
        if self.rows < 1 or self.columns < 1:
            raise LabelError(f"{self.name}: a sheet has at least one row and one column.")
        if min(self.page_w_mm, self.page_h_mm, self.label_w_mm, self.label_h_mm) <= 0:
            raise LabelError(f"{self.name}: page and label must have a width and a height.")
        if min(self.left_mm, self.top_mm, self.gap_x_mm, self.gap_y_mm, self.radius_mm) < 0:
            raise LabelError(f"{self.name}: margins, gaps and corner radius cannot be negative.")
        if self.radius_mm > min(self.label_w_mm, self.label_h_mm) / 2:
            raise LabelError(f"{self.name}: the corner radius is more than half the label.")
        self._refuse_overhang("across", self.right_mm, self.page_w_mm)
        self._refuse_overhang("down", self.bottom_mm, self.page_h_mm)

    def _refuse_overhang(self, way: str, margin_mm: float, page_mm: float) -> None:
        if margin_mm < -_SLACK_MM:
            raise LabelError(
                f"{self.name}: the labels do not fit the page {way}: they need "
                f"{page_mm - margin_mm:.1f} mm of {page_mm:.1f} mm."
            )

    @property
    def per_sheet(self) -> int:
        """How many labels one sheet holds."""
        return self.rows * self.columns

    @property
    def right_mm(self) -> float:
        """What is left of the page right of the last column."""
        used = self.columns * self.label_w_mm + (self.columns - 1) * self.gap_x_mm
        return self.page_w_mm - self.left_mm - used

    @property
    def bottom_mm(self) -> float:
        """What is left of the page below the last row."""
        used = self.rows * self.label_h_mm + (self.rows - 1) * self.gap_y_mm
        return self.page_h_mm - self.top_mm - used

    @property
    def padding_mm(self) -> tuple[float, float]:
        """Blank border inside each label, across and down: the same for all labels of a sheet,
        wide enough for rounded corners and for the edge that a sheet printer leaves blank."""
        share = _EDGE_SHARE * min(self.label_w_mm, self.label_h_mm)
        edge = max(EDGE_MM, min(share, _WIDEST_EDGE_MM), 0.3 * self.radius_mm)
        if self.per_sheet == 1:
            return edge, edge
        return (
            max(edge, UNPRINTED_MM - min(self.left_mm, self.right_mm)),
            max(edge, UNPRINTED_MM - min(self.top_mm, self.bottom_mm)),
        )


def positions(stock: Stock, start: int, count: int) -> Iterator[tuple[int, int, int, float, float]]:
    """Where `count` labels go: (page, row, column, x_mm, y_mm), left to right, then down.

    Page, row and column count from 1; x and y are the label's top left corner from the page's.
    `start` is the first free place on a part-used first sheet, counted from 1.
    Raises LabelError when the sheet has no such place.
    """
    if not 1 <= start <= stock.per_sheet:
        raise LabelError(
            f"This sheet has places 1 to {stock.per_sheet}; it cannot start at place {start}."
        )
    return _places(stock, start, count)


def snapped(stock: Stock, x: float) -> float:
    """The place in points, moved left to a whole dot where the stock runs through a thermal printer."""
    return math.floor(x * stock.dpi / 72 + 1e-9) * 72 / stock.dpi if stock.dpi else x


def _places(stock: Stock, start: int, count: int):
    for place in range(start - 1, start - 1 + count):
        page, on_page = divmod(place, stock.per_sheet)
        row, column = divmod(on_page, stock.columns)
        x = stock.left_mm + column * (stock.label_w_mm + stock.gap_x_mm)
        y = stock.top_mm + row * (stock.label_h_mm + stock.gap_y_mm)
        yield page + 1, row + 1, column + 1, x, y


#: The usual thermal label printer (common practice, no source).
_ROLL_DPI = 203


def _letter(key, name, rows, columns, size_in, left_in, top_in, gap_in=(0, 0), radius_in=0.0625):
    inches = (*size_in, left_in, top_in, *gap_in, radius_in)
    millimeters = [round(25.4 * value, 4) for value in inches]
    return Stock(key, f"Letter, {name}", *LETTER_MM, rows, columns, *millimeters)


def _a4(key, name, rows, columns, size_mm, gap_x_mm=0.0, radius_mm=1.5):
    """European sheets are centered on the page."""
    left = (A4_MM[0] - columns * size_mm[0] - (columns - 1) * gap_x_mm) / 2
    top = (A4_MM[1] - rows * size_mm[1]) / 2
    placed = (round(left, 4), round(top, 4), gap_x_mm, 0.0, radius_mm)
    return Stock(key, f"A4, {name}", *A4_MM, rows, columns, *size_mm, *placed)


def _single(key, name, size_in, dpi=_ROLL_DPI):
    width, height = (round(25.4 * value, 4) for value in size_in)
    said = f"Roll, {name}, {dpi} dpi"
    return Stock(key, said, width, height, 1, 1, width, height, 0, 0, radius_mm=1.5, dpi=dpi)


_ALL = (
    _letter(
        "letter-3x10",
        "3 × 10, 66.7 × 25.4 mm (2⅝ × 1 in)",
        10,
        3,
        (2.625, 1),
        0.1875,
        0.5,
        (0.125, 0),
    ),
    _letter(
        "letter-2x10",
        "2 × 10, 101.6 × 25.4 mm (4 × 1 in)",
        10,
        2,
        (4, 1),
        0.15625,
        0.5,
        (0.1875, 0),
    ),
    _letter(
        "letter-2x7",
        "2 × 7, 101.6 × 33.9 mm (4 × 1⅓ in)",
        7,
        2,
        (4, 4 / 3),
        0.15625,
        5 / 6,
        (0.1875, 0),
    ),
    _letter(
        "letter-2x5", "2 × 5, 101.6 × 50.8 mm (4 × 2 in)", 5, 2, (4, 2), 0.15625, 0.5, (0.1875, 0)
    ),
    _letter(
        "letter-2x4",
        "2 × 4, 101.6 × 63.5 mm (4 × 2½ in)",
        4,
        2,
        (4, 2.5),
        0.15625,
        0.5,
        (0.1875, 0),
    ),
    _letter(
        "letter-2x3",
        "2 × 3, 101.6 × 84.7 mm (4 × 3⅓ in)",
        3,
        2,
        (4, 10 / 3),
        0.15625,
        0.5,
        (0.1875, 0),
    ),
    _letter(
        "letter-2x2",
        "2 × 2 cards, 108 × 139.7 mm (4¼ × 5½ in)",
        2,
        2,
        (4.25, 5.5),
        0,
        0,
        radius_in=0,
    ),
    _a4("a4-5x13", "5 × 13, 38.1 × 21.2 mm", 13, 5, (38.1, 21.2), 2.5),
    _a4("a4-3x8", "3 × 8, 70 × 37 mm", 8, 3, (70.0, 37.0), radius_mm=0.0),
    _a4("a4-3x8-gap", "3 × 8, 63.5 × 33.9 mm", 8, 3, (63.5, 33.9), 2.5),
    _a4("a4-3x7", "3 × 7, 63.5 × 38.1 mm", 7, 3, (63.5, 38.1), 2.5),
    _a4("a4-3x6", "3 × 6, 63.5 × 46.6 mm", 6, 3, (63.5, 46.6), 2.5),
    _a4("a4-2x7", "2 × 7, 99.1 × 38.1 mm", 7, 2, (99.1, 38.1), 2.5),
    _a4("a4-2x4", "2 × 4, 99.1 × 67.7 mm", 4, 2, (99.1, 67.7), 2.5),
    _single("roll-57x32", "57.2 × 31.8 mm (2¼ × 1¼ in)", (2.25, 1.25)),
    _single("roll-57x32-300", "57.2 × 31.8 mm (2¼ × 1¼ in)", (2.25, 1.25), dpi=300),
    _single("roll-76x51", "76.2 × 50.8 mm (3 × 2 in)", (3, 2)),
    _single("roll-76x51-300", "76.2 × 50.8 mm (3 × 2 in)", (3, 2), dpi=300),
    _single("roll-102x51", "101.6 × 50.8 mm (4 × 2 in)", (4, 2)),
    _single("roll-102x152", "101.6 × 152.4 mm (4 × 6 in)", (4, 6)),
)

STOCKS: dict[str, Stock] = {stock.key: stock for stock in _ALL}


def usual(shop) -> str:
    """The sheet that a shop prints on until it says otherwise, by the units it thinks in."""
    return "a4-3x7" if shop and shop.units == "metric" else "letter-2x7"
