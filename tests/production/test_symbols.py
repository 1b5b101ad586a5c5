"""Lot codes as bars and addresses as QR codes, read back from the page by an independent reader."""

import io

import pypdfium2
import pytest
import zxingcpp
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory import pdf
from production import barcodes, label_stock, labels, symbols

DOT_203 = 25.4 / 203


def page(draw, width_mm=90.0, height_mm=60.0):
    out = io.BytesIO()
    canvas = pdf.canvas(out, (width_mm * pdf.MM, height_mm * pdf.MM), "Codes")
    draw(canvas)
    canvas.showPage()
    canvas.save()
    return out.getvalue()


def read(data, dpi, *, black_and_white=False):
    image = pypdfium2.PdfDocument(data)[0].render(scale=dpi / 72, grayscale=True).to_pil()
    if black_and_white:
        image = image.point(lambda v: 255 * (v >= 128))
    return [(found.text, str(found.format)) for found in zxingcpp.read_barcodes(image)]


def test_a_lot_code_is_read_as_code_128():
    symbol = symbols.strip("P261127-01", 60, 8)
    data = page(lambda canvas: symbols.draw_strip(canvas, symbol, 20, 20))
    [(text, kind)] = read(data, 300)
    assert (text, kind.replace(" ", "")) == ("P261127-01", "Code128")


@pytest.mark.parametrize("dpi", [203, 300])
def test_a_lot_code_is_read_from_a_thermal_printer_in_black_and_white(dpi):
    symbol = symbols.strip("P261127-01", 70, 8, dpi)
    assert symbol.module_mm * dpi / 25.4 == pytest.approx(round(symbol.module_mm * dpi / 25.4))
    dot = 72 / dpi
    data = page(lambda canvas: symbols.draw_strip(canvas, symbol, 20 * dot, 20 * dot))
    assert read(data, dpi, black_and_white=True) == read(data, 300)
    assert read(data, dpi, black_and_white=True)[0][0] == "P261127-01"


@pytest.mark.parametrize(("dpi", "bw"), [(300, False), (203, True)])
def test_an_address_is_read_as_a_qr_code(dpi, bw):
    address = "http://192.168.1.20:8000/shelf/lots/4711/"
    symbol = symbols.square(address, 30, dpi if bw else None)
    dot = 72 / dpi
    data = page(lambda canvas: symbols.draw_square(canvas, symbol, 10 * dot, 10 * dot))
    assert [text for text, _ in read(data, dpi, black_and_white=bw)] == [address]


@settings(max_examples=25)
@given(st.text(st.characters(min_codepoint=32, max_codepoint=126), min_size=1, max_size=16))
def test_whatever_is_encoded_is_read_back(text):
    symbol = symbols.strip(text, 150, 10)
    data = page(lambda canvas: symbols.draw_strip(canvas, symbol, 5, 5), width_mm=160)
    # of very short texts the reader also takes a part for a code of its own
    assert text in [found for found, _ in read(data, 300)]


def test_the_quiet_zones_are_clear_on_the_page():
    symbol = symbols.strip("P261127-01", 60, 8)
    data = page(lambda canvas: symbols.draw_strip(canvas, symbol, 0, 20))
    image = pypdfium2.PdfDocument(data)[0].render(scale=1200 / 72, grayscale=True).to_pil()
    left, _top, right, _bottom = image.point(lambda v: 255 * (v < 128)).getbbox()
    module = symbol.module_mm / 25.4 * 1200
    # ISO/IEC 15417: at least ten modules on each side (from memory; GS1 Sweden gives 10 X for GS1-128)
    assert left == pytest.approx(10 * module, abs=1)
    assert symbol.width_mm / 25.4 * 1200 - right == pytest.approx(10 * module, abs=1)


def test_what_has_no_bars_is_refused_by_name():
    with pytest.raises(ValueError, match="“Łódź”"):
        symbols.strip("Łódź", 60, 8)


def test_a_code_too_wide_for_its_space_is_left_out():
    assert symbols.strip("P261127-01", 20, 8) is None
    assert symbols.square("http://192.168.1.20:8000/shelf/lots/4711/", 8) is None


def test_a_module_of_a_retail_code_is_whole_dots_of_a_thermal_printer():
    """GS1: 80 % is .264 mm. At 203 dpi two dots are .250 mm (75.8 %), three .375 mm (113.7 %);
    at 300 dpi three are .254 mm (77.0 %), four .339 mm (102.6 %)."""
    high, low = barcodes.sizes("614141210220", 90, 60, 203)
    assert high.module_mm == low.module_mm == pytest.approx(3 * DOT_203)
    assert high.bars_mm == pytest.approx(22.85 * 3 * DOT_203 / 0.330)
    assert low.bars_mm == 18.28
    for size in barcodes.sizes("614141210220", 90, 60, 300):
        assert size.module_mm == pytest.approx(4 * 25.4 / 300)
    assert [s.low for s in barcodes.sizes("614141210220", 90, 25, 203)] == [True]
    # 113 modules of three dots are 42.4 mm
    assert barcodes.sizes("614141210220", 42, 60, 203) == []
    assert barcodes.smallest("614141210220", 203).width_mm == pytest.approx(113 * 3 * DOT_203)


@pytest.mark.parametrize("key", [key for key, stock in label_stock.STOCKS.items() if stock.dpi])
@pytest.mark.parametrize("code", ["614141210220", "6291041500213", "96385074"])
def test_a_retail_code_is_read_from_a_thermal_printer_or_refused_with_its_size(key, code):
    stock = label_stock.STOCKS[key]
    label = labels.BagLabel("Pine Hollow", "Grub", "4 in", "Tin", "8 baits", "26-0147", "", code)
    try:
        data = labels.sheet([label], stock)
    except labels.LabelError as refused:
        assert "barcode" in str(refused)
        assert stock.label_w_mm < 80
        return
    found = [text for text, _ in read(data, stock.dpi, black_and_white=True)]
    assert found == [("0" if len(code) == 12 else "") + code]
