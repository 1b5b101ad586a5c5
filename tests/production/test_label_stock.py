"""Label sheets: where labels lie, and sheets that cannot be."""

import dataclasses
import re

import pytest

from production import label_stock

ALL = list(label_stock.STOCKS.values())
THREE_BY_TEN = label_stock.STOCKS["letter-3x10"]


def _by_key(stock):
    return stock.key


@pytest.mark.parametrize("stock", ALL, ids=_by_key)
def test_every_label_lies_on_the_page_and_on_no_other_label(stock):
    corners = [place[3:] for place in label_stock.positions(stock, 1, stock.per_sheet)]
    for x, y in corners:
        assert x >= 0 and x + stock.label_w_mm <= stock.page_w_mm + 0.05
        assert y >= 0 and y + stock.label_h_mm <= stock.page_h_mm + 0.05
    for i, (x, y) in enumerate(corners):
        for other_x, other_y in corners[i + 1 :]:
            apart_x = abs(x - other_x) >= stock.label_w_mm - 0.001
            apart_y = abs(y - other_y) >= stock.label_h_mm - 0.001
            assert apart_x or apart_y


@pytest.mark.parametrize("stock", ALL, ids=_by_key)
def test_layout_is_named_by_its_own_dimensions(stock):
    paper = stock.name.split(",")[0]
    size = {"Letter": (215.9, 279.4), "A4": (210, 297)}  # ANSI/ASME Y14.1, ISO 216
    if paper in size:
        assert (stock.page_w_mm, stock.page_h_mm) == size[paper]
        columns, rows = map(int, re.search(r"(\d+) × (\d+)", stock.name).groups())
        assert (columns, rows) == (stock.columns, stock.rows)
    width, height = map(float, re.search(r"([\d.]+) × ([\d.]+) mm", stock.name).groups())
    assert width == pytest.approx(stock.label_w_mm, abs=0.06)
    assert height == pytest.approx(stock.label_h_mm, abs=0.06)


def test_there_are_layouts_for_both_papers_and_keys_are_unique():
    papers = [stock.name.split(",")[0] for stock in ALL]
    assert papers.count("Letter") >= 6 and papers.count("A4") >= 6
    assert len(label_stock.STOCKS) == len(ALL)


def test_labels_run_left_to_right_then_down_then_to_the_next_sheet():
    places = [p[:3] for p in label_stock.positions(THREE_BY_TEN, 1, 32)]
    assert places[:4] == [(1, 1, 1), (1, 1, 2), (1, 1, 3), (1, 2, 1)]
    assert places[29:] == [(1, 10, 3), (2, 1, 1), (2, 1, 2)]


def test_three_by_ten_inch_sheet_has_its_pitch_of_two_and_three_quarter_inches():
    """Arithmetic: 3 labels of 2 5/8 in, 1/8 in between, 3/16 in at the sides make 8 1/2 in."""
    x = [p[3] / 25.4 for p in label_stock.positions(THREE_BY_TEN, 1, 3)]
    assert x == pytest.approx([0.1875, 2.9375, 5.6875], abs=1e-4)
    assert THREE_BY_TEN.right_mm / 25.4 == pytest.approx(0.1875, abs=1e-4)


def test_part_used_sheet_begins_at_its_first_free_place():
    places = list(label_stock.positions(THREE_BY_TEN, 29, 3))
    assert [p[:3] for p in places] == [(1, 10, 2), (1, 10, 3), (2, 1, 1)]
    fresh = list(label_stock.positions(THREE_BY_TEN, 1, 30))
    assert places[0][3:] == fresh[28][3:]


@pytest.mark.parametrize("start", [0, -1, 31])
def test_start_that_the_sheet_does_not_have_is_refused_at_once(start):
    with pytest.raises(label_stock.LabelError, match=f"places 1 to 30.*place {start}"):
        label_stock.positions(THREE_BY_TEN, start, 1)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"columns": 4}, "do not fit the page across"),
        ({"top_mm": 40.0}, "do not fit the page down"),
        ({"gap_x_mm": -1.0}, "cannot be negative"),
        ({"rows": 0}, "at least one row"),
        ({"label_w_mm": 0.0}, "a width and a height"),
        ({"radius_mm": 13.0}, "corner radius"),
    ],
)
def test_sheet_that_cannot_be_is_refused_with_its_name(change, message):
    with pytest.raises(label_stock.LabelError, match=message) as problem:
        dataclasses.replace(THREE_BY_TEN, **change)
    assert THREE_BY_TEN.name in str(problem.value)


@pytest.mark.parametrize("stock", [s for s in ALL if s.per_sheet > 1], ids=_by_key)
def test_words_stay_off_the_edge_that_office_printers_leave_blank(stock):
    """About 1/6 inch = 4.2 mm: common practice, no source."""
    pad_x, pad_y = stock.padding_mm
    assert min(stock.left_mm, stock.right_mm) + pad_x >= 4.2
    assert min(stock.top_mm, stock.bottom_mm) + pad_y >= 4.2
