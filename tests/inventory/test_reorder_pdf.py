"""The printed reorder list, read back as text."""

import dataclasses
import io

import pypdf
import pypdfium2
import pytest

from inventory import pdf, reorder_pdf

PLASTISOL = reorder_pdf.Line(
    "Plastisol, medium", "1.4 gal", "2 gal", "5 gal", "1 × 5 gal pail", "$189.00", "$189.00"
)
UNPRICED = reorder_pdf.Line(
    "Łąka green & <b>gold", "0.8 fl oz", "1 fl oz", "4 fl oz", "2 × 2 fl oz"
)
LAKESIDE = reorder_pdf.Supplier(
    "Lakeside Resin Supply", (PLASTISOL, UNPRICED), "Order minimum $75.00", "$189.00 + unknown"
)
LIST = reorder_pdf.ReorderList(
    "Pine Hollow Baits", "2026-11-25", (LAKESIDE,), total="$189.00 + unknown"
)


def _pages(data):
    return [
        " ".join(page.extract_text().split()) for page in pypdf.PdfReader(io.BytesIO(data)).pages
    ]


def _long(count):
    lines = tuple(dataclasses.replace(PLASTISOL, item=f"Rattle no. {n}.") for n in range(count))
    return dataclasses.replace(
        LIST, suppliers=(LAKESIDE, reorder_pdf.Supplier("Clink & Daughters", lines, total="$9.00"))
    )


def test_list_says_what_is_low_and_what_to_buy_from_whom():
    (text,) = _pages(reorder_pdf.draw(LIST))
    for words in ("Reorder list 2026-11-25", "Pine Hollow Baits", "Lakeside Resin Supply"):
        assert words in text
    assert "Plastisol, medium 1.4 gal 2 gal 5 gal 1 × 5 gal pail" in text
    assert "Łąka green & <b>gold" in text


def test_helper_without_cost_rights_sees_no_money():
    priced = dataclasses.replace(LAKESIDE, contact="Ask for Bay 3")
    (text,) = _pages(reorder_pdf.draw(dataclasses.replace(LIST, suppliers=(priced,))))
    for word in ("$", "Price", "Sum", "Together", "All suppliers", "unknown"):
        assert word not in text


def test_owner_sees_price_sum_and_totals():
    (text,) = _pages(reorder_pdf.draw(LIST, with_costs=True))
    assert "Price Sum" in text
    assert "pail $189.00 $189.00" in text
    assert "Together: $189.00 + unknown" in text
    assert "All suppliers: $189.00 + unknown" in text


def test_unknown_price_stays_unknown_and_is_never_left_blank():
    (text,) = _pages(reorder_pdf.draw(LIST, with_costs=True))
    assert "2 × 2 fl oz unknown unknown" in text


def test_long_list_repeats_supplier_and_headings_and_counts_its_pages():
    pages = _pages(reorder_pdf.draw(_long(90), with_costs=True))
    assert len(pages) >= 3
    for number, text in enumerate(pages, 1):
        assert f"Page {number} of {len(pages)}" in text
        assert "Clink & Daughters" in text and "On hand" in text
    joined = " ".join(pages)
    assert all(joined.count(f"Rattle no. {n}. ") == 1 for n in range(90))


@pytest.mark.parametrize("count", range(13, 60))
def test_total_never_stands_alone_on_a_page(count):
    last = _pages(reorder_pdf.draw(_long(count), with_costs=True))[-1]
    if "Together: $9.00" in last:
        assert "Rattle no." in last


def test_supplier_with_nothing_to_buy_is_left_out_and_an_empty_list_says_so():
    idle = reorder_pdf.Supplier("Idle Supply", ())
    assert (
        "Idle"
        not in _pages(reorder_pdf.draw(dataclasses.replace(LIST, suppliers=(LAKESIDE, idle))))[0]
    )
    assert (
        "Nothing is low"
        in _pages(reorder_pdf.draw(dataclasses.replace(LIST, suppliers=(idle,))))[0]
    )


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_long_words_stay_in_their_cells_on_the_page(paper):
    wide = dataclasses.replace(PLASTISOL, item="W" * 120, packs="9 × " + "M" * 40)
    supplier = reorder_pdf.Supplier("S" * 200, (wide,), "c" * 300)
    data = reorder_pdf.draw(dataclasses.replace(LIST, suppliers=(supplier,), paper=paper))
    page = pypdfium2.PdfDocument(data)[0]
    assert page.get_size() == pytest.approx(pdf.PAGES[paper], abs=0.01)
    text = page.get_textpage()
    for i in range(text.count_chars()):
        left, _bottom, right, _top = text.get_charbox(i)
        assert left >= 30 and right <= page.get_width() - 30


def test_same_list_gives_the_same_bytes():
    assert reorder_pdf.draw(LIST, with_costs=True) == reorder_pdf.draw(LIST, with_costs=True)


def test_unknown_paper_is_refused():
    with pytest.raises(reorder_pdf.ReorderPdfError, match="letter or a4"):
        reorder_pdf.draw(dataclasses.replace(LIST, paper="napkin"))


# What the printed pages share


def test_shipped_fonts_draw_the_letters_and_fractions_of_the_trade():
    text = "Zażółć gęślą jaźń, Ünïçödé, Дощ, ½ ¼ ¾ ⅛ ⅝ × · ° ≈ — “” №"
    assert pdf.missing_letters(text, pdf.BODY) == pdf.missing_letters(text, pdf.BOLD) == ""
    assert pdf.missing_letters("aa 🐟魚魚") == "🐟魚"


def test_cleaned_text_is_one_composed_line():
    assert pdf.clean(" Ło\u0301dz\u0301\r\n\t two\x07 ") == "Łódź two"
    assert pdf.escape("a < b & c") == "a &lt; b &amp; c"


def test_wrapped_lines_are_no_wider_than_asked_and_lose_no_word():
    text = "the quick brown pike jumps over the lazy perch"
    lines = pdf.wrap(text, pdf.BODY, 10, 80)
    assert " ".join(lines) == text and len(lines) > 2
    assert all(pdf.width(line, pdf.BODY, 10) <= 80 for line in lines)
    broken = pdf.wrap("W" * 30, pdf.BODY, 10, 80, break_words=True)
    assert "".join(broken) == "W" * 30
    assert all(pdf.width(line, pdf.BODY, 10) <= 80 for line in broken)


def test_figure_and_unit_are_tied_on_one_line():
    assert pdf.wrap(pdf.tie("worm 4 in"), pdf.BODY, 10, pdf.width("worm 4", pdf.BODY, 10)) == [
        "worm",
        "4 in",
    ]
