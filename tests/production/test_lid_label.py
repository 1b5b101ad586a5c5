"""The label on a leftover's lid says what is in it, wherever it stands in a month."""

import io

import pypdf
import pytest
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from inventory import pdf
from production import lid_label
from production.services import batches, leftovers
from tests import factories
from tests.factories import key, micro

WORDS = st.text(st.characters(codec="latin-1", exclude_categories=["Cc"]), max_size=120)


@given(WORDS, WORDS, st.lists(WORDS, max_size=14))
def test_nothing_is_wider_or_higher_than_the_label(name, amount, doses):
    lid = lid_label.Lid(name, "B261125-01", amount, "melt 2 of 5", "2026-11-25", doses)
    placed = lid_label.lines(lid)
    room = lid_label.PAGE[0] - 2 * lid_label.MARGIN
    assert all(pdf.width(text, font, size) <= room + 0.01 for text, font, size in placed)
    high = sum(size * 1.25 for _text, _font, size in placed)
    assert high <= lid_label.PAGE[1] - 2 * lid_label.MARGIN + 0.01


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


@pytest.mark.django_db
def test_the_lid_names_color_lot_base_melts_and_what_is_in_it(helper_client, puck):
    text = text_of(helper_client.get(reverse("production:lid", args=[puck.pk])))
    for word in ("Night Ferry", puck.number, "60 mL of base", "melt 1", "0.6 mL Plum dye"):
        assert word in text


@pytest.mark.django_db
def test_a_bottle_has_no_lid_label(owner_client, puck):
    bottle = puck.item.lots.model.objects.filter(form="pack").first()
    assert owner_client.get(reverse("production:lid", args=[bottle.pk])).status_code == 404
