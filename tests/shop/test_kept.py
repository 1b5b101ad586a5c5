"""A sign-in that lapsed during a pour: what was typed survives, and goes nowhere by itself."""

from datetime import timedelta

import pytest
import time_machine
from django.core import signing
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inventory.models import Entry
from production.services import batches
from shop import kept
from shop.models import User
from tests import factories
from tests.production.bench_helpers import filled_in, text_of
from tests.production.live import Live

pytestmark = pytest.mark.django_db
PASSWORD = "heron lantern gravel"


@pytest.fixture
def live(shop):
    return Live()


@pytest.fixture
def wren(shop):
    return User.objects.create_user("wren", password=PASSWORD, role="owner")


@pytest.fixture
def phone(wren):
    client = Client()
    client.force_login(wren, backend="django.contrib.auth.backends.ModelBackend")
    return client


def lapse(client) -> None:
    del client.cookies["sessionid"]


def sign_in(client, page):
    data = {"username": "wren", "password": PASSWORD, "kept": page.context["kept"], "next": "/"}
    return client.post(reverse("sign_in"), data)


def leftover(live):
    batch = live.mix()
    return batch, reverse("production:leftover", args=[live.pour.pk, batch.pk])


def test_what_was_typed_can_be_sent_after_signing_in(phone, live):
    batch, address = leftover(live)
    data = filled_in(phone.get(address).context["form"]) | {"amount": "51 mL", "then": "puck"}
    lapse(phone)
    page = phone.post(address, data)
    assert page.status_code == 401
    assert "What you typed is kept" in text_of(page)
    offered = sign_in(phone, page)
    assert "51 mL" in text_of(offered)
    assert not Entry.objects.filter(kind="count").exists()
    found = offered.context["kept"]
    assert found.path == address
    assert phone.post(found.path, dict(found.fields)).status_code == 302
    batch.refresh_from_db()
    assert batch.settled == "puck"
    assert Entry.objects.filter(kind="count").count() == 1


def test_it_survives_a_wrong_password(phone, live):
    _batch, address = leftover(live)
    lapse(phone)
    page = phone.post(address, {"amount": "51 mL"})
    wrong = {"username": "wren", "password": "guess", "kept": page.context["kept"]}
    again = phone.post(reverse("sign_in"), wrong)
    assert again.status_code == 422
    assert again.context["kept"] == page.context["kept"]


def test_a_password_is_never_carried(phone):
    lapse(phone)
    page = phone.post(reverse("person_new"), {"username": "x", "password": "secret heron"})
    assert page.status_code == 401
    assert "secret heron" not in page.content.decode()
    assert "was not kept" in text_of(page)


def test_more_than_a_page_can_carry_is_not_kept_and_said_so(phone):
    lapse(phone)
    page = phone.post(reverse("production:plastic_new"), {"note": "x" * 60_000})
    assert not page.context["kept"]
    assert "was not kept" in text_of(page)


@pytest.mark.parametrize("path", ["//elsewhere.example/x", "https://elsewhere.example", "/\\else"])
def test_it_never_leads_to_another_site(path):
    assert kept.unpack(signing.dumps([path, []], salt=kept.SALT)) is None


def test_what_nobody_here_signed_is_ignored(phone, wren):
    lapse(phone)
    data = {"username": "wren", "password": PASSWORD, "kept": "made-up:text"}
    answer = phone.post(reverse("sign_in"), data)
    assert answer.status_code == 302


def test_it_is_forgotten_after_the_night(phone, live):
    _batch, address = leftover(live)
    lapse(phone)
    text = phone.post(address, {"amount": "51 mL"}).context["kept"]
    with time_machine.travel(timezone.now() + timedelta(hours=13)):
        assert kept.unpack(text) is None


def test_a_form_from_elsewhere_is_still_refused(live, wren):
    _batch, address = leftover(live)
    strict = Client(enforce_csrf_checks=True)
    assert strict.post(address, {"amount": "51 mL"}).status_code == 403


def test_a_page_that_asks_by_itself_is_told_in_words_and_stops(live):
    owner_page = reverse("production:pour", args=[live.pour.pk])
    factories.make_user()
    headers = {"HX-Request": "true", "HX-Current-URL": f"http://testserver{owner_page}"}
    answer = Client().get(reverse("production:pour_live", args=[live.pour.pk]), headers=headers)
    assert answer.status_code == 286
    assert answer["HX-Retarget"] == "#messages"
    assert "You are signed out" in text_of(answer)
    assert f"next={owner_page}".replace("/", "%2F") in answer.content.decode()


def test_a_press_that_came_too_late_says_that_it_was_not_counted(live):
    batch = live.mix()
    factories.make_user()
    address = reverse("production:tally", args=[live.pour.pk, batch.pk])
    answer = Client().post(address, {"do": "shot"}, headers={"HX-Request": "true"})
    assert answer.status_code == 401
    assert "This press was not counted" in text_of(answer)


def test_a_session_in_use_never_lapses(phone, live):
    for days in range(0, 80, 20):
        with time_machine.travel(timezone.now() + timedelta(days=days)):
            assert phone.get(reverse("production:pour", args=[live.pour.pk])).status_code == 200


def test_asking_every_few_seconds_writes_nothing(phone, live, django_assert_max_num_queries):
    batches.degas(batch=live.mix(), degassed=True)
    address = reverse("production:pour_live", args=[live.pour.pk])
    phone.get(address)
    with django_assert_max_num_queries(60) as seen:
        phone.get(address)
    assert not [q for q in seen if q["sql"].startswith(("INSERT", "UPDATE", "DELETE"))]
