"""What looks wrong at the bench is a question with what speaks against it; “yes, really” posts it and leaves
a mark. Doses, cups and melts are asked about in test_additions.py and test_next_color.py."""

from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils.http import urlencode

from inventory.models import Entry, Lot
from inventory.services import on_hold
from production.models import Batch, Heat, Injector, Mold, Shots
from tests import factories
from tests.factories import micro
from tests.production import bench_helpers
from tests.production.bench_helpers import filled_in, text_of
from tests.production.live import Live, audited, fresh, send, url

pytestmark = pytest.mark.django_db


@pytest.fixture
def live(shop):
    return Live()


def answered(client, address, asked, words):
    """The question was asked in these words; it is answered with yes."""
    assert asked.status_code == 422
    text = text_of(asked)
    assert words in text and "Yes, really" in text, text
    answer = client.post(address, filled_in(asked.context["form"]) | {"really": "on"})
    assert answer.status_code == 302, text_of(answer)
    return answer


def test_ten_times_the_recipe_can_be_meant(helper_client, live):
    address = bench_helpers.plan_url(live.pour, live.recipe.pk, base="100 mL")
    asked = send(helper_client, address, **{f"dose_{live.moss.pk}": "20 mL"})
    answered(helper_client, address, asked, "so that is 10.0 times the dose")
    assert "10.0 times" in Entry.objects.get(kind="batch").look_at


@pytest.mark.parametrize("typed", ["350 C", "350 °C"])
def test_350_written_as_celsius_can_be_meant(helper_client, live, typed):
    batch = live.mix()
    address = url("heat_new", batch)
    asked = send(helper_client, address, minutes="4", peak=typed)
    answered(helper_client, address, asked, "Was it 350 °F")
    heat = Heat.objects.get()
    assert (heat.peak_c, bool(heat.look_at)) == (Decimal(350), True)


def test_a_shot_into_a_mold_without_a_cavity_can_be_meant(helper_client, live):
    live.mix()
    plate = Mold.objects.create(name="Blank plate", shot_ml=26)
    pattern = live.recipe.layers.get().pattern
    address = bench_helpers.shots_url(live.pour, plate, pattern)
    asked = send(helper_client, address)
    answered(helper_client, address, asked, "Blank plate has no cavities")
    assert Entry.objects.get(kind="shots").look_at
    assert audited() == []


def test_more_left_than_was_poured_can_be_meant(helper_client, live):
    batch = live.mix()
    address = url("leftover", batch)
    asked = send(helper_client, address, amount="204 mL")
    answered(helper_client, address, asked, "more than this batch can have left")
    # 204 mL of colored plastic hold 200 mL of base.
    assert (fresh(batch.lot).on_hand, Entry.objects.get(kind="count").look_at != "") == (
        micro(200),
        True,
    )


def test_a_bottle_on_hold_is_passed_over_and_can_be_meant(helper_client, live):
    """It is offered last and never chosen beforehand; whoever takes it by hand is asked."""
    held = live.moss.lots.get()
    other = factories.make_lot(live.moss, 50, 10)
    on_hold.hold([held], reason="wrong pigment", by=None)
    address = bench_helpers.plan_url(live.pour, live.recipe.pk, base="100 mL")
    name = f"lot_{live.moss.pk}"
    form = helper_client.get(address).context["form"]
    assert str(form[name].value()) in ("", "None", str(other.pk))
    assert "on hold" in text_of(helper_client.get(address))
    asked = send(helper_client, address, **{name: str(held.pk)})
    answered(helper_client, address, asked, f"lot {held.number}, is on hold since")
    assert "wrong pigment" in Entry.objects.get(kind="batch").look_at
    assert fresh(held).on_hand < held.on_hand and fresh(other).on_hand == micro(50)
    assert audited() == []


def test_the_only_bottle_is_asked_about_when_it_is_on_hold(helper_client, live):
    on_hold.hold([live.moss.lots.get()], reason="wrong pigment", by=None)
    address = bench_helpers.plan_url(live.pour, live.recipe.pk, base="100 mL")
    asked = send(helper_client, address)
    answered(helper_client, address, asked, "is on hold since")
    batch = Batch.objects.get()
    answer = send(
        helper_client, url("batch_add", batch), what=f"item-{live.moss.pk}", amount="1 mL"
    )
    assert answer.status_code == 422 and "is on hold since" in text_of(answer)


def test_a_cup_on_hold_is_asked_about_before_it_is_shot(helper_client, live):
    batch = live.mix()
    on_hold.hold([batch.lot], reason="scorched", by=None)
    pattern = live.recipe.layers.get().pattern
    address = bench_helpers.shots_url(live.pour, live.mold, pattern)
    asked = bench_helpers.shoot(helper_client, address, live.mold, 4)
    assert asked.status_code == 422 and "is on hold since" in text_of(asked)


def injector(name, barrels) -> Injector:
    return Injector.objects.create(name=name, barrels=barrels, barrel_ml=Decimal(120))


@pytest.fixture
def laminate(live):
    soot = factories.make_recipe("Soot Reed", grade=live.base, doses={live.soot: 1})
    live.mix(version=soot, moss=0, more=[live.part(live.soot, 1)])
    return factories.make_laminate("Lantern over Soot", [live.recipe, soot], [500_000, 500_000])


def test_two_colors_through_one_barrel_can_be_meant(helper_client, live, laminate):
    live.mix()
    single = injector("Plain one", 1)
    address = f"{bench_helpers.shots_url(live.pour, live.mold, laminate)}&injector={single.pk}"
    bait = live.mold.cavities.get().bait_id
    asked = send(helper_client, address, **{f"good_{bait}": "4"})
    words = "Plain one has one barrel, and Lantern over Soot takes 2 colors."
    answered(helper_client, address, asked, words)
    assert words in Entry.objects.get(kind="shots").look_at


def test_one_color_through_two_barrels_can_be_meant(helper_client, live):
    live.mix()
    twin, pattern = injector("Lantern twin", 2), live.recipe.layers.get().pattern
    address = f"{bench_helpers.shots_url(live.pour, live.mold, pattern)}&injector={twin.pk}"
    bait = live.mold.cavities.get().bait_id
    asked = send(helper_client, address, **{f"good_{bait}": "4"})
    answered(
        helper_client, address, asked, "Lantern twin has two barrels, and Moss Lantern takes one"
    )


def test_an_injector_that_fits_and_pouring_by_hand_are_not_asked_about(
    helper_client, live, laminate
):
    live.mix()
    bait = live.mold.cavities.get().bait_id
    solid = live.recipe.layers.order_by("id").first().pattern
    for pattern, tool in (
        (laminate, injector("Lantern twin", 2)),
        (solid, injector("Plain one", 1)),
        (laminate, None),
    ):
        address = bench_helpers.shots_url(live.pour, live.mold, pattern)
        address += f"&injector={tool.pk}" if tool else ""
        assert send(helper_client, address, **{f"good_{bait}": "4"}).status_code == 302
    assert not Entry.objects.exclude(look_at="").exists()


def test_shots_are_amended_without_being_asked_for_their_injector_again(owner_client, live):
    live.mix()
    twin, pattern = injector("Lantern twin", 2), live.recipe.layers.get().pattern
    address = f"{bench_helpers.shots_url(live.pour, live.mold, pattern)}&injector={twin.pk}"
    bait = live.mold.cavities.get().bait_id
    send(owner_client, address, **{f"good_{bait}": "4", "really": "on"})
    amend = reverse("production:shots_amend", args=[live.pour.pk, Shots.objects.get().pk])
    assert (
        send(owner_client, amend, **{f"good_{bait}": "3", "reason": "one dent"}).status_code == 302
    )


def test_the_live_count_asks_once_for_the_wrong_injector_and_marks_its_first_shot(
    helper_client, live
):
    batch = live.mix()
    twin, pattern = injector("Lantern twin", 2), live.recipe.layers.get().pattern
    asked = {"mold": live.mold.pk, "pattern": pattern.pk, "injector": twin.pk}
    page = helper_client.get(f"{url('tally', batch)}?{urlencode(asked)}")
    assert page.status_code == 422
    assert "Lantern twin has two barrels" in text_of(page)
    address = f"{url('tally', batch)}?{urlencode(asked | {'really': 'on'})}"
    assert helper_client.get(address).status_code == 200
    for _ in range(2):
        helper_client.post(address, {"key": factories.key(), "do": "shot"})
    marks = Entry.objects.filter(kind="shots").order_by("id").values_list("look_at", flat=True)
    assert [bool(mark) for mark in marks] == [True, False]
    assert Lot.objects.get(form="loose").on_hand == micro(8)
