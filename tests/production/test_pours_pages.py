"""The evening's pages. Trade facts (trim, yield) are the project's own words, no outside source."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from pypdf import PdfReader

from inventory.services import counts
from production import bench_now
from production.models import Pour
from production.services import batches, heats, leftovers, pours, shots
from tests import factories
from tests.production.bench_helpers import filled_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def green():
    base = factories.make_plastisol()
    moss = factories.make_item(name="Moss tint", color="#2f6b3a")
    factories.make_lot(base, 2000, 40)
    factories.make_lot(moss, 50, 10)
    return factories.make_recipe("Moss Lantern", grade=base, doses={moss: 2})


def mix(pour, version, base=200):
    parts = [batches.Part(version.grade, factories.micro(base))]
    parts += [batches.Part(d.item, d.quantity * base // 100) for d in version.doses.all()]
    return batches.mix(key=factories.key(), pour=pour, version=version, parts=parts, by=None).batch


def shoot(pour, batch, mold, count=3, good=11, seconds=0):
    pattern = batch.version.layers.get().pattern
    bait = mold.cavities.get().bait
    return shots.shoot(
        key=factories.key(),
        pour=pour,
        mold=mold,
        pattern=pattern,
        batches=[batch],
        count=count,
        results=[shots.Result(bait, good, seconds)],
        by=None,
    )


def test_starting_twice_opens_the_evening_that_is_open(owner_client):
    first = owner_client.post(reverse("production:pour_start"))
    second = owner_client.post(reverse("production:pour_start"))
    assert first.url == second.url
    assert Pour.objects.count() == 1


def test_a_new_evening_begins_after_the_last_was_closed(owner):
    first = pours.start(by=owner)
    pours.close(pour=first)
    second = pours.start(by=owner)
    assert second != first
    assert pours.start(by=owner) == second


def test_closing_again_keeps_the_first_hour(owner):
    pour = pours.start(by=owner)
    closed = pours.close(pour=pour).closed_at
    assert pours.close(pour=pour).closed_at == closed


def test_pour_starts_by_a_press_only(owner_client):
    assert owner_client.get(reverse("production:pour_start")).status_code == 405
    assert not Pour.objects.exists()


def test_helper_can_start_and_close_an_evening(helper_client):
    helper_client.post(reverse("production:pour_start"))
    pour = Pour.objects.get()
    address = reverse("production:pour_close", args=[pour.pk])
    answer = helper_client.post(address, filled_in(helper_client.get(address).context["form"]))
    assert answer.status_code == 302
    pour.refresh_from_db()
    assert pour.closed_at


def test_closing_names_the_cups_that_still_hold_something(owner_client, green):
    pour = factories.make_pour()
    mix(pour, green)
    page = owner_client.get(reverse("production:pour_close", args=[pour.pk]))
    assert "Batch 1: Moss Lantern" in page.content.decode()
    assert "still hold something" in page.content.decode()


def test_evening_shows_what_it_gave(owner_client, green):
    pour = factories.make_pour()
    batch = mix(pour, green)
    shoot(pour, batch, factories.make_mold(), good=9, seconds=1)
    page = owner_client.get(reverse("production:pour", args=[pour.pk]))
    sums = page.context["sums"]
    assert (sums.baits.cavities, sums.baits.good, sums.baits.seconds, sums.baits.rejects) == (
        12,
        9,
        1,
        2,
    )
    assert sums.baits.yield_percent == 75
    # 3 shots of 26 mL less 10 baits of 5 mL leave 28 mL of plastic, of which 100/102 is base.
    assert sums.trim == pytest.approx(factories.micro(28 * 100 / 102), abs=1)
    assert "evening so far" in page.content.decode()


def test_undone_shots_no_longer_count_and_stay_visible(owner_client, owner, green):
    pour = factories.make_pour()
    entry = shoot(pour, mix(pour, green), factories.make_mold())
    counts.undo(key=factories.key(), entry=entry, by=owner)
    page = owner_client.get(reverse("production:pour", args=[pour.pk]))
    assert page.context["sums"].baits.good == 0
    assert f"<s>{entry.title}</s>" in page.content.decode()


def test_each_event_can_be_undone_from_the_evening(owner_client, green):
    pour = factories.make_pour()
    batch = mix(pour, green)
    page = owner_client.get(reverse("production:pour", args=[pour.pk])).content.decode()
    assert reverse("inventory:entry_undo", args=[batch.entry_id]) in page


def test_evening_says_that_water_throws_hot_plastic(owner_client):
    pour = factories.make_pour()
    page = owner_client.get(reverse("production:pour", args=[pour.pk])).content.decode()
    assert "One drop of water can throw hot plastic." in page


def test_unknown_evening_is_not_found(owner_client):
    names = ("pour", "pour_live", "pour_close", "pour_sheet", "batch_record")
    for name in (*names, "batch_new", "batch_mix", "shots_new"):
        assert owner_client.get(reverse(f"production:{name}", args=[99])).status_code == 404


def test_list_counts_baits_and_batches_that_stand(owner_client, green):
    pour = factories.make_pour()
    first, _second = mix(pour, green), mix(pour, green)
    mold = factories.make_mold()
    shoot(pour, first, mold, good=9, seconds=1)
    shoot(pour, first, mold, good=8)
    row = owner_client.get(reverse("production:pours")).context["page_obj"][0]
    assert (row.batch_count, row.bait_count) == (2, 18)


def test_list_asks_the_database_as_often_for_many_evenings(
    owner_client, green, django_assert_num_queries
):
    url = reverse("production:pours")
    factories.make_pour()
    owner_client.get(url)
    with CaptureQueriesContext(connection) as seen:
        owner_client.get(url)
    few = len(seen)
    for _ in range(12):
        shoot(pour := factories.make_pour(), mix(pour, green), factories.make_mold(f"M{pour.pk}"))
    with django_assert_num_queries(few):
        owner_client.get(url)


def test_evening_asks_the_database_as_often_for_many_batches(
    owner_client, green, django_assert_num_queries
):
    pour = factories.make_pour()
    mold = factories.make_mold()
    url = reverse("production:pour", args=[pour.pk])
    shoot(pour, mix(pour, green), mold)
    owner_client.get(url)
    with CaptureQueriesContext(connection) as seen:
        owner_client.get(url)
    few = len(seen)
    for _ in range(6):
        shoot(pour, mix(pour, green), mold)
    with django_assert_num_queries(few):
        owner_client.get(url)


def test_sheet_on_paper_names_batch_dose_and_mold(owner_client, green, tmp_path):
    pour = factories.make_pour()
    shoot(pour, mix(pour, green), factories.make_mold())
    answer = owner_client.get(reverse("production:pour_sheet", args=[pour.pk]))
    assert answer["Content-Type"] == "application/pdf"
    path = tmp_path / "sheet.pdf"
    path.write_bytes(answer.content)
    text = " ".join(PdfReader(path).pages[0].extract_text().split())
    for words in ("Moss Lantern", "4 mL Moss tint", "3 × Reed Eel four", "200 mL"):
        assert words in text.replace("\N{NO-BREAK SPACE}", " ")


def test_sheet_of_an_empty_evening_says_there_is_nothing_to_print(owner_client):
    pour = factories.make_pour()
    answer = owner_client.get(reverse("production:pour_sheet", args=[pour.pk]), follow=True)
    assert "There is no batch to pour." in answer.content.decode()


def test_undo_at_the_bench_leads_straight_back_to_the_evening(owner_client, shop):
    base = factories.make_lot(factories.make_plastisol())
    pour = factories.make_pour()
    part = batches.Part(base.item, factories.micro(100), lot=base)
    entry = batches.mix(key="m", pour=pour, version=None, parts=[part], by=None)
    address = reverse("inventory:entry_undo", args=[entry.pk])
    answer = owner_client.post(address, {"key": "u", "note": "wrong cup"})
    assert answer.url == reverse("production:pour", args=[pour.pk])
    base.refresh_from_db()
    assert base.on_hand == factories.micro(1000)


def live_address(pour) -> str:
    return reverse("production:pour_live", args=[pour.pk])


def test_a_device_that_shows_the_newest_is_answered_with_nothing(owner_client, green):
    pour = factories.make_pour()
    mix(pour, green)
    version = owner_client.get(reverse("production:pour", args=[pour.pk])).context["version"]
    assert owner_client.get(live_address(pour), {"v": version}).status_code == 204


def test_a_device_sees_what_the_other_one_logged(owner_client, green):
    pour = factories.make_pour()
    batch = mix(pour, green)
    version = owner_client.get(reverse("production:pour", args=[pour.pk])).context["version"]
    shoot(pour, batch, factories.make_mold())
    answer = owner_client.get(live_address(pour), {"v": version})
    assert answer.status_code == 200
    assert "3 × Reed Eel four" in answer.content.decode()
    assert answer.context["version"] != version


@pytest.mark.parametrize("said", ["verdict", "heat", "degassed", "undo"])
def test_what_was_said_of_a_cup_is_seen_too(owner_client, owner, green, said):
    pour = factories.make_pour()
    batch = mix(pour, green)
    before = bench_now.version(pour)
    if said == "verdict":
        batches.judge(batch=batch, verdict="pale")
    elif said == "heat":
        heats.warm(key="h", batch=batch, by=None)
    elif said == "degassed":
        batches.degas(batch=batch, degassed=False)
    else:
        counts.undo(key="u", entry=batch.entry, by=owner)
    assert bench_now.version(pour) != before


def test_asking_again_costs_little(owner_client, green, django_assert_max_num_queries):
    pour = factories.make_pour()
    for _ in range(3):
        mix(pour, green)
    version = bench_now.version(pour)
    owner_client.get(live_address(pour), {"v": version})  # the first look of a day is noted
    with django_assert_max_num_queries(7):  # three for the session, person and shop
        owner_client.get(live_address(pour), {"v": version})


def test_a_device_stops_asking_when_the_evening_is_closed(owner_client):
    pour = factories.make_pour()
    pours.close(pour=pour)
    answer = owner_client.get(live_address(pour))
    assert (answer.status_code, answer["HX-Refresh"]) == (286, "true")


def test_what_needs_a_hand_comes_first(owner_client, green):
    pour = factories.make_pour()
    mold = factories.make_mold()
    done, shot, mixed, fresh = (mix(pour, green) for _ in range(4))
    for batch in (done, shot):
        shoot(pour, batch, mold)
    leftovers.settle(key="s", batch=done, measured=0, then="keep", by=None)
    batches.finish(batch=mixed)
    page = owner_client.get(reverse("production:pour", args=[pour.pk]))
    assert [b.pk for b in page.context["batches"]] == [fresh.pk, mixed.pk, shot.pk, done.pk]


def test_a_closed_evening_offers_no_new_batch_and_says_how_to_amend(owner_client, green):
    pour = factories.make_pour()
    shoot(pour, mix(pour, green), factories.make_mold(), good=9)
    pours.close(pour=pour)
    text = owner_client.get(reverse("production:pour", args=[pour.pk])).content.decode()
    assert reverse("production:batch_new", args=[pour.pk]) not in text
    assert "amended on its batch" in text
    assert "Yield by mold and bait" in text


def test_the_chain_of_leftovers_is_drawn_and_told(owner_client, green):
    pour = factories.make_pour()
    first = mix(pour, green)
    part = batches.Part(first.lot.item, factories.micro(50), first.lot)
    batches.mix(key="n", pour=pour, version=green, parts=[part], by=None)
    pours.close(pour=pour)
    page = owner_client.get(reverse("production:pour", args=[pour.pk]))
    text = " ".join(page.content.decode().split())
    assert "50 mL went into" in text
    assert text.count('class="chain-arc"') == 1


def test_same_again_fills_in_what_was_poured_last(owner_client, green):
    pour = factories.make_pour()
    mold = factories.make_mold()
    shoot(pour, mix(pour, green, base=150), mold)
    again = owner_client.get(reverse("production:pour", args=[pour.pk])).context["again"]
    page = owner_client.get(again)
    assert page.status_code == 200
    assert page.context["form"]["base"].value() == "150 mL"
    assert f"mold_1={mold.pk}" in again


def test_a_closed_evening_asks_the_database_as_often_for_many_batches(owner_client, green):
    mold = factories.make_mold()
    addresses = []
    for count in (2, 5):
        pour = factories.make_pour()
        for _ in range(count):
            shoot(pour, mix(pour, green), mold)
        pours.close(pour=pour)
        addresses.append(reverse("production:pour", args=[pour.pk]))
    owner_client.get(addresses[0])
    with CaptureQueriesContext(connection) as few:
        owner_client.get(addresses[0])
    with CaptureQueriesContext(connection) as many:
        owner_client.get(addresses[1])
    assert len(few) == len(many)
