"""The evening's batch record and the blank sheet, read back from the PDF."""

import io

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from pypdf import PdfReader

from inventory.models import Lot
from production import blank_sheet, evening_record
from production.models import Bait, RejectReason
from production.services import batches, heats, leftovers, pours, shots
from tests.factories import key, micro
from tests.production.live import Live

pytestmark = pytest.mark.django_db


@pytest.fixture
def live(shop):
    return Live()


def text_of(data: bytes) -> str:
    pages = PdfReader(io.BytesIO(data)).pages
    text = " ".join(" ".join(page.extract_text().split()) for page in pages)
    return text.replace("\N{NO-BREAK SPACE}", " ")


def record(client, live) -> str:
    answer = client.get(reverse("production:batch_record", args=[live.pour.pk]))
    assert answer["Content-Type"] == "application/pdf"
    return text_of(answer.content)


def test_the_record_tells_what_was_planned_and_what_was_done(owner_client, live):
    Lot.objects.filter(pk=live.moss_lot.pk).update(supplier_lot="MT-77")
    batch = live.mix(base=300, moss=5, more=())
    live.add(batch, live.ember, 1, said="a pinch")
    heats.warm(key="h", batch=batch, minutes=4, peak_c=175, by=None)
    batches.degas(batch=batch, degassed=True)
    batches.judge(batch=batch, verdict="pale")
    bait = Bait.objects.get()
    result = shots.Result(bait, 13, 1, ((RejectReason.AIR, 2),))
    pattern = live.recipe.layers.get().pattern
    shots.shoot(
        key=key(),
        pour=live.pour,
        mold=live.mold,
        pattern=pattern,
        batches=[batch],
        count=4,
        results=[result],
        by=None,
    )
    leftovers.settle(
        key=key(), batch=batch, measured=micro(190), then="throw", reason="scorched", by=None
    )
    text = record(owner_client, live)
    for words in (
        "Batch 1: Moss Lantern",
        "Moss Lantern v1",
        "6 mL 5 mL",  # the recipe asks for 6, 5 went in
        f"{live.moss_lot.number}, MT-77",
        "1 g (a pinch)",
        "4 × Reed Eel four, Moss Lantern, by hand Reed Eel 13 1 2: 2 air 81 %",
        "4 min, peak",
        "Degassed yes",
        "Color pale",
        "thrown away",
        "scorched",
        "It adds up: off by",
        "Page 1 of",
    ):
        assert words in text, words


def test_the_record_shows_both_versions_of_an_amended_mix(owner_client, owner, live):
    batch = live.mix(moss=20)
    parts = [live.part(live.base, 100), live.part(live.moss, 2)]
    batches.amend(key=key(), batch=batch, parts=parts, reason="A zero too many", by=owner)
    text = record(owner_client, live)
    assert "Before: 100 mL Soft base, 20 mL Moss tint." in text
    assert "Now: 100 mL Soft base, 2 mL Moss tint." in text
    assert "wren: A zero too many" in text


def test_the_record_shows_both_versions_of_amended_shots(owner_client, owner, live):
    batch = live.mix()
    logged = live.shoot(batch, count=3, good=11)
    shots.amend(
        key=key(),
        shots=logged,
        batches=[batch],
        count=2,
        results=[shots.Result(Bait.objects.get(), 8)],
        note="Counted one too many",
        by=owner,
    )
    text = record(owner_client, live)
    assert "Before: 3 × Reed Eel four, Moss Lantern: 11 good." in text
    assert "Now: 2 × Reed Eel four, Moss Lantern: 8 good." in text
    assert "wren: Counted one too many" in text


def test_the_record_tells_where_leftovers_came_from_and_went(owner_client, live):
    first = live.mix()
    part = batches.Part(first.lot.item, micro(40), first.lot)
    live.mix(base=60, moss=0, more=[part])
    text = record(owner_client, live)
    assert f"Took 40 mL of Batch 1: Moss Lantern, {first.lot.number}." in text
    assert "40 mL went into Batch 2: Moss Lantern." in text


def test_a_batch_without_its_doses_shows_what_was_asked_for(owner_client, live):
    live.mix(moss=0)
    assert "Moss tint 2 mL none" in record(owner_client, live)


def test_an_evening_without_batches_has_a_record_that_says_so(owner_client, live):
    assert "No batch was mixed." in record(owner_client, live)


def test_a_long_evening_goes_on_over_numbered_pages(owner_client, live):
    for _ in range(7):
        live.shoot(live.mix())
    pours.close(pour=live.pour)
    answer = owner_client.get(reverse("production:batch_record", args=[live.pour.pk]))
    pages = PdfReader(io.BytesIO(answer.content)).pages
    assert len(pages) > 1
    assert f"Page 2 of {len(pages)}" in pages[1].extract_text()


def test_the_record_asks_the_database_as_often_for_many_batches(owner_client, live):
    address = reverse("production:batch_record", args=[live.pour.pk])
    for _ in range(2):
        live.shoot(live.mix())
    owner_client.get(address)
    with CaptureQueriesContext(connection) as few:
        owner_client.get(address)
    for _ in range(3):
        live.shoot(live.mix())
    with CaptureQueriesContext(connection) as many:
        owner_client.get(address)
    assert len(many) == len(few)


def test_a_helper_may_print_it(helper_client, live):
    live.mix()
    assert record(helper_client, live)


def test_the_blank_sheet_has_the_columns_in_the_order_of_the_table(owner_client):
    answer = owner_client.get(reverse("production:pour_blank"))
    text = text_of(answer.content)
    places = [text.index(words) for words in ("Recipe", "Base", "Doses", "Mold", "Shots", "Good")]
    assert places == sorted(places)
    assert "One drop of water can throw hot plastic." in text
    assert len(PdfReader(io.BytesIO(answer.content)).pages) == 1


def test_an_unknown_paper_is_refused_with_the_two_that_are_known():
    with pytest.raises(blank_sheet.BlankSheetError, match="letter or a4"):
        blank_sheet.draw(blank_sheet.BlankSheet("Lantern Cove Baits", "legal"))
    with pytest.raises(evening_record.EveningRecordError, match="letter or a4"):
        evening_record.draw(evening_record.EveningRecord("Lantern Cove Baits", "May 1", paper="x"))


def test_names_with_signs_of_markup_are_printed_as_they_are():
    batch = evening_record.Batch("Batch 1: <b>Fog & Bell</b>", "none")
    data = evening_record.draw(evening_record.EveningRecord("A & B", "May 1", batches=(batch,)))
    assert "<b>Fog & Bell</b>" in text_of(data)
