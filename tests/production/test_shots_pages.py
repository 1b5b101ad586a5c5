"""Shots: from cups into baits, trim and waste. Counts follow from the mold's own volumes."""

import pytest
from django.urls import reverse

from inventory.models import Entry, Lot
from inventory.services import counts
from production.models import Bait, Injector, Mold, Shots
from production.services import batches
from tests import factories
from tests.production import bench_helpers as bench

pytestmark = pytest.mark.django_db


@pytest.fixture
def base():
    item = factories.make_plastisol()
    factories.make_lot(item, 2000, 40)
    return item


@pytest.fixture
def version(base):
    return factories.make_recipe("Bare Reed", grade=base, doses={})


@pytest.fixture
def pour(shop):
    return factories.make_pour()


@pytest.fixture
def mold():
    return factories.make_mold(cavities=4, bait_ml=5, shot_ml=26)


def mixed(pour, version, base_ml=200):
    parts = [batches.Part(version.grade, factories.micro(base_ml))]
    parts += [
        batches.Part(dose.item, dose.quantity * base_ml // 100) for dose in version.doses.all()
    ]
    return batches.mix(key=factories.key(), pour=pour, version=version, parts=parts, by=None).batch


def solid(version):
    return version.layers.get(share=1_000_000).pattern


def shots() -> int:
    return Entry.objects.filter(kind="shots").count()


def test_shots_turn_a_cup_into_baits_and_trim(owner_client, pour, version, mold):
    batch = mixed(pour, version)
    url = bench.shots_url(pour, mold, solid(version))
    bait = mold.cavities.get().bait_id
    answer = bench.shoot(owner_client, url, mold, "9", count="3", **{f"seconds_{bait}": "1"})
    assert answer.url == reverse("production:pour", args=[pour.pk])
    row = Shots.objects.get().results.get()
    assert (row.cavities, row.good, row.seconds, row.rejects) == (12, 9, 1, 2)
    batch.lot.refresh_from_db()
    # 200 − 3 × 26 mL; 78 mL less 10 baits of 5 mL is trim.
    assert batch.lot.on_hand == factories.micro(122)
    assert Shots.objects.get().trim_lot.on_hand == factories.micro(28)
    assert row.good_lot.on_hand == factories.micro(9)


def test_sprues_thrown_away_are_no_trim(owner_client, pour, version, mold):
    mixed(pour, version)
    bench.shoot(owner_client, bench.shots_url(pour, mold, solid(version)), mold, "4", trim="throw")
    assert Shots.objects.get().trim_lot is None
    assert Entry.objects.get(kind="shots").wasted == factories.micro(6)


def test_more_baits_than_cavities_is_a_question_that_leaves_a_mark(
    owner_client, pour, version, mold
):
    mixed(pour, version)
    url = bench.shots_url(pour, mold, solid(version))
    answer = bench.shoot(owner_client, url, mold, "9", count="2")
    assert answer.status_code == 422
    assert "9 Reed Eel from 8 cavities. Yes, really?" in bench.text_of(answer)
    assert shots() == 0
    data = bench.filled_in(answer.context["form"])
    assert data[f"good_{mold.cavities.get().bait_id}"] == "9"
    assert owner_client.post(url, data | {"really": "on"}).status_code == 302
    assert "more baits than cavities" in Entry.objects.get(kind="shots").look_at
    page = owner_client.get(reverse("production:pour", args=[pour.pk]))
    assert "look at this" in bench.text_of(page)


def test_more_plastic_than_the_cup_held_is_found_and_said(owner_client, pour, version, mold):
    batch = mixed(pour, version, base_ml=50)
    answer = bench.shoot(
        owner_client, bench.shots_url(pour, mold, solid(version)), mold, "8", count="2"
    )
    assert answer.status_code == 302
    batch.lot.refresh_from_db()
    assert (batch.lot.on_hand, batch.lot.count_me) == (0, True)
    assert "2 mL more than the shelf knew of was booked as found" in bench.text_of(
        owner_client.get(answer.url)
    )


def test_laminate_draws_from_both_batches_by_their_shares(owner_client, pour, base, version, mold):
    soot = factories.make_recipe("Soot Reed", grade=base, doses={})
    pattern = factories.make_laminate("Reed Split", [version, soot], [600_000, 400_000])
    pale, dark = mixed(pour, version), mixed(pour, soot)
    answer = bench.shoot(owner_client, bench.shots_url(pour, mold, pattern), mold, "20", count="5")
    assert answer.status_code == 302
    pale.lot.refresh_from_db()
    dark.lot.refresh_from_db()
    # 5 × 26 = 130 mL: 78 from the back's cup, 52 from the belly's.
    assert (pale.lot.on_hand, dark.lot.on_hand) == (factories.micro(122), factories.micro(148))


def test_each_layer_starts_with_the_batch_of_its_recipe(owner_client, pour, base, version, mold):
    soot = factories.make_recipe("Soot Reed", grade=base, doses={})
    pattern = factories.make_laminate("Reed Split", [version, soot], [500_000, 500_000])
    dark, pale = mixed(pour, soot), mixed(pour, version)
    form = owner_client.get(bench.shots_url(pour, mold, pattern)).context["form"]
    assert [field.value() for field in form.batch_fields] == [str(pale.pk), str(dark.pk)]


def test_a_fresh_cup_is_offered_before_an_empty_one(owner_client, pour, version, mold):
    first, second = mixed(pour, version, base_ml=26), mixed(pour, version)
    url = bench.shots_url(pour, mold, solid(version))
    bench.shoot(owner_client, url, mold, "4")
    first.lot.refresh_from_db()
    assert first.lot.on_hand == 0
    form = owner_client.get(url).context["form"]
    assert form.batch_fields[0].value() == str(second.pk)


def test_patterns_of_tonight_s_cups_come_first(owner_client, pour, base, version, mold):
    soot = factories.make_recipe("Soot Reed", grade=base, doses={})
    factories.make_laminate("Reed Split", [version, soot], [500_000, 500_000])
    mixed(pour, version)
    url = reverse("production:shots_new", args=[pour.pk])
    groups = dict(owner_client.get(url).context["chosen"].fields["pattern"].choices[1:])
    assert [name for _pk, name in groups["From tonight's batches"]] == ["Bare Reed"]
    mixed(pour, soot)
    groups = dict(owner_client.get(url).context["chosen"].fields["pattern"].choices[1:])
    assert "Reed Split" in [name for _pk, name in groups["From tonight's batches"]]


def test_free_hand_batch_can_be_shot_in_any_pattern(owner_client, pour, base, version, mold):
    parts = [batches.Part(base, factories.micro(100))]
    batches.mix(key=factories.key(), pour=pour, version=None, parts=parts, by=None)
    answer = bench.shoot(owner_client, bench.shots_url(pour, mold, solid(version)), mold, "4")
    assert answer.status_code == 302


@pytest.mark.parametrize("typed", ["-1", "1e309", "NaN", "3,5", "2.5", "four", "", "999999999"])
def test_what_is_no_count_is_said_at_its_field_and_kept(owner_client, pour, version, mold, typed):
    mixed(pour, version)
    answer = bench.shoot(owner_client, bench.shots_url(pour, mold, solid(version)), mold, typed)
    assert answer.status_code == 422
    bound = answer.context["form"][f"good_{mold.cavities.get().bait_id}"]
    assert bound.errors
    assert bound.value() == typed
    assert shots() == 0
    assert not Lot.objects.filter(form="loose").exists()


def test_same_press_twice_keeps_the_shots_once(owner_client, pour, version, mold):
    mixed(pour, version)
    url = bench.shots_url(pour, mold, solid(version))
    data = bench.filled_in(owner_client.get(url).context["form"])
    data[f"good_{mold.cavities.get().bait_id}"] = "4"
    data[f"seconds_{mold.cavities.get().bait_id}"] = ""
    owner_client.post(url, data)
    owner_client.post(url, data)
    assert shots() == Shots.objects.count() == 1


def test_before_any_batch_the_page_leads_to_one(owner_client, pour):
    page = owner_client.get(reverse("production:shots_new", args=[pour.pk]))
    assert "No batch was mixed yet." in bench.text_of(page)


def test_unknown_mold_or_pattern_is_said_and_nothing_posted(owner_client, pour, version):
    mixed(pour, version)
    url = reverse("production:shots_new", args=[pour.pk]) + "?mold=999&pattern=x"
    assert owner_client.get(url).status_code == 422
    assert owner_client.post(url, {"count": "1"}).status_code == 422


def test_undone_batch_is_no_cup_to_shoot_from(owner_client, owner, pour, version, mold):
    batch = mixed(pour, version)
    counts.undo(key=factories.key(), entry=batch.entry, by=owner)
    page = owner_client.get(reverse("production:shots_new", args=[pour.pk]))
    assert "No batch was mixed yet." in bench.text_of(page)


def test_helper_can_shoot(helper_client, pour, version, mold):
    mixed(pour, version)
    url = bench.shots_url(pour, mold, solid(version))
    assert bench.shoot(helper_client, url, mold, "4").status_code == 302


def test_rejects_are_kept_by_their_reason(owner_client, pour, version, mold):
    mixed(pour, version)
    bait = mold.cavities.get().bait_id
    url = bench.shots_url(pour, mold, solid(version))
    changes = {f"reject_{bait}_0": "2", f"reject_{bait}_2": "1"}
    answer = bench.shoot(owner_client, url, mold, "8", count="3", **changes)
    assert answer.status_code == 302
    row = Shots.objects.get().results.get()
    assert (row.good, row.rejects) == (8, 4)
    assert set(row.reasons.values_list("reason", "count")) == {("short shot", 2), ("dent", 1)}


def test_more_reasons_than_rejects_is_said_at_its_field(owner_client, pour, version, mold):
    mixed(pour, version)
    bait = mold.cavities.get().bait_id
    url = bench.shots_url(pour, mold, solid(version))
    answer = bench.shoot(owner_client, url, mold, "3", **{f"reject_{bait}_1": "2"})
    assert answer.status_code == 422
    bound = answer.context["form"][f"reject_{bait}_1"]
    assert "2 rejects have a reason, but only 1 of 4 cavities" in bound.errors[0]
    assert bound.value() == "2"
    assert shots() == 0


@pytest.fixture
def twin():
    return Injector.objects.create(
        name="Twin 60", barrels=2, barrel_ml=60, residue_ml=3, first_bore_mm=20, second_bore_mm=10
    )


def test_unlike_bores_share_a_laminate_by_their_area(owner_client, pour, base, version, mold, twin):
    soot = factories.make_recipe("Soot Reed", grade=base, doses={})
    pattern = factories.make_laminate("Reed Split", [version, soot], [500_000, 500_000])
    pale, dark = mixed(pour, version), mixed(pour, soot)
    url = bench.shots_url(pour, mold, pattern) + f"&injector={twin.pk}"
    page = owner_client.get(url)
    assert "3 mL stays behind in each barrel" in bench.text_of(page)
    shares = [str(share.value()) for _batch, share in page.context["form"].layer_rows]
    assert shares == ["80", "20"]
    assert bench.shoot(owner_client, url, mold, "20", count="5").status_code == 302
    pale.lot.refresh_from_db()
    dark.lot.refresh_from_db()
    # 130 mL by 20² : 10² is 104 and 26.
    assert (pale.lot.on_hand, dark.lot.on_hand) == (factories.micro(96), factories.micro(174))
    assert Shots.objects.get().injector == twin


def test_shares_can_be_changed_and_must_make_a_whole(owner_client, pour, base, version, mold, twin):
    soot = factories.make_recipe("Soot Reed", grade=base, doses={})
    pattern = factories.make_laminate("Reed Split", [version, soot], [500_000, 500_000])
    pale, dark = mixed(pour, version), mixed(pour, soot)
    url = bench.shots_url(pour, mold, pattern)
    answer = bench.shoot(owner_client, url, mold, "4", share_1="70", share_2="20")
    assert answer.status_code == 422
    assert "The shares make 90 %" in answer.context["form"]["share_2"].errors[0]
    bench.shoot(owner_client, url, mold, "4", share_1="75", share_2="25")
    pale.lot.refresh_from_db()
    dark.lot.refresh_from_db()
    assert (pale.lot.on_hand, dark.lot.on_hand) == (
        factories.micro("180.5"),
        factories.micro("193.5"),
    )


def test_the_side_that_goes_up_is_said_for_flat_baits_and_not_for_round_ones(
    owner_client, pour, base, version, mold
):
    soot = factories.make_recipe("Soot Reed", grade=base, doses={})
    pattern = factories.make_laminate("Reed Split", [version, soot], [500_000, 500_000])
    mixed(pour, version), mixed(pour, soot)
    url = bench.shots_url(pour, mold, pattern)
    round_one = bench.text_of(owner_client.get(url))
    assert "goes up" not in round_one
    assert "Batch of Bare Reed" in round_one
    Bait.objects.update(flat=True)
    flat = bench.text_of(owner_client.get(url))
    assert "Bare Reed is the back. Its side goes up." in flat
    assert "Batch for the belly, down" in flat


def test_much_more_than_the_cup_holds_is_asked_first_and_then_posted(
    owner_client, pour, version, mold
):
    batch = mixed(pour, version, base_ml=50)
    url = bench.shots_url(pour, mold, solid(version))
    answer = bench.shoot(owner_client, url, mold, "12", count="3")
    assert answer.status_code == 422
    assert (
        "Batch 1, Bare Reed holds 50 mL of base by the books, and these shots take 78 mL."
        in bench.text_of(answer)
    )
    data = bench.filled_in(answer.context["form"]) | {"really": "on"}
    assert owner_client.post(url, data).status_code == 302
    batch.lot.refresh_from_db()
    assert (batch.lot.on_hand, batch.lot.count_me) == (0, True)
    assert "these shots take 78 mL" in Entry.objects.get(kind="shots").look_at


def test_a_cup_of_another_color_than_the_pattern_takes_is_asked(
    owner_client, pour, base, version, mold
):
    soot = factories.make_recipe("Soot Reed", grade=base, doses={})
    mixed(pour, version)
    url = bench.shots_url(pour, mold, solid(soot))
    answer = bench.shoot(owner_client, url, mold, "4")
    assert answer.status_code == 422
    assert "Soot Reed takes Soot Reed there, and Batch 1, Bare Reed is another color" in (
        bench.text_of(answer)
    )


def test_a_mold_without_cavities_is_asked(owner_client, pour, version):
    mixed(pour, version)
    bare = Mold.objects.create(name="Blank plate", shot_ml=26)
    url = bench.shots_url(pour, bare, solid(version))
    data = bench.filled_in(owner_client.get(url).context["form"])
    answer = owner_client.post(url, data)
    assert "Blank plate has no cavities: all of it would be trim." in bench.text_of(answer)
    assert owner_client.post(url, data | {"really": "on"}).status_code == 302
    assert Lot.objects.get(form="trim").on_hand == factories.micro(26)
