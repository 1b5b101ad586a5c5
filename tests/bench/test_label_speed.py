"""Labels are set as fast as a bare script draws the same strings and codes, and a large job ends."""

import dataclasses
import io
import time

import pytest
from reportlab.graphics import renderPDF
from reportlab.graphics.barcode.eanbc import Ean13BarcodeWidget
from reportlab.graphics.shapes import Drawing
from reportlab.pdfgen.canvas import Canvas

from inventory import pdf
from production import label_stock, labels

pytestmark = pytest.mark.bench
STOCK = label_stock.STOCKS["letter-2x5"]
PLAIN = labels.BagLabel(
    shop="Pine Hollow Baits",
    bait="Marsh Crawler",
    length="4 in",
    color="Rusty Lantern",
    count_text="8 baits",
    lot="P261127-01",
    date="2026-11-27",
    barcode="6291041500213",
    place="Elm Lake, MN 55999",
)
#: 3,000 labels of 100 lots, 30 bags each.
MANY = [dataclasses.replace(PLAIN, lot=f"P2611{n // 30:02d}-01") for n in range(3000)]
MOST_TIMES = 1.5


def bare(wanted) -> bytes:
    """The same strings at the same sizes and the same code, by the library's own widget."""
    pdf.register_fonts()
    out = io.BytesIO()
    canvas = Canvas(out, (STOCK.page_w_mm * pdf.MM, STOCK.page_h_mm * pdf.MM), invariant=1)
    design = labels.design(PLAIN, STOCK, labels.USUAL)
    page_now = 1
    for label, (page, _row, _column, x_mm, y_mm) in zip(
        wanted, label_stock.positions(STOCK, 1, len(wanted)), strict=True
    ):
        if page != page_now:
            canvas.showPage()
            page_now = page
        x, y = x_mm * pdf.MM, (STOCK.page_h_mm - y_mm - STOCK.label_h_mm) * pdf.MM
        for line in design.lines:
            canvas.setFont(line.font, line.size)
            canvas.drawString(x + line.x, y + line.y, line.text.replace(PLAIN.lot, label.lot))
        code = Ean13BarcodeWidget(label.barcode)
        drawing = Drawing(120, 80)
        drawing.add(code)
        renderPDF.draw(drawing, canvas, x + design.symbol_x, y + design.symbol_y)
    canvas.save()
    return out.getvalue()


def timed(work) -> float:
    start = time.process_time()
    work()
    return time.process_time() - start


def test_three_thousand_labels_take_little_longer_than_a_bare_script(capsys):
    bare(MANY[:30])
    labels.sheet(MANY[:30], STOCK)
    plain, ours = timed(lambda: bare(MANY)), timed(lambda: labels.sheet(MANY, STOCK))
    with capsys.disabled():
        print(f"\n3,000 labels: {ours:.2f} s, bare script {plain:.2f} s, ratio {ours / plain:.2f}")
    assert ours <= MOST_TIMES * plain


def test_ten_thousand_labels_are_one_job(capsys):
    many = (MANY * 4)[:10_000]
    start = time.process_time()
    data = labels.sheet(many, STOCK)
    with capsys.disabled():
        print(f"\n10,000 labels: {time.process_time() - start:.2f} s, {len(data) / 1e6:.1f} MB")
    assert data.startswith(b"%PDF")
