"""The label on a leftover's lid says what is in it, wherever it stands in a month."""

import io

import pypdf
import pypdfium2
import pytest
import zxingcpp
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from inventory import pdf
from production import label_stock, plain_label
from production.services import batches, leftovers
from tests import factories
from tests.factories import key, micro

WORDS = st.text(st.characters(codec="latin-1", exclude_categories=["Cc"]), max_size=120)
STOCK = label_stock.STOCKS["letter-3x10"]


@given(st.lists(WORDS.filter(str.strip), min_size=1, max_size=14))
def test_nothing_is_wider_or_higher_than_the_label(lines):
    label = plain_label.PlainLabel(lines, bars="B261125-01", few=True)
    placed = plain_label.plan(label, STOCK)
    pad_x, pad_y = (side * pdf.MM for side in STOCK.padding_mm)
    for line in placed.lines:
        assert (
            pdf.width(line.text, line.font, line.size)
            <= STOCK.label_w_mm * pdf.MM - 2 * pad_x + 0.02
        )
        assert line.y >= pad_y + placed.strip.bars_mm * pdf.MM
        assert line.y + line.size * pdf.ASCENT <= STOCK.label_h_mm * pdf.MM - pad_y + 0.02


def text_of(answer) -> str:
    return pypdf.PdfReader(io.BytesIO(answer.content)).pages[0].extract_text()


@pytest.fixture
def puck(shop):
    base = factories.make_plastisol()
    dye = factories.make_item("colorant", "Plum dye", color="#5a2a6a")
    factories.make_lot(base, 500, 10)
    factories.make_lot(dye, 30, 10)
    version = factories.make_recipe("Night Ferry", grade=base, doses={dye: 1})
    parts = [batches.Part(base, micro(100)), batches.Part(dye, micro(1))]
    batch = batches.mix(
        key=key(), pour=factories.make_pour(), version=version, parts=parts, by=None
    ).batch
    leftovers.settle(key=key(), batch=batch, measured=micro(60), then=leftovers.PUCK, by=None)
    return batch.lot


def printed(client, kind, lot, sheet="letter-2x4"):
    data = {"kind": kind, f"lot_{lot.pk}": "1", "look": f"sheet:{sheet}", "start": "1"}
    page = client.post(reverse("production:labels"), data, follow=True)
    return client.get(reverse("production:label_job_pdf", args=[page.context["job"].pk]))


@pytest.mark.django_db
def test_the_lid_names_color_lot_base_melts_and_what_is_in_it(helper_client, puck):
    text = text_of(printed(helper_client, "lid", puck))
    for word in ("Night Ferry", puck.number, "60 mL of base", "melt 1", "0.6 mL Plum dye"):
        assert word in text


@pytest.mark.django_db
def test_a_phone_reads_the_way_to_the_leftovers_page(helper_client, shop, puck):
    shop.server_address = "http://192.168.1.20:8000"
    shop.save()
    answer = printed(helper_client, "lid", puck)
    image = pypdfium2.PdfDocument(answer.content)[0].render(scale=300 / 72).to_pil()
    [code] = zxingcpp.read_barcodes(image)
    assert code.text == f"http://192.168.1.20:8000{reverse('inventory:lot', args=[puck.pk])}"


@pytest.mark.django_db
def test_a_bottle_gets_a_shelf_label_with_its_lot_as_bars(helper_client, puck):
    bottle = puck.item.lots.model.objects.filter(form="pack", item__kind="colorant").get()
    answer = printed(helper_client, "shelf", bottle)
    assert "Plum dye" in text_of(answer)
    image = pypdfium2.PdfDocument(answer.content)[0].render(scale=300 / 72).to_pil()
    assert [code.text for code in zxingcpp.read_barcodes(image)] == [bottle.number]


@pytest.mark.django_db
def test_a_bottle_has_no_lid_label(owner_client, puck):
    bottle = puck.item.lots.model.objects.filter(form="pack").first()
    page = owner_client.get(reverse("production:labels"), {"kind": "lid", "lot": bottle.pk})
    assert f"lot_{bottle.pk}" not in page.content.decode()
