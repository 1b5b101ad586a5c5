"""Bag labels, read back from the printed page: by eye (pixels), by scanner and as text."""

import dataclasses
import io

import pypdf
import pypdfium2
import pytest
import zxingcpp
from hypothesis import given, settings
from hypothesis import strategies as st

from production import label_layout, label_stock, labels

STOCKS = label_stock.STOCKS
PT = 72 / 25.4
PLAIN = labels.BagLabel(
    shop="Pine Hollow Baits",
    bait="Marsh Crawler",
    length="4 in",
    color="Rusty Lantern",
    count_text="8 baits",
    lot="26-0147",
    date="2026-11-25",
    place="Elm Lake, MN 55999",
)
BLANK = labels.BagLabel("", "", "", "", "", "", "")
CODES = {"upc": "614141210220", "ean13": "6291041500213", "ean8": "96385074"}


def _changed(**changes):
    return dataclasses.replace(PLAIN, **changes)


def _single(width_mm, height_mm):
    return label_stock.Stock(
        "own", "Own label", width_mm, height_mm, 1, 1, width_mm, height_mm, 0, 0
    )


def _text(data):
    return " ".join(
        " ".join(p.extract_text().split()) for p in pypdf.PdfReader(io.BytesIO(data)).pages
    )


def _letters(data, page=0):
    """(character, its ink's box in points: left, bottom, right, top)."""
    text = pypdfium2.PdfDocument(data)[page].get_textpage()
    found = [(text.get_text_range(i, 1), text.get_charbox(i)) for i in range(text.count_chars())]
    return [(char, box) for char, box in found if char.strip()]


def _bars(data):
    """Boxes of the black rectangles, in points, from left to right."""
    page = pypdfium2.PdfDocument(data)[0]
    return sorted(obj.get_bounds() for obj in page.get_objects(filter=[2]))


def _ink_height_mm(data, dpi=1200):
    image = pypdfium2.PdfDocument(data)[0].render(scale=dpi / 72, grayscale=True).to_pil()
    _left, top, _right, bottom = image.point(lambda v: 255 * (v < 128)).getbbox()
    return (bottom - top) / dpi * 25.4


def _scanned(data, page=0):
    image = pypdfium2.PdfDocument(data)[page].render(scale=300 / 72).to_pil()
    return sorted(found.text for found in zxingcpp.read_barcodes(image))


# What the buyer reads


def test_label_says_what_how_many_who_where_and_which_lot():
    text = _text(labels.sheet([PLAIN], STOCKS["letter-3x10"]))
    for words in ("Marsh Crawler · 4 in", "Rusty Lantern", "8 baits", "Pine Hollow Baits"):
        assert words in text
    assert "Elm Lake, MN 55999" in text
    assert "Lot 26-0147 · 2026-11-25" in text


def test_color_is_the_largest_word_and_the_lot_the_smallest():
    boxes = _letters(labels.sheet([PLAIN], STOCKS["letter-2x5"]))
    line = "".join(char for char, _box in boxes)

    def height(words, letter):
        _left, bottom, _right, top = boxes[line.index(words) + words.index(letter)][1]
        return top - bottom

    color = height("RustyLantern", "a")
    assert color > 1.3 * height("MarshCrawler", "a")
    assert color > 1.3 * height("8baits", "a")
    assert height("8baits", "t") > 1.3 * height("Lot26", "t")


def test_letters_of_other_languages_and_markup_are_printed_as_they_are():
    label = _changed(shop="Zażółć Łódź", color="Smoke & <b>Plum", length="3½ in", note="Ünïçödé №")
    text = _text(labels.sheet([label], STOCKS["letter-2x5"]))
    for words in ("Zażółć Łódź", "Smoke & <b>Plum", "3½ in", "Ünïçödé №"):
        assert words in text


def test_character_that_the_font_lacks_is_named_not_printed_as_a_box():
    with pytest.raises(labels.LabelError, match="cannot be printed: 🐟"):
        labels.sheet([_changed(color="Minnow 🐟")], STOCKS["letter-3x10"])


def test_line_breaks_and_tabs_in_a_name_become_spaces():
    text = _text(labels.sheet([_changed(color="Rusty\r\n\tLantern")], STOCKS["letter-3x10"]))
    assert "Rusty Lantern" in text


def test_same_labels_give_the_same_bytes():
    made = [labels.sheet([_changed(barcode=CODES["upc"])] * 3, STOCKS["a4-3x7"]) for _ in "ab"]
    assert made[0] == made[1]


# Sheets


def test_part_used_sheet_leaves_its_used_places_blank():
    data = labels.sheet([PLAIN] * 3, STOCKS["letter-3x10"], start=29)
    assert len(pypdfium2.PdfDocument(data)) == 2
    first = _letters(data)
    # Tenth row: between 1/2 and 1 1/2 inch from the foot of the page.
    assert min(box[1] for _char, box in first) >= 0.5 * 72
    assert max(box[3] for _char, box in first) <= 1.5 * 72
    assert min(box[0] for _char, box in first) >= 2.9375 * 72
    assert all(box[2] <= 2.8125 * 72 for _char, box in _letters(data, page=1))


def test_wrong_start_and_an_empty_job_are_refused():
    with pytest.raises(labels.LabelError, match="places 1 to 30"):
        labels.sheet([PLAIN], STOCKS["letter-3x10"], start=31)
    with pytest.raises(labels.LabelError, match="no labels"):
        labels.sheet([], STOCKS["letter-3x10"])


def test_alignment_page_numbers_every_place_of_the_sheet():
    numbers = _text(labels.alignment_page(STOCKS["a4-3x8"])).split()
    assert numbers == [str(n) for n in range(1, 25)]


@pytest.mark.parametrize("stock", STOCKS.values(), ids=lambda s: s.key)
def test_short_label_fits_every_stock_and_stays_inside_it(stock):
    label = _changed(place="", color="Tin")
    data = labels.sheet([label] * stock.per_sheet, stock)
    _assert_inside(data, stock)
    assert _text(data).count("Tin") == stock.per_sheet


def _assert_inside(data, stock):
    rects = [
        (x * PT, (stock.page_h_mm - y - stock.label_h_mm) * PT)
        for *_place, x, y in label_stock.positions(stock, 1, stock.per_sheet)
    ]
    width, height = stock.label_w_mm * PT, stock.label_h_mm * PT
    for _char, (left, bottom, right, top) in _letters(data):
        assert any(
            x <= left and right <= x + width and y <= bottom and top <= y + height for x, y in rects
        )


# Fitting


def _color_height(color, stock):
    letters = [
        b for _c, b in _letters(labels.sheet([dataclasses.replace(BLANK, color=color)], stock))
    ]
    return letters[0][3] - letters[0][1], len({round(bottom) for _l, bottom, _r, _t in letters})


def test_longer_color_is_set_smaller_before_it_is_broken_over_two_lines():
    narrow = _single(60, 14)
    short, lines_short = _color_height("Moss", narrow)
    longer, lines_longer = _color_height("Moss on a crow", narrow)
    assert lines_short == 1 and lines_longer == 1
    assert longer < short


def test_color_too_long_for_one_readable_line_is_wrapped():
    text = "mmmmmmmm mmmmmmmm mmmmmmmm"
    _height, lines = _color_height(text, _single(60, 20))
    assert lines > 1


def test_word_wider_than_the_label_is_refused_by_name():
    word = "Moonlight" * 9
    with pytest.raises(labels.LabelError, match=f"“{word}” does not fit.*Shorten"):
        labels.sheet([_changed(color=word)], STOCKS["letter-3x10"])


def test_refusal_says_which_label_of_the_job_it_is():
    jobs = [PLAIN, _changed(bait="Ribbon Newt", color="Long " * 60)]
    with pytest.raises(labels.LabelError, match="Label for Ribbon Newt 4 in Long"):
        labels.sheet(jobs, STOCKS["letter-3x10"])


def test_small_print_that_needs_more_height_than_there_is_is_refused():
    with pytest.raises(labels.LabelError, match="too many words|does not fit"):
        labels.sheet([_changed(note="Keep from heat. " * 40)], STOCKS["letter-3x10"])


WORDS = st.text("aeimnorstWMÅłg ·&", max_size=60)


@settings(max_examples=60, deadline=None)
@given(
    label=st.builds(
        labels.BagLabel,
        shop=WORDS,
        bait=WORDS,
        length=st.sampled_from(["", "4 in", "3½ in (89 mm)"]),
        color=WORDS,
        count_text=st.sampled_from(["", "8 baits", "1 dozen baits"]),
        lot=st.sampled_from(["", "26-0147"]),
        date=st.sampled_from(["", "2026-11-25"]),
        barcode=st.sampled_from([None, *CODES.values()]),
        place=WORDS,
        note=WORDS,
    ),
    stock=st.sampled_from([STOCKS[key] for key in ("letter-3x10", "a4-3x7", "roll-76x51")]),
)
def test_any_words_fit_inside_the_label_or_are_refused(label, stock):
    try:
        data = labels.sheet([label], stock)
    except labels.LabelError:
        return
    _assert_inside(data, stock)
    _assert_nothing_overprints(data)


def _assert_nothing_overprints(data):
    """No letter stands on a bar, except between the guard bars' tails where the figures belong."""
    bars = _bars(data)
    if not bars:
        return
    foot = max(bottom for _l, bottom, _r, _t in bars)
    left, right = bars[0][0], bars[-1][2]
    top = bars[0][3]
    for char, box in _letters(data):
        beside = box[2] <= left or box[0] >= right
        above_or_below = box[1] >= top or box[3] <= foot
        assert beside or above_or_below, char


# The net quantity: 16 CFR 500.21 and the state rules that follow the UPLR


@pytest.mark.parametrize(
    ("panel", "sixteenths"),
    [
        # Worked panels: a 2 x 2.5 in card, a jar 4 in high and 10 in round (40 % of 40 sq in),
        # bags of 4 x 6, 5 x 5 and 5 x 7 in. Bands: 21 CFR 101.7(i), the same as 16 CFR 500.21(b).
        (2 * 2.5, 1),
        (0.4 * 4 * 10, 2),
        (4 * 6, 2),
        (5 * 5, 2),
        (5 * 7, 3),
        (100, 3),
        (101, 4),
        (400, 4),
        (401, 8),
    ],
)
def test_type_height_follows_the_area_of_the_panel(panel, sixteenths):
    assert labels.type_height_mm(panel) == pytest.approx(sixteenths * 25.4 / 16)


@pytest.mark.parametrize("panel", [4, 24, 35, 150])
def test_lower_case_o_of_the_count_is_as_high_on_paper_as_the_panel_asks(panel):
    """Height is measured on the lower-case "o" (21 CFR 101.7(h)(2)); here in pixels at 1200 dpi."""
    label = dataclasses.replace(BLANK, count_text="o", panel_sq_in=panel)
    height = _ink_height_mm(labels.sheet([label], STOCKS["roll-57x32"]))
    assert height >= labels.type_height_mm(panel)


def test_label_itself_sets_the_height_when_the_bag_is_not_known():
    """4 x 2 in is 8 sq in: 1/8 inch."""
    label = dataclasses.replace(PLAIN, count_text="oo", color="Long color name " * 4)
    boxes = _letters(labels.sheet([label], STOCKS["letter-2x5"]))
    heights = [
        box[3] - box[1]
        for (char, box), after in zip(boxes, boxes[1:], strict=False)
        if char + after[0] == "oo"
    ]
    assert min(heights) / 72 >= 1 / 8


def test_buyers_words_are_never_smaller_than_a_sixteenth_inch():
    """16 CFR 500.21(b)(1): the least height is 1/16 inch, measured on the lower-case "o"."""
    label = dataclasses.replace(BLANK, bait="o" * 30)
    assert _ink_height_mm(labels.sheet([label], _single(62, 12))) >= 25.4 / 16
    with pytest.raises(labels.LabelError):
        labels.sheet([dataclasses.replace(BLANK, bait="o" * 45)], _single(62, 12))


@pytest.mark.parametrize(
    "stock",
    [*(STOCKS[key] for key in ("letter-3x10", "a4-3x7", "letter-2x5", "a4-3x8")), _single(51, 51)],
    ids=lambda stock: stock.key,
)
@pytest.mark.parametrize("code", [None, *CODES])
def test_space_around_the_count_is_free_of_other_print(stock, code):
    """UPLR pattern (American Samoa rule 27.0643): above and below the height of the lettering,
    left and right twice the width of its letter N. The counted word is written "NNN"."""
    label = _changed(count_text="NNN", bait="Grub", barcode=CODES.get(code))
    data = labels.sheet([label], stock)
    boxes = _letters(data)
    line = "".join(char for char, _box in boxes)
    at = line.index("NNN")
    count = [box for _char, box in boxes[at : at + 3]]
    height = count[0][3] - count[0][1]
    wide = 2 * (count[0][2] - count[0][0])
    left, right = count[0][0] - wide, count[2][2] + wide
    others = [box for _char, box in boxes[:at] + boxes[at + 3 :]]
    for box in [*others, *_bars(data)]:
        clear_above = box[1] >= count[0][3] + height * 0.99
        clear_below = box[3] <= count[0][1] - height * 0.99
        assert clear_above or clear_below or box[2] <= left or box[0] >= right


def test_count_is_never_parted_from_its_word():
    label = _changed(barcode=CODES["ean8"], count_text="20 baits", color="Tin")
    lines = pypdf.PdfReader(io.BytesIO(labels.sheet([label], _single(51, 51)))).pages[0]
    assert any("20 baits" in line for line in lines.extract_text().splitlines())


# Barcodes


@pytest.mark.parametrize(
    "key", ["letter-3x10", "a4-3x7", "a4-3x6", "letter-2x5", "roll-76x51", "roll-76x51-300"]
)
@pytest.mark.parametrize("code", CODES)
def test_scanner_reads_the_number_back_at_300_dpi(key, code):
    number = CODES[code]
    data = labels.sheet([_changed(barcode=number, color="Tin")], STOCKS[key])
    # ISO/IEC 15420: a UPC-A symbol is the EAN-13 symbol of the number with a leading zero.
    assert _scanned(data) in ([number], [number.zfill(13)])


def test_every_label_of_a_full_sheet_scans():
    stock = STOCKS["letter-3x10"]
    data = labels.sheet([_changed(barcode=CODES["upc"])] * 30, stock)
    dots = 300 / 25.4
    page = pypdfium2.PdfDocument(data)[0].render(scale=300 / 72).to_pil()
    for *_place, x, y in label_stock.positions(stock, 1, 30):
        corners = (x, y, x + stock.label_w_mm, y + stock.label_h_mm)
        label = page.crop([round(corner * dots) for corner in corners])
        assert [found.text for found in zxingcpp.read_barcodes(label)] == ["0" + CODES["upc"]]


@pytest.mark.parametrize(
    "key", ["letter-3x10", "a4-3x7", "letter-2x5", "roll-76x51", "roll-76x51-300"]
)
@pytest.mark.parametrize(
    # Modules, quiet zones and least bar heights: GS1 Sweden, "Guidelines for size".
    ("code", "quiet", "modules", "least_height"),
    [("ean13", (11, 7), 95, 18.28), ("upc", (9, 9), 95, 18.28), ("ean8", (7, 7), 67, 14.58)],
)
def test_bars_keep_the_limits_of_the_barcode_standard(key, code, quiet, modules, least_height):
    stock = STOCKS[key]
    data = labels.sheet([_changed(barcode=CODES[code], color="Tin", bait="Grub")], stock)
    bars = _bars(data)
    left, right = bars[0][0], bars[-1][2]
    module = (right - left) / modules
    assert 0.2639 <= module / PT <= 0.660
    foot = max(bottom for _l, bottom, _r, _t in bars)
    assert (bars[0][3] - foot) / PT >= least_height - 0.01
    clear = (left - quiet[0] * module, right + quiet[1] * module)
    assert clear[0] >= stock.left_mm * PT
    assert clear[1] <= (stock.left_mm + stock.label_w_mm) * PT
    for _char, box in _letters(data):
        if box[1] < bars[0][3] and box[3] > foot:
            assert box[2] <= clear[0] + 0.01 or box[0] >= clear[1] - 0.01


def test_smallest_barcode_fits_its_exact_space_and_no_less():
    """113 modules of 0.264 mm are 29.83 mm (GS1 Ireland, EAN 13 symbol at 80 %)."""
    alone = dataclasses.replace(BLANK, barcode=CODES["ean13"])
    edges = 2 * label_stock.EDGE_MM
    assert _scanned(labels.sheet([alone], _single(29.84 + edges, 25))) == [CODES["ean13"]]
    with pytest.raises(labels.LabelError, match=r"at least 29\.8 × 20\.7 mm"):
        labels.sheet([alone], _single(29.7 + edges, 25))


def test_barcode_on_a_label_that_is_too_low_is_refused_with_the_size_it_needs():
    with pytest.raises(labels.LabelError, match=r"29\.8 × 20\.7 mm .* 34\.9 × 18\.0 mm"):
        labels.sheet([_changed(barcode=CODES["upc"])], STOCKS["a4-5x13"])


@pytest.mark.parametrize(
    ("number", "message"),
    [
        ("614141210221", "should be 0"),  # GS1 US check-digit page: 614141210220
        ("6141412", "8, 12, 13"),
        ("12345678901231", "14 digits"),
        ("61414121022O", "digits"),
    ],
)
def test_number_that_is_no_retail_barcode_is_refused(number, message):
    with pytest.raises(labels.LabelError, match=message):
        labels.sheet([_changed(barcode=number)], STOCKS["letter-2x5"])


def test_type_size_is_computed_from_the_fonts_own_outlines():
    """DejaVu Sans: flat lower case is 1120 of 2048 units high (read from the font file)."""
    assert label_layout.size_for_height(25.4) == pytest.approx(72 * 2048 / 1120)
