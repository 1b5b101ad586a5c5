"""Closing an evening: every cup is asked for, the gear too, and what does not add up is said."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.models import Entry, Lot
from production.models import Batch
from production.services import pours
from tests import factories
from tests.factories import micro
from tests.production.bench_helpers import filled_in, text_of
from tests.production.live import Live, audited, fresh

pytestmark = pytest.mark.django_db


@pytest.fixture
def live(shop):
    return Live()


def address(live) -> str:
    return reverse("production:pour_close", args=[live.pour.pk])


def close(client, live, **changes):
    form = client.get(address(live)).context["form"]
    return client.post(address(live), filled_in(form) | changes)


def test_all_cups_are_settled_by_one_form(owner_client, live):
    kept, puck, thrown = (live.mix() for _ in range(3))
    answer = close(
        owner_client,
        live,
        **{
            f"then_{kept.pk}": "keep",
            f"then_{puck.pk}": "puck",
            f"left_{puck.pk}": "51 mL",
            f"then_{thrown.pk}": "throw",
            f"reason_{thrown.pk}": "scorched",
            "purged": "on",
            "molds_dry": "on",
            "note": "Seal leaks.",
        },
    )
    assert answer.status_code == 302
    assert [fresh(b).settled for b in (kept, puck, thrown)] == ["keep", "puck", "throw"]
    # 51 of 102 mL of colored plastic are half of its 100 mL of base.
    assert [fresh(b.lot).on_hand for b in (kept, puck, thrown)] == [micro(100), micro(50), 0]
    assert fresh(puck.lot).form == Lot.Form.PUCK
    pour = fresh(live.pour)
    assert (pour.purged, pour.seals_checked, pour.molds_dry) == (True, False, True)
    assert pour.note == "Seal leaks."
    assert Entry.objects.get(kind="waste").wasted == micro(100)
    assert audited() == []


def test_what_is_not_measured_is_taken_as_the_shots_say(owner_client, live):
    batch = live.mix()
    live.shoot(batch)
    held = fresh(batch.lot).on_hand
    close(owner_client, live)
    assert fresh(batch.lot).on_hand == held
    assert not Entry.objects.filter(kind="count").exists()


def test_closing_twice_changes_nothing(owner_client, live):
    batch = live.mix()
    form = filled_in(owner_client.get(address(live)).context["form"])
    form |= {f"then_{batch.pk}": "throw", f"reason_{batch.pk}": "scorched"}
    owner_client.post(address(live), form)
    closed, entries = fresh(live.pour).closed_at, Entry.objects.count()
    answer = owner_client.post(address(live), form)
    assert answer.url == reverse("production:pour", args=[live.pour.pk])
    assert (fresh(live.pour).closed_at, Entry.objects.count()) == (closed, entries)


def test_throwing_away_asks_why_and_keeps_what_was_typed(owner_client, live):
    batch = live.mix()
    answer = close(owner_client, live, **{f"then_{batch.pk}": "throw", f"left_{batch.pk}": "40 mL"})
    assert answer.status_code == 422
    assert "Say why it is thrown away." in text_of(answer)
    assert answer.context["form"][f"left_{batch.pk}"].value() == "40 mL"
    assert fresh(live.pour).closed_at is None


def test_more_left_than_was_poured_is_a_question_that_can_be_answered(owner_client, live):
    batch = live.mix()
    asked = close(owner_client, live, **{f"left_{batch.pk}": "300 mL"})
    assert asked.status_code == 422
    assert "Yes, really?" in text_of(asked)
    close(owner_client, live, **{f"left_{batch.pk}": "300 mL", "really": "on"})
    assert fresh(live.pour).closed_at
    assert Entry.objects.get(kind="count").look_at


def test_a_volume_that_cannot_be_read_is_said_at_its_cup(owner_client, live):
    batch = live.mix()
    answer = close(owner_client, live, **{f"left_{batch.pk}": "two thumbs"})
    assert answer.status_code == 422
    assert answer.context["form"].errors[f"left_{batch.pk}"]


def test_what_does_not_add_up_is_said_and_refuses_nothing(owner_client, live):
    unshot = live.mix()
    plain = live.mix(moss=0)
    live.shoot(plain)
    page = text_of(owner_client.get(address(live)))
    assert f"{unshot} No shots were logged" in page
    assert f"{plain} Its recipe has doses; none were logged." in page
    assert close(owner_client, live).status_code == 302


def test_ten_baits_that_nobody_counted_are_pointed_out(owner_client, live):
    batch = live.mix(base=300, moss=6)
    live.shoot(batch, count=5, good=20)
    # Three more shots, 78 mL, were poured and not counted: 306 − 130 − 78 = 98 are left.
    close(owner_client, live, **{f"left_{batch.pk}": "98 mL"})
    page = text_of(owner_client.get(reverse("production:pour", args=[live.pour.pk])))
    assert "are missing. That is about 15 baits." in page


def test_a_cup_that_was_kept_before_is_asked_for_again_with_its_answer(owner_client, live):
    batch = live.mix()
    Batch.objects.filter(pk=batch.pk).update(settled="keep")
    form = owner_client.get(address(live)).context["form"]
    assert form[f"then_{batch.pk}"].value() == "keep"


def test_helper_can_close(helper_client, live):
    live.mix()
    assert close(helper_client, live).status_code == 302


def test_the_closing_page_asks_the_database_as_often_for_many_cups(owner_client, live):
    for _ in range(2):
        live.shoot(live.mix())
    owner_client.get(address(live))
    with CaptureQueriesContext(connection) as few:
        owner_client.get(address(live))
    for _ in range(3):
        live.shoot(live.mix())
    with CaptureQueriesContext(connection) as many:
        owner_client.get(address(live))
    assert len(many) == len(few)


def test_a_service_that_closes_with_cups_posts_each_once(live, owner):
    batch = live.mix()
    cup = pours.Settling(batch, "throw", micro(40), "scorched")
    for _ in range(2):
        pours.close(pour=live.pour, key=factories.key(), cups=[cup], by=owner)
    assert Entry.objects.filter(kind="waste").count() == 1
