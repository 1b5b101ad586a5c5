"""What a record must be able to tell (common practice, no source): how a color came about, what was thinned,
why a batch was degassed, which size of a flake it was, and why a smaller mold was poured."""

import io
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils.http import urlencode
from pypdf import PdfReader

from inventory import flake_sizes
from inventory.services import thinning
from production.services import batches, heats, next_color
from tests import factories
from tests.factories import key, micro
from tests.production.bench_helpers import filled_in, mix, plan_url, text_of
from tests.production.live import Live, audited, url

pytestmark = pytest.mark.django_db


@pytest.fixture
def live(shop):
    return Live()


def record(client, live) -> str:
    """The evening's record, read back from its PDF."""
    answer = client.get(reverse("production:batch_record", args=[live.pour.pk]))
    pages = PdfReader(io.BytesIO(answer.content)).pages
    text = " ".join(" ".join(page.extract_text().split()) for page in pages)
    return text.replace("\N{NO-BREAK SPACE}", " ")


def test_a_light_batch_became_a_darker_one_by_more_colorant_and_another_flake(owner_client, live):
    pale = live.mix(100, moss=1)
    live.shoot(pale)
    dark = factories.make_recipe("Soot Reed", grade=live.base, doses={live.soot: 4, live.ember: 1})
    rest = batches.Part(pale.lot.item, micro(50), pale.lot, said="what was left")
    entry = next_color.go_on(
        key=key(),
        source=pale,
        measured=micro(50),
        pour=live.pour,
        version=dark,
        parts=[rest, live.part(live.soot, 2), live.part(live.ember, "0.5", said="a pinch")],
        by=None,
    )
    text = record(owner_client, live)
    assert f"Took 50 mL of Batch 1: Moss Lantern, {pale.lot.number}." in text
    assert "50 mL went into Batch 2: Soot Reed." in text
    assert "Soot tint 2 mL 2 mL" in text
    assert "Ember flake 0.5 g 0.5 g (a pinch)" in text
    page = text_of(owner_client.get(url("batch", entry.batch)))
    assert "Soot tint" in page and "Ember flake" in page and "Moss tint" in page
    assert "Went on as Batch 2: Soot Reed" in text_of(owner_client.get(url("batch", pale)))
    assert audited() == []


def test_a_thick_colorant_was_thinned_with_oil_and_is_dosed_by_its_strength_since(
    owner_client, live
):
    oil = factories.make_lot(factories.make_item("additive", "Worm oil"), 100, 5)
    before = plan_url(live.pour, live.recipe.pk, base="100 mL")
    mix(owner_client, before)
    entry = thinning.thin(
        key=key(),
        lot=live.moss_lot,
        quantity=micro(98),
        oil_lot=oil,
        oil_quantity=micro(98),
        by=None,
    )
    thinned = entry.movements.get(role="made").lot
    page = text_of(owner_client.get(before))
    # 2 mL to 100 mL of base, by hand; of half the strength twice as much.
    assert f"4 mL of {thinned.number}, thinned to 0.5" in page
    mix(owner_client, before, **{f"dose_{live.moss.pk}": "80 drops"})
    text = record(owner_client, live)
    assert f"Moss tint 2 mL 2 mL (40 drops) {live.moss_lot.number}" in text
    assert f"Moss tint 2 mL 4 mL (80 drops) {thinned.number}, strength 0.5" in text
    second = live.pour.batches.get(number=2)
    assert f"{thinned.number}, strength 0.5" in text_of(owner_client.get(url("batch", second)))
    assert "Thinned 98 mL Moss tint with 98 mL Worm oil" in text_of(
        owner_client.get(reverse("inventory:lot", args=[thinned.pk]))
    )


def test_a_batch_was_degassed_because_its_colorant_brought_air_in(owner_client, live):
    why = "The glitter paste brought air in: two minutes under vacuum."
    mix(owner_client, plan_url(live.pour, live.recipe.pk, base="100 mL"), note=why)
    batch = live.pour.batches.get()
    owner_client.post(url("batch_degas", batch), {"degassed": "yes"})
    heats.warm(key=key(), batch=batch, minutes=1, note="warm again, air is out", by=None)
    text = record(owner_client, live)
    assert "Degassed yes" in text
    assert why in text
    assert "warm again, air is out" in text
    assert why in text_of(owner_client.get(url("batch", batch)))


def test_the_note_of_a_batch_outlives_its_amendment(owner_client, live):
    mix(owner_client, plan_url(live.pour, live.recipe.pk, base="100 mL"), note="Air in the paste.")
    batch = live.pour.batches.get()
    form = filled_in(owner_client.get(url("batch_amend", batch)).context["form"])
    owner_client.post(url("batch_amend", batch), form | {"reason": "misread"})
    assert "Air in the paste." in record(owner_client, live)
    batch.refresh_from_db()
    assert "Air in the paste." in text_of(owner_client.get(url("batch", batch)))


@pytest.fixture
def sizes(live):
    """One flake in two sizes, and a recipe that asks for the smaller one."""
    small = factories.make_flake("Dusk flake small", flake_size_in=Decimal("0.035"))
    large = factories.make_flake("Dusk flake large", flake_size_in=Decimal("0.062"))
    for flake in (small, large):
        factories.make_lot(flake, 50, 5)
    live.dusk = factories.make_recipe("Dusk Reed", grade=live.base, doses={small: 1})
    return small, large


def test_two_sizes_of_one_flake_were_mixed(owner_client, live, sizes):
    small, large = sizes
    more = [live.part(small, 1), live.part(large, "0.5")]
    batch = live.mix(100, moss=0, version=live.dusk, more=more)
    text = record(owner_client, live)
    assert f"Dusk flake small, {flake_sizes.show(small.flake_size_in)} 1 g 1 g" in text
    assert f"Dusk flake large, {flake_sizes.show(large.flake_size_in)} 0.5 g" in text
    assert flake_sizes.show(large.flake_size_in) in text_of(owner_client.get(url("batch", batch)))


def test_a_size_at_hand_stood_in_for_the_one_that_was_empty(owner_client, live, sizes):
    small, large = sizes
    batch = live.mix(100, moss=0, version=live.dusk, more=[live.part(large, 1)])
    text = record(owner_client, live)
    assert f"Dusk flake small, {flake_sizes.show(small.flake_size_in)} 1 g none" in text
    page = text_of(owner_client.get(url("batch", batch)))
    assert "Dusk flake large 1 g not in the recipe differs" in page
    assert "What went in is not what the recipe says." in page


def test_the_next_bait_was_too_big_for_what_was_left_and_a_smaller_mold_was_poured(
    owner_client, live
):
    factories.make_mold("Long Eel six", shot_ml=90)
    batch = live.mix(102, moss=0)
    pattern = live.recipe.layers.get().pattern
    live.shoot(batch)
    asked = urlencode({"mold": live.mold.pk, "pattern": pattern.pk})
    page = text_of(owner_client.get(f"{url('tally', batch)}?{asked}"))
    assert "Too big for what is left: Long Eel six (90 mL)" in page
    assert "2 more shots of this mold." in page
    live.shoot(batch, count=2, good=8)
    text = record(owner_client, live)
    assert "2 × Reed Eel four, Moss Lantern, by hand Reed Eel 8" in text
    assert "Long Eel six" not in text
