"""Molds, injectors and cups wear: their shots count towards the service that their owner set."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory import servicing
from inventory.models import Entry
from inventory.services import counts
from production.models import Injector
from production.services import batches, service
from tests import factories
from tests.production import bench_helpers as bench

pytestmark = pytest.mark.django_db


@pytest.fixture
def mold(shop):
    return factories.make_mold(cavities=4, bait_ml=5, shot_ml=26)


@pytest.fixture
def cup(shop):
    return factories.make_cup()


@pytest.fixture
def injector(shop):
    return Injector.objects.create(name="Lantern single", barrel_ml=120)


@pytest.fixture
def shoot(owner_client, mold, cup, injector):
    """shoot(5): five shots out of the cup, by the injector."""
    grade = factories.make_plastisol()
    factories.make_lot(grade, 5000, 40)
    version = factories.make_recipe("Bare Reed", grade=grade, doses={})
    pattern = version.layers.get(share=1_000_000).pattern

    def shoot(count):
        pour = factories.make_pour()
        parts = [batches.Part(grade, factories.micro(390))]
        batches.mix(key=factories.key(), pour=pour, version=version, parts=parts, cup=cup, by=None)
        url = bench.shots_url(pour, mold, pattern) + f"&injector={injector.pk}"
        answer = bench.shoot(owner_client, url, mold, str(count * 4), count=str(count))
        assert answer.status_code == 302
        pour.closed_at = pour.started_at
        pour.save()

    return shoot


def url_of(kind, tool, name="service"):
    return reverse(f"production:{name}", args=[kind, tool.pk])


def labels():
    return [(due.label, due.shots, due.every) for due in servicing.due()]


def test_each_tool_counts_its_own_shots_until_it_is_serviced(
    owner_client, helper_client, shoot, mold, cup, injector
):
    shoot(5)
    assert labels() == []
    for tool, every in ((mold, 5), (cup, 4), (injector, 6)):
        service.set_interval(tool, every)
    # What is furthest over first; the injector has one shot to go.
    assert labels() == [("Cup 1", 5, 4), ("Reed Eel four", 5, 5)]
    tonight = helper_client.get(reverse("tonight")).content.decode()
    assert "Due for service" in tonight and "5 shots, service every 4" in tonight
    assert "Serviced today" not in tonight
    buying = owner_client.get(reverse("inventory:buying")).content.decode()
    assert "Reed Eel four" in buying and "Serviced today" in buying
    owner_client.post(url_of("mold", mold, "serviced"))
    owner_client.post(url_of("cup", cup, "serviced"))
    assert labels() == []
    shoot(3)
    assert labels() == [("Lantern single", 8, 6)]
    text = owner_client.get(url_of("mold", mold)).content.decode()
    assert "<strong>3</strong>" in text and "<strong>8</strong>" in text


def test_undone_shots_wear_nothing(shoot, mold):
    service.set_interval(mold, 5)
    shoot(5)
    counts.undo(key=factories.key(), entry=Entry.objects.get(kind="shots"), by=None)
    assert labels() == []


def test_what_is_due_is_asked_in_one_query_for_each_kind_of_tool(shoot, mold, cup, injector):
    shoot(5)
    for tool in (mold, cup, injector):
        service.set_interval(tool, 5)

    def asked():
        with CaptureQueriesContext(connection) as queries:
            found = labels()
        return len(queries), found

    before, found = asked()
    assert before == 3 and [shots for _, shots, _ in found] == [5, 5, 5]
    for number in range(2, 12):
        service.set_interval(factories.make_cup(number=number), 5)
        Injector.objects.create(name=f"Spare {number}", barrel_ml=60, service_every_shots=1)
    assert asked() == (before, found)
    # Put away, or without an interval: nothing is asked of it.
    mold.archived = True
    mold.save()
    service.set_interval(cup, None)
    assert asked() == (before, [("Lantern single", 5, 5)])


@pytest.mark.parametrize("typed", ["0", "-5", "2.5", "many", "1e309", "NaN"])
def test_an_interval_that_makes_no_sense_is_told_at_its_field(owner_client, mold, typed):
    response = owner_client.post(url_of("mold", mold), {"service_every_shots": typed})
    assert response.status_code == 422
    assert response.context["form"].errors["service_every_shots"]
    assert f'value="{typed}"' in response.content.decode()


def test_an_interval_is_set_and_taken_away_again(owner_client, injector):
    url = url_of("injector", injector)
    owner_client.post(url, {"service_every_shots": "400"})
    injector.refresh_from_db()
    assert injector.service_every_shots == 400
    assert 'value="400"' in owner_client.get(url).content.decode()
    owner_client.post(url, {"service_every_shots": ""})
    injector.refresh_from_db()
    assert injector.service_every_shots is None


def test_service_is_the_owners_and_of_tools_there_are(owner_client, helper_client, mold):
    assert helper_client.get(url_of("mold", mold)).status_code == 403
    assert helper_client.post(url_of("mold", mold, "serviced")).status_code == 403
    assert owner_client.get(url_of("mold", mold, "serviced")).status_code == 405
    for kind, pk in (("mold", mold.pk + 1), ("anvil", mold.pk)):
        url = reverse("production:service", args=[kind, pk])
        assert owner_client.get(url).status_code == 404
