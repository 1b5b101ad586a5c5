"""Where the words and the barcode of one label go, measured so that nothing overflows.

Each text starts at its largest size, shrinks until it fits on one line, and wraps when it would get
smaller than its least size. Lengths are points from the label's lower left corner.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from inventory import pdf
from production import barcodes, label_stock, symbols

SEPARATOR = " · "

# The least lower-case height for what the buyer reads first: 1/16 inch, the smallest that
# 16 CFR 500.21(b) knows.
READABLE_MM = 25.4 / 16
# The small print: 6 points, the least that California's short-form warning allows.
SMALL_PT = 6.0

# Largest sizes on a label with an inside height of 22 mm; they grow with the label.
_REFERENCE = 63.0
_LEADING = 1.12
_GAP = 0.2
_HIERARCHY = 1.5
_GUTTER = 3.0
# Breaking a color's name is worth it when the letters grow by this much.
_WORTH_A_BREAK = 1.35
_MOST_SMALL_PT = 11.0
# How much a text broken over more lines counts against a layout.
_BREAK_COST = 0.12


@dataclass(frozen=True)
class Box:
    """A rectangle: lower left corner, width and height."""

    x: float
    y: float
    w: float
    h: float


@dataclass(frozen=True)
class Texts:
    """The finished lines of text of a label; `count_height_mm` is the count's least letter height, and
    `count_small` keeps it at that."""

    bait: str
    color: str
    maker: str
    lot: str
    count: str
    note: str
    count_height_mm: float = READABLE_MM
    count_small: bool = False
    #: Part of the template → how much larger than usual its type may be; missing: 1.
    scale: Mapping[str, float] = field(default_factory=dict)

    def grown(self, part: str, size: float) -> float:
        return size * self.scale.get(part, 1.0)


@dataclass(frozen=True)
class Line:
    """One line of text, set: the start of its baseline."""

    text: str
    font: str
    size: float
    x: float
    y: float


@dataclass(frozen=True)
class Design:
    """A label's lines and barcode, placed."""

    lines: tuple[Line, ...]
    symbol: barcodes.Symbol | None = None
    symbol_x: float = 0.0
    symbol_y: float = 0.0
    color_size: float = 0.0
    #: The lot's bars, the QR code and the logo, each with the corner (for the logo: the box) it has.
    strip: symbols.Strip | None = None
    strip_at: tuple[float, float] = (0.0, 0.0)
    square: symbols.Square | None = None
    square_at: tuple[float, float] = (0.0, 0.0)
    logo: Box | None = None


@dataclass(frozen=True)
class _Piece:
    """A text that has yet to be set, between two sizes. A `clear` one keeps its own letter
    height free above it."""

    text: str
    font: str
    least: float
    most: float
    clear: bool = False


@dataclass(frozen=True)
class _Set:
    """A piece broken into lines at one size."""

    piece: _Piece
    lines: tuple[str, ...]
    size: float

    @property
    def height(self) -> float:
        return self.size * (1 + _LEADING * (len(self.lines) - 1))


class _TooMuch(label_stock.LabelError):
    """The words do not fit the space they were given."""


def size_for_height(height_mm: float) -> float:
    """The type size in points whose lower case is this high."""
    return height_mm * pdf.MM / pdf.X_HEIGHT


def arrange(texts: Texts, number: str | None, box: Box, dpi: int | None = None) -> Design:
    """Place everything inside `box`. Raises LabelError that names what does not fit.

    `dpi`: of a thermal printer, whose dots the barcode goes by."""
    if number is None:
        return _words(texts, box, box)
    fitting = barcodes.sizes(number, box.w / pdf.MM, box.h / pdf.MM, dpi)
    if not fitting:
        raise label_stock.LabelError(_needs(number, box, dpi))
    designs, refusal = [], None
    for symbol in fitting:
        for layout in (_corner, _below, _beside):
            try:
                designs.append(layout(texts, symbol, box))
            except _TooMuch as problem:
                refusal = problem
    if not designs:
        raise label_stock.LabelError(f"beside the barcode, {refusal}")
    return max(designs, key=_merit)


#: Bars of a lot code are read by hand scanners; so high is enough (common practice, no source).
STRIP_MM = 6.0
#: How much of a label's height a logo takes, and of its width at most.
_LOGO_SHARE, _LOGO_WIDEST = 0.18, 0.6
#: A QR code takes at most so much of the height and of the width.
_SQUARE_SHARE = 0.6


@dataclass(frozen=True)
class Extras:
    """What stands beside the words and the retail barcode. `logo`: its width over its height."""

    bars: str = ""
    address: str = ""
    logo: float | None = None
    logo_scale: float = 1.0


def arrange_all(
    texts: Texts, number: str | None, extras: Extras, box: Box, dpi: int | None = None
) -> Design:
    """As `arrange`, after the lot's bars at the foot, the logo at the head and the QR code at the right
    have taken their space."""
    logo = strip = square = None
    strip_at = square_at = (0.0, 0.0)
    if extras.logo:
        high = min(box.h * _LOGO_SHARE * extras.logo_scale, box.w * _LOGO_WIDEST / extras.logo)
        logo = Box(box.x, box.y + box.h - high, high * extras.logo, high)
        box = Box(box.x, box.y, box.w, box.h - high - _GUTTER)
    if extras.bars:
        strip = symbols.strip(extras.bars, box.w / pdf.MM, STRIP_MM, dpi)
        if strip is None:
            raise label_stock.LabelError(_too_narrow(extras.bars, box, dpi))
        # The quiet zone may reach into the label's own margin: nothing is printed there.
        strip_at = (box.x + (box.w - strip.width_mm * pdf.MM) / 2, box.y)
        high = STRIP_MM * pdf.MM + _GUTTER
        box = Box(box.x, box.y + high, box.w, box.h - high)
    if extras.address:
        side = min(box.h, box.w) * _SQUARE_SHARE / pdf.MM
        square = symbols.square(extras.address, side, dpi)
        if square is None:
            raise label_stock.LabelError(
                f"The QR code of {extras.address} needs more than {side:.0f} mm. Choose a bigger "
                "label, a shorter address, or leave the code out."
            )
        side = square.side_mm * pdf.MM
        square_at = (box.x + box.w - side, box.y + box.h - side)
        box = Box(box.x, box.y, box.w - side - _GUTTER, box.h)
    design = arrange(texts, number, box, dpi)
    return replace(
        design, strip=strip, strip_at=strip_at, square=square, square_at=square_at, logo=logo
    )


def _too_narrow(bars: str, box: Box, dpi: int | None) -> str:
    count = len(symbols.strip_modules(bars)) + 2 * symbols.CODE_128_QUIET
    [*_, least] = symbols.modules_mm(symbols.LEAST_MM, symbols.USUAL_MM, float("inf"), dpi)
    return (
        f"The bars of the lot code {bars} need at least {count * least:.1f} mm across with their "
        f"quiet zones; this label has {box.w / pdf.MM:.1f} mm inside its margins. Choose a wider "
        "label or leave them out."
    )


def _merit(design: Design) -> float:
    """A large color on few lines first, then a large barcode."""
    return design.color_size / (1 + _BREAK_COST * len(design.lines)) * design.symbol.module_mm**0.5


def _needs(number: str, box: Box, dpi: int | None) -> str:
    least = barcodes.smallest(number, dpi)
    return (
        f"The barcode {number} needs at least {least.width_mm:.1f} × {least.height_mm:.1f} mm with "
        f"its quiet zones; this label has {box.w / pdf.MM:.1f} × {box.h / pdf.MM:.1f} mm inside "
        "its margins. Choose a bigger label or leave the barcode out."
    )


def _with_symbol(design: Design, symbol: barcodes.Symbol, x: float, y: float) -> Design:
    return replace(design, symbol=symbol, symbol_x=x, symbol_y=y)


def _size(symbol: barcodes.Symbol) -> tuple[float, float]:
    return symbol.width_mm * pdf.MM, symbol.height_mm * pdf.MM


def _corner(texts: Texts, symbol: barcodes.Symbol, box: Box) -> Design:
    """Bait and color across the whole label, the rest beside the barcode."""
    w, h = _size(symbol)
    top = Box(box.x, box.y + h + _GUTTER, box.w, box.h - h - _GUTTER)
    bottom = Box(box.x, box.y, box.w - w - _GUTTER, h)
    design = _words(texts, top, bottom, beside=True)
    return _with_symbol(design, symbol, box.x + box.w - w, box.y)


def _beside(texts: Texts, symbol: barcodes.Symbol, box: Box) -> Design:
    """All words in a column left of the barcode."""
    w, h = _size(symbol)
    column = Box(box.x, box.y, box.w - w - _GUTTER, box.h)
    design = _words(texts, column, column, beside=True)
    return _with_symbol(design, symbol, box.x + box.w - w, box.y + (box.h - h) / 2)


def _below(texts: Texts, symbol: barcodes.Symbol, box: Box) -> Design:
    """All words above the barcode."""
    try:
        return _above_symbol(texts, symbol, box)
    except _TooMuch:
        # A smaller count asks for less free space around it.
        return _above_symbol(replace(texts, count_small=True), symbol, box)


def _above_symbol(texts: Texts, symbol: barcodes.Symbol, box: Box) -> Design:
    w, h = _size(symbol)
    free = _count(texts, _growth(box.h)).most * pdf.CAP_HEIGHT if texts.count else _GUTTER
    upper = Box(box.x, box.y + h + free, box.w, box.h - h - free)
    design = _words(texts, upper, upper)
    return _with_symbol(design, symbol, box.x + (box.w - w) / 2, box.y)


def _words(texts: Texts, top: Box, bottom: Box, beside: bool = False) -> Design:
    """Bait and color from the top of one box down, the rest from the foot of the other up.

    Shrinks everything step by step until the color can be clearly larger than the bait's name.
    """
    shared = top == bottom
    grow = _growth(top.h if shared else top.h + bottom.h)
    fallback, refusal = None, None
    for step in range(20, -1, -1):
        try:
            design, contrast = _attempt(texts, top, bottom, grow, step / 20, beside)
        except _TooMuch as problem:
            refusal = problem
            continue
        if contrast >= _HIERARCHY:
            return design
        if fallback is None or contrast > fallback[1]:
            fallback = (design, contrast)
    if fallback is None:
        raise refusal
    return fallback[0]


def _growth(height: float) -> float:
    return min(max(height / _REFERENCE, 1.0), 2.4)


def _attempt(texts, top: Box, bottom: Box, grow: float, share: float, beside: bool):
    """One try at one share of the way from the least sizes to the largest ones."""
    readable = size_for_height(READABLE_MM)
    bait = _scaled(_Piece(texts.bait, pdf.BODY, readable, texts.grown("bait", 11.5 * grow)), share)
    color = _Piece(texts.color, pdf.BOLD, readable, texts.grown("color", 24 * grow))
    foot = _foot(texts, bottom, grow, share, beside)
    foot_height = _stack_height(foot)
    if foot and foot_height > bottom.h:
        raise _TooMuch(_too_high(foot, bottom))
    head = [_fit(bait, top.w)] if bait.text else []
    used = _stack_height(head) + (head[0].size * _GAP if head else 0)
    if top == bottom:
        used += foot_height + (_clearance(foot, share) if foot else 0)
    color_set = _largest(color, top.w, top.h - used) if color.text else None
    if color_set:
        head.append(color_set)
    elif head and used > top.h:
        raise _TooMuch(_too_high(head, top))
    size = color_set.size if color_set else 0.0
    lines = (*_down(head, top), *_up(foot, bottom))
    contrast = size / head[0].size if color_set and bait.text else _HIERARCHY
    return Design(lines, color_size=size), contrast


def _scaled(piece: _Piece, share: float) -> _Piece:
    most = max(piece.most, piece.least)
    return replace(piece, most=piece.least + share * (most - piece.least))


def _count(texts: Texts, grow: float) -> _Piece:
    least = size_for_height(max(texts.count_height_mm, READABLE_MM))
    most = least if texts.count_small else max(least, texts.grown("count", 11 * grow))
    return _Piece(texts.count, pdf.BOLD, least, most, clear=True)


def _small(texts: Texts, part: str, text: str, most: float) -> _Piece:
    return _Piece(text, pdf.BODY, SMALL_PT, max(SMALL_PT, texts.grown(part, most)))


def _foot(texts, box: Box, grow: float, share: float, beside: bool) -> list[list[_Set]]:
    """The rows below the color, from the top: each row is one text, or count and lot together."""
    small = [
        _scaled(_small(texts, part, text, min(most * grow, _MOST_SMALL_PT)), share)
        for part, text, most in (
            ("note", texts.note, 6.5),
            ("maker", texts.maker, 8.5),
            ("lot", texts.lot, 7.5),
        )
        if text
    ]
    rows = [[_fit(piece, box.w)] for piece in small]
    if not texts.count:
        return rows
    # The barcode's quiet zone is no printing, but its figures are: the count keeps clear of them.
    count = _scaled(_count(texts, grow), share)
    side = 2 * pdf.width("N", count.font, count.most)
    set_count = _fit(count, box.w - (side if beside else 0))
    if texts.lot and len(set_count.lines) == len(rows[-1][0].lines) == 1:
        together = sum(
            pdf.width(s.lines[0], s.piece.font, s.size) for s in (set_count, rows[-1][0])
        )
        if together + 2 * pdf.width("N", count.font, set_count.size) <= box.w:
            return [*rows[:-1], [set_count, rows[-1][0]]]
    return [*rows, [set_count]]


def _fit(piece: _Piece, width: float) -> _Set:
    """Shrink to one line; wrap at the least size when that is not enough."""
    one_line = pdf.width(piece.text, piece.font, 1.0)
    size = min(piece.most, width / one_line) if one_line else piece.most
    if size >= piece.least:
        return _Set(piece, (piece.text,), size)
    return _wrapped(piece, piece.least, width)


def _wrapped(piece: _Piece, size: float, width: float) -> _Set:
    # A count that is parted from its number is no count.
    text = pdf.tie(piece.text) if piece.clear else piece.text
    lines = pdf.wrap(text, piece.font, size, width)
    parts = [
        line for part in text.split(SEPARATOR) for line in pdf.wrap(part, piece.font, size, width)
    ]
    # A break between maker and place, or bait and length, reads best if it costs no line.
    lines = parts if len(parts) <= len(lines) else lines
    for line in lines:
        if pdf.width(line, piece.font, size) > width + 0.01:
            raise _TooMuch(
                f"“{line}” does not fit: it is {pdf.width(line, piece.font, size) / pdf.MM:.1f} mm "
                f"wide in the smallest readable type and has {max(width, 0) / pdf.MM:.1f} mm. Shorten it or "
                "choose a wider label."
            )
    return _Set(piece, tuple(line.strip(SEPARATOR) for line in lines), size)


def _largest(piece: _Piece, width: float, height: float) -> _Set:
    """The text as large as fits the space, on one line unless more lines make it much larger."""
    found: dict[int, _Set] = {}
    size = min(piece.most, height)
    while size >= piece.least and 1 not in found:
        lines = tuple(pdf.wrap(piece.text, piece.font, size, width))
        candidate = _Set(piece, lines, size)
        fits = all(pdf.width(line, piece.font, size) <= width for line in lines)
        if fits and candidate.height <= height:
            found.setdefault(len(lines), candidate)
        size -= 0.5
    if not found:
        return _least(piece, width, height)
    best = found[min(found)]
    for count in sorted(found):
        if found[count].size > _WORTH_A_BREAK * best.size:
            best = found[count]
    return best


def _least(piece: _Piece, width: float, height: float) -> _Set:
    least = _wrapped(piece, piece.least, width)
    if least.height > height:
        raise _TooMuch(
            f"“{piece.text}” does not fit: in the smallest readable type it needs "
            f"{least.height / pdf.MM:.1f} mm of height and {max(height, 0) / pdf.MM:.1f} mm are "
            "left. Shorten a text or choose a bigger label."
        )
    return least


def _rows(stack: Sequence) -> list[list[_Set]]:
    return [row if isinstance(row, list) else [row] for row in stack]


def _clearance(stack: Sequence, share: float) -> float:
    """Space between color and foot: the more, the less the words had to shrink."""
    row = _rows(stack)[0]
    return max(_above(row), share * row[0].size)


def _above(row: list[_Set]) -> float:
    """Free space above a row: a capital's height over the count, less what the row's own box
    already leaves over its capitals; else a share of the size."""
    first = row[0]
    if first.piece.clear:
        return first.size * (pdf.CAP_HEIGHT - (pdf.ASCENT - pdf.CAP_HEIGHT))
    return first.size * _GAP


def _stack_height(stack: Sequence) -> float:
    rows = _rows(stack)
    return sum(max(s.height for s in row) for row in rows) + sum(_above(row) for row in rows[1:])


def _down(stack: Sequence, box: Box) -> Iterator[Line]:
    """Rows set from the top of the box."""
    y = box.y + box.h
    for index, row in enumerate(_rows(stack)):
        y -= _above(row) if index else 0
        yield from _row_lines(row, box, y)
        y -= max(s.height for s in row)


def _up(stack: Sequence, box: Box) -> Iterator[Line]:
    """Rows set so that the last one ends at the foot of the box."""
    if stack:
        height = _stack_height(stack)
        yield from _down(stack, Box(box.x, box.y, box.w, height))


def _row_lines(row: list[_Set], box: Box, top: float) -> Iterator[Line]:
    first = row[0]
    y = top - first.size * pdf.ASCENT
    for number, text in enumerate(first.lines):
        yield Line(text, first.piece.font, first.size, box.x, y - number * first.size * _LEADING)
    for other in row[1:]:
        text = other.lines[0]
        x = box.x + box.w - pdf.width(text, other.piece.font, other.size)
        yield Line(text, other.piece.font, other.size, x, y)


def _too_high(stack: Sequence, box: Box) -> str:
    longest = max((s for row in _rows(stack) for s in row), key=lambda s: s.height)
    return (
        f"there are too many words: they need {_stack_height(stack) / pdf.MM:.1f} mm of height in "
        f"the smallest readable type and have {max(box.h, 0) / pdf.MM:.1f} mm. The longest is "
        f"“{longest.piece.text}”."
    )
