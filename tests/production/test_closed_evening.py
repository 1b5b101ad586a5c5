"""A closed evening stays as it is: nothing more is mixed, shot, counted or measured in it, by anyone."""

import pytest
from django.urls import reverse
from django.utils.http import urlencode

from inventory.models import Entry
from production.models import Batch, Shots
from production.services import leftovers, pours, shots, sorting
from production.services.evenings import EveningClosed
from tests import factories
from tests.factories import key, micro
from tests.production import bench_helpers
from tests.production.bench_helpers import filled_in, text_of
from tests.production.live import Live, audited, fresh, url

pytestmark = pytest.mark.django_db


@pytest.fixture
def live(shop):
    return Live()


@pytest.fixture(params=["owner_client", "helper_client"])
def anyone(request):
    return request.getfixturevalue(request.param)


def pages(live, batch) -> dict[str, str]:
    """The bench's pages of an evening, by what is done there."""
    pattern = live.recipe.layers.get().pattern
    asked = urlencode({"mold": live.mold.pk, "pattern": pattern.pk})
    return {
        "mix": bench_helpers.plan_url(live.pour, live.recipe.pk, base="100 mL"),
        "shoot": bench_helpers.shots_url(live.pour, live.mold, pattern),
        "measure": url("leftover", batch),
        "count": f"{url('tally', batch)}?{asked}",
        "add": url("batch_add", batch),
    }


def sent(client, live, batch) -> dict[str, tuple[str, dict]]:
    """Each page with what a person typed there while the evening was open."""
    bait = live.mold.cavities.get().bait_id
    typed = {
        "shoot": {f"good_{bait}": "4", f"seconds_{bait}": ""},
        "measure": {"amount": "50 mL"},
        "add": {"what": f"item-{live.moss.pk}", "amount": "1 mL"},
    }
    found = {}
    for name, address in pages(live, batch).items():
        if name == "count":
            found[name] = (address, {"key": key(), "do": "shot"})
        else:
            form = client.get(address).context["form"]
            found[name] = (address, filled_in(form) | typed.get(name, {}))
    return found


def test_its_pages_lead_back_to_it_with_words(anyone, live):
    batch = live.mix()
    pours.close(pour=live.pour)
    home = {
        "measure": reverse("inventory:lot", args=[batch.lot_id]),
        "count": url("batch", batch),
        "add": url("batch", batch),
    }
    addresses = pages(live, batch) | {"plan": reverse("production:batch_new", args=[live.pour.pk])}
    for name, address in addresses.items():
        answer = anyone.get(address)
        there = home.get(name, reverse("production:pour", args=[live.pour.pk]))
        assert (answer.status_code, answer["Location"]) == (302, there), name
        assert "is closed: nothing more is mixed, shot or measured" in text_of(anyone.get(there))


def test_what_was_typed_before_it_was_closed_elsewhere_is_refused_and_kept(anyone, live):
    batch = live.mix()
    posts = sent(anyone, live, batch)
    pours.close(pour=live.pour)
    entries = Entry.objects.count()
    for name, (address, data) in posts.items():
        answer = anyone.post(address, data)
        assert answer.status_code == 422, name
        assert "is closed:" in text_of(answer), name
    assert "50 mL" in anyone.post(*posts["measure"]).content.decode()
    assert (
        reverse("production:pour", args=[live.pour.pk])
        in anyone.post(*posts["mix"]).content.decode()
    )
    assert Entry.objects.count() == entries


def test_a_press_that_was_counted_before_the_close_is_no_refusal(owner_client, live):
    batch = live.mix()
    address, data = sent(owner_client, live, batch)["mix"]
    owner_client.post(address, data)
    pours.close(pour=live.pour)
    assert owner_client.post(address, data).status_code == 302
    assert Batch.objects.count() == 2


def test_another_phone_that_still_counts_is_sent_to_the_batch(helper_client, live):
    batch = live.mix()
    pours.close(pour=live.pour)
    answer = helper_client.get(pages(live, batch)["count"], HTTP_HX_REQUEST="true")
    assert (answer.status_code, answer["HX-Redirect"]) == (286, url("batch", batch))


def test_no_press_of_the_live_count_is_taken_any_more(helper_client, live):
    batch = live.mix()
    live.shoot(batch)
    bait = live.mold.cavities.get().bait_id
    pours.close(pour=live.pour)
    entries = Entry.objects.count()
    for do in ("shot", "reject", "second", "unshot", "unreject", "unsecond"):
        data = {"key": key(), "do": do, "bait": bait, "reason": "air"}
        answer = helper_client.post(pages(live, batch)["count"], data)
        assert answer.status_code == 422
        assert "is closed:" in text_of(answer)
    assert Entry.objects.count() == entries


def test_the_rule_holds_below_the_pages_too(live):
    batch = live.mix()
    logged = live.shoot(batch)
    bait = live.mold.cavities.get().bait
    pours.close(pour=live.pour)
    with pytest.raises(EveningClosed, match="amended by the owner"):
        live.mix()
    with pytest.raises(EveningClosed):
        live.shoot(batch)
    with pytest.raises(EveningClosed):
        leftovers.settle(key=key(), batch=batch, measured=0, then="keep", by=None)
    with pytest.raises(EveningClosed):
        sorting.sort_out(key=key(), shots=logged, bait=bait, fate="second", by=None)


def test_its_batch_is_counted_and_thrown_away_on_the_shelf(anyone, live):
    batch = live.mix()
    pours.close(pour=live.pour)
    page = anyone.get(url("batch", batch)).content.decode()
    assert reverse("inventory:count", args=[batch.lot_id]) in page
    assert reverse("inventory:waste", args=[batch.lot_id]) in page
    assert url("leftover", batch) not in page
    counting = anyone.get(reverse("inventory:count", args=[batch.lot_id]))
    assert counting.status_code == 200


def test_its_leftover_goes_on_in_the_next_evening(helper_client, live):
    batch = live.mix()
    pours.close(pour=live.pour)
    page = text_of(helper_client.get(url("batch_next", batch)))
    assert "No evening is open. Begin one to mix any of these." in page
    tonight = factories.make_pour()
    page = helper_client.get(url("batch_next", batch)).content.decode()
    assert reverse("production:batch_mix", args=[tonight.pk]) in page


def test_the_owner_still_amends_what_was_poured_and_shot(owner_client, live):
    batch = live.mix()
    logged = live.shoot(batch)
    pours.close(pour=live.pour)
    amend = reverse("production:shots_amend", args=[live.pour.pk, logged.pk])
    bait = logged.results.get().bait_id
    form = filled_in(owner_client.get(amend).context["form"])
    answer = owner_client.post(amend, form | {f"good_{bait}": "3", "reason": "miscounted"})
    assert answer.status_code == 302
    assert Shots.objects.get(entry__reversed_by=None).results.get().good == 3
    form = filled_in(owner_client.get(url("batch_amend", batch)).context["form"])
    answer = owner_client.post(url("batch_amend", batch), form | {"reason": "nothing, really"})
    assert answer.status_code == 302
    assert audited() == []


def test_who_shoots_means_that_is_it(owner_client, live):
    batch = live.mix()
    assert "That's it" in text_of(owner_client.get(url("batch", batch)))
    live.shoot(batch)
    said = fresh(batch).mixed_at
    assert said is not None
    assert "That's it" not in text_of(owner_client.get(url("batch", batch)))
    live.shoot(batch)
    assert fresh(batch).mixed_at == said


def test_shots_taken_back_leave_it_said(owner_client, live):
    batch = live.mix()
    logged = live.shoot(batch)
    shots.take_back(key=key(), shots=logged, by=None)
    assert fresh(batch).mixed_at is not None
    assert "That's it" not in text_of(owner_client.get(url("batch", batch)))
    assert fresh(batch.lot).on_hand == micro(100)
