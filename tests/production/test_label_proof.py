"""Every kind of label on every stock, proven from the page: read by an independent decoder (zxing-cpp) from an
independent renderer's pixels (pypdfium2), measured there, and never off its cell."""

import dataclasses
import functools
import io

import numpy
import pypdf
import pypdfium2
import pytest
import zxingcpp

from inventory import pdf
from production import header_card, label_stock, label_template, labels, plain_label
from production.label_stock import LabelError

STOCKS = label_stock.STOCKS
MM = 72 / 25.4
EAN, UPC, EAN_8, LOT = "6291041500213", "614141210220", "96385074", "P261127-01"
ADDRESS = "http://pour.local:8000/shelf/lots/4711/"
BAG = labels.BagLabel(
    shop="Pine Hollow",
    bait="Grub",
    length="4 in",
    color="Tin",
    count_text="8 baits",
    lot=LOT,
    date="2026-11-27",
    bars=LOT,
    address="https://pine.example/",
)
SHELF = plain_label.PlainLabel(
    ["Plum dye", f"Lot {LOT}, since 2026-11-27", "their lot 4711"], bars=LOT, address=ADDRESS
)
LID = plain_label.PlainLabel(
    ["Rusty Lantern", "B261127-01 · 2026-11-27", "52 mL · melt 2", "Plum dye 2 mL"],
    address=ADDRESS,
    few=True,
)
BARS = labels.Look(label_template.Template({"barcode": 0, "bars": 100}))
BARS_AND_QR = labels.Look(label_template.Template({"barcode": 0, "bars": 100, "address": 100}))


def bag(number=None, look=labels.USUAL):
    label = dataclasses.replace(BAG, barcode=number)
    return lambda stock, start: labels.sheet([label], stock, start, look)


def header(number=None, look=labels.USUAL):
    card = header_card.Card(dataclasses.replace(BAG, barcode=number), ["Pine Hollow", "Elm Lake"])
    return lambda stock, start: header_card.sheet([card], stock, start, look)


def plain(label):
    return lambda stock, start: plain_label.sheet([label], stock, start)


#: What is drawn → (how, what a scanner must read there).
KINDS = {
    "bag, EAN-13": (bag(EAN), {EAN}),
    "bag, UPC-A": (bag(UPC), {UPC}),
    "bag, EAN-8": (bag(EAN_8), {EAN_8}),
    "bag, bars": (bag(look=BARS), {LOT}),
    "bag, bars and QR": (bag(look=BARS_AND_QR), {LOT, BAG.address}),
    "header, EAN-13": (header(EAN), {EAN}),
    "header, bars and QR": (header(look=BARS_AND_QR), {LOT, BAG.address}),
    "lid": (plain(LID), {ADDRESS}),
    "shelf": (plain(SHELF), {LOT, ADDRESS}),
}


def cell(stock, start=1):
    """A place's left, top, width and height in millimeters."""
    [(*_place, x, y)] = label_stock.positions(stock, start, 1)
    return x, y, stock.label_w_mm, stock.label_h_mm


def pixels(data, stock, start, dpi):
    """The label at one place, as gray pixels."""
    x, y, w, h = cell(stock, start)
    cut = (x, stock.page_h_mm - y - h, stock.page_w_mm - x - w, y)
    page = pypdfium2.PdfDocument(data)[0]
    crop = tuple(max(0.0, side * MM) for side in cut)
    return page.render(scale=dpi / 72, grayscale=True, crop=crop).to_numpy().copy()


def read(image):
    return {found.text for found in zxingcpp.read_barcodes(image)}


def too_small(stock, kind):
    """Below these measures a refusal is expected; a card is folded, and its hole takes 15 mm."""
    height = stock.label_h_mm / 2 - 15 if kind.startswith("header") else stock.label_h_mm
    return stock.label_w_mm < 80 or height < 52


def same(code):
    """ISO/IEC 15420: a UPC-A symbol is the EAN-13 symbol of the number with a leading zero."""
    return code[1:] if len(code) == 13 and code[0] == "0" else code


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("stock", STOCKS.values(), ids=lambda stock: stock.key)
def test_every_code_is_read_back_or_refused_with_its_reason(stock, kind):
    """At the last place of its sheet; thermal stocks also in the printer's own dots, black and white."""
    draw, codes = KINDS[kind]
    try:
        data = draw(stock, stock.per_sheet)
    except LabelError as refused:
        assert too_small(stock, kind), f"{stock.name} is large enough: {refused}"
        assert any(word in str(refused) for word in ("Choose a", "Shorten", "leave the")), refused
        return
    image = pixels(data, stock, stock.per_sheet, 300)
    assert {same(code) for code in read(image)} == codes
    if stock.dpi:
        dots = pixels(data, stock, 1, stock.dpi)
        assert {same(code) for code in read(numpy.where(dots < 128, 0, 255).astype("u1"))} == codes


def test_no_stock_refuses_every_code_and_large_ones_take_all():
    """So that the test above can't pass by refusing."""
    taken = {}
    for stock in STOCKS.values():
        taken[stock.key] = 0
        for draw, _codes in KINDS.values():
            try:
                draw(stock, 1)
            except LabelError:
                continue
            taken[stock.key] += 1
    assert min(taken.values()) >= 1, taken
    assert all(taken[key] == len(KINDS) for key in ("letter-2x2", "roll-102x152"))
    assert sum(taken.values()) > len(KINDS) * len(STOCKS) / 2, taken


# Sizes of the symbols, measured on the page


def around(row, middle, widest):
    """The bars around a pixel of a row: first and last dark one, and the clear pixels beside them.

    A gap wider than `widest` ends the symbol."""
    dark = numpy.flatnonzero(row < 128)
    at = int(numpy.searchsorted(dark, middle))
    first = last = min(at, len(dark) - 1)
    while first and dark[first] - dark[first - 1] <= widest:
        first -= 1
    while last + 1 < len(dark) and dark[last + 1] - dark[last] <= widest:
        last += 1
    left = dark[first] - (dark[first - 1] + 1 if first else 0)
    right = (dark[last + 1] if last + 1 < len(dark) else len(row)) - dark[last] - 1
    return int(dark[first]), int(dark[last]), int(left), int(right)


@pytest.mark.parametrize(
    ("key", "kind", "modules", "quiet", "x_mm"),
    [
        # GS1 General Specifications as in GS1 Sweden's guidelines: module .264 to .660 mm; EAN-13 95
        # modules between 11 and 7 clear ones, UPC-A 95 between 9 and 9, EAN-8 67 between 7 and 7.
        (key, kind, *facts)
        for key in ("letter-2x7", "a4-3x6", "letter-2x2", "roll-76x51", "roll-102x152")
        for kind, *facts in (
            ("bag, EAN-13", 95, (11, 7), (0.264, 0.660)),
            ("bag, UPC-A", 95, (9, 9), (0.264, 0.660)),
            ("bag, EAN-8", 67, (7, 7), (0.264, 0.660)),
            # ISO/IEC 15417: ten clear modules on each side (from memory). One letter and digits in pairs:
            # start, P, set C, 26 11 27, set B, -, 0, 1, check, each 11, and the stop's 13.
            ("bag, bars", None, (10, 10), (0.25, 0.50)),
        )
    ],
)
def test_modules_and_quiet_zones_have_their_size_on_paper(key, kind, modules, quiet, x_mm):
    dpi, stock = 1200, STOCKS[key]
    data = KINDS[kind][0](stock, 1)
    [found] = zxingcpp.read_barcodes(pixels(data, stock, 1, 300))
    image = pixels(data, stock, 1, dpi)
    spot = found.position
    middle = (spot.top_left.x + spot.bottom_right.x) * dpi // 300 // 2
    row = image[(spot.top_left.y + spot.bottom_right.y) * dpi // 300 // 2]
    bars = spot.bottom_right.x - spot.top_left.x
    modules = modules or len(labels.symbols.strip_modules(LOT))
    first, last, left, right = around(row, middle, widest=5.5 * bars / modules * dpi / 300)
    x = (last - first + 1) / modules
    assert x_mm[0] - 0.0005 <= x / dpi * 25.4 <= x_mm[1], "module"
    assert left >= quiet[0] * x - 1, "quiet zone at the left"
    assert right >= quiet[1] * x - 1, "quiet zone at the right"
    if stock.dpi:
        dots = x * stock.dpi / dpi
        assert dots == pytest.approx(round(dots), abs=0.02), "whole dots"


# Heights of letters


def lower_case_mm(data):
    """The least height of an "o" on the first page, from the PDF's text boxes."""
    text = pypdfium2.PdfDocument(data)[0].get_textpage()
    boxes = [
        text.get_charbox(i) for i in range(text.count_chars()) if text.get_text_range(i, 1) == "o"
    ]
    return min(top - bottom for _left, bottom, _right, top in boxes) / MM


#: 16 CFR 500.21(b), its bands as in 21 CFR 101.7(i): up to so many square inches, so many inches.
LEGAL = [(5, 1 / 16), (25, 1 / 8), (100, 3 / 16), (400, 1 / 4), (float("inf"), 1 / 2)]
SMALL_COUNT = labels.Look(label_template.Template({"count": 50}))
EDGES = [area + off for area in (5, 25, 100, 400) for off in (-0.01, 0, 0.01)]


@functools.cache
def legal_mm(area):
    return next(inches for most, inches in LEGAL if area <= most + 1e-9) * 25.4


@pytest.mark.parametrize("area", EDGES)
def test_letters_are_as_high_as_the_law_asks_on_each_side_of_each_threshold(area):
    """Set as small as a template may: what is measured is the floor. An "o" rounds over flat letters
    by about 3 %."""
    label = labels.BagLabel("", "", "", "", "oo", "", "", panel_sq_in=area)
    height = lower_case_mm(labels.sheet([label], STOCKS["roll-57x32"], 1, SMALL_COUNT))
    assert legal_mm(area) <= height <= legal_mm(area) * 1.05


@pytest.mark.parametrize("area", EDGES)
def test_a_header_card_counts_as_the_panel_on_each_side_of_each_threshold(area):
    """A card is the panel with its front half: 2.5 in wide and up, folded to the height that gives the area."""
    wide = max(2.5, (area * 1.4) ** 0.5)
    w, h = wide * 25.4, 2 * area / wide * 25.4
    stock = label_stock.Stock("own", "Card", w, h, 1, 1, w, h, 0, 0)
    card = header_card.Card(labels.BagLabel("", "", "", "", "oo", "", ""))
    height = lower_case_mm(header_card.sheet([card], stock, 1, SMALL_COUNT))
    assert legal_mm(area) <= height <= legal_mm(area) * 1.05


# Where the ink lies

_PER_MM = 10  # pixels: 254 dpi


def ink(data):
    image = pypdfium2.PdfDocument(data)[0].render(scale=_PER_MM * 25.4 / 72, grayscale=True)
    return image.to_numpy() < 128


def outside(drawn, stock, right_mm=0.0, down_mm=0.0):
    """What is left of the ink when each cell, with a tenth of a millimeter around it, is cleared."""
    left = drawn.copy()
    for *_place, x, y in label_stock.positions(stock, 1, stock.per_sheet):
        x0, y0 = ((at + off) * _PER_MM for at, off in ((x, right_mm), (y, down_mm)))
        rows = slice(
            max(0, int(y0 - 1)), max(0, int(numpy.ceil(y0 + stock.label_h_mm * _PER_MM + 1)))
        )
        columns = slice(
            max(0, int(x0 - 1)), max(0, int(numpy.ceil(x0 + stock.label_w_mm * _PER_MM + 1)))
        )
        assert left[rows, columns].any(), "every cell has its label"
        left[rows, columns] = False
    return left


@pytest.mark.parametrize("stock", STOCKS.values(), ids=lambda stock: stock.key)
def test_ink_lies_in_its_cell_with_and_without_a_nudge(stock):
    many, nudge = stock.per_sheet, (1.3, -0.7)
    look = labels.Look(right_mm=nudge[0], down_mm=nudge[1])
    still = ink(labels.sheet([BAG] * many, stock))
    moved = ink(labels.sheet([BAG] * many, stock, 1, look))
    assert not outside(still, stock).any()
    assert not outside(moved, stock, *nudge).any()
    for axis, off in ((0, nudge[0]), (1, nudge[1])):
        first, then = (int(numpy.flatnonzero(page.any(axis=axis))[0]) for page in (still, moved))
        assert (then - first) / _PER_MM == pytest.approx(off, abs=0.1)


@pytest.mark.parametrize("key", ["letter-3x10", "a4-2x7", "letter-2x2", "roll-57x32-300"])
@pytest.mark.parametrize("nudge", [(0.0, 0.0), (-1.1, 0.9)])
def test_lids_shelf_labels_and_cards_stay_in_their_cells_too(key, nudge):
    stock = STOCKS[key]
    shift = {"right_mm": nudge[0], "down_mm": nudge[1]}
    for label in (LID, SHELF) if stock.label_w_mm > 60 else (LID,):
        data = plain_label.sheet([label] * stock.per_sheet, stock, **shift)
        assert not outside(ink(data), stock, *nudge).any()
    if key == "letter-2x2":
        card = header_card.Card(BAG, ["Pine Hollow", "Elm Lake, MN"])
        data = header_card.sheet([card] * 4, stock, 1, labels.Look(**shift))
        assert not outside(ink(data), stock, *nudge).any()


# Names as people have them

WORDY = "Long shadow over the quiet water of the northern reed bed in the first cold week"
NAMES = {
    "80 characters": WORDY,
    "80 in one word": "W" * 80,
    "accents": "Crème brûlée à l'œuf, Zażółć, Ünïçödé",
    "Greek": "Λευκό σκουλήκι της λίμνης",
    "Cyrillic": "Белый червь, Щука",
    "Chinese": "青蛙",
    "Devanagari": "मेंढक",
    "Hebrew": "צפרדע",
    "Arabic": "ضفدع",
    "emoji": "Minnow 🐟",
    "empty": "",
}
PRINTED = {"80 characters", "accents", "Greek", "Cyrillic", "empty"}


@pytest.mark.parametrize("key", ["letter-2x5", "roll-102x51", "letter-2x2"])
@pytest.mark.parametrize("name", NAMES)
def test_a_name_is_printed_whole_or_named_in_a_message(name, key):
    stock, text = STOCKS[key], NAMES[name]
    assert name != "80 characters" or len(text) == 80
    front = dataclasses.replace(BAG, color=text)
    lines = [text or "Lid", "Lot B261127-01"]
    draws = {
        "bag": lambda: labels.sheet([front], stock),
        "lid": lambda: plain_label.sheet([plain_label.PlainLabel(lines)], stock),
        "header": lambda: header_card.sheet([header_card.Card(front, [text])], stock),
    }
    for kind, draw in draws.items():
        if kind == "header" and stock.label_h_mm < 60:
            continue
        try:
            data = draw()
        except LabelError as refused:
            assert name not in PRINTED, f"{kind}: {refused}"
            assert text[:8] in str(refused), "says which text it is"
            continue
        assert name in PRINTED or kind == "lid", "a long word is broken on lids alone"
        said = "".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(data)).pages)
        assert "".join(text.split()) in "".join(said.split())
        assert_embedded(data)


def assert_embedded(data):
    for page in pypdf.PdfReader(io.BytesIO(data)).pages:
        for font in page["/Resources"]["/Font"].values():
            assert "/FontFile2" in font.get_object()["/FontDescriptor"], (
                "the font travels with the page"
            )


def test_letters_that_run_from_right_to_left_are_no_letters_we_can_set():
    assert pdf.missing_letters("צפ Grub ضف") == "צפضف"
