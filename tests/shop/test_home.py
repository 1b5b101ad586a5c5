"""Tonight, the burn page, and the pages for what went wrong."""

from datetime import date

import pytest
from django.test import Client, RequestFactory
from django.urls import reverse

from inventory.models import Lot
from production.services import batches
from shop.views import home
from tests import factories
from tests.factories import key, micro


@pytest.mark.django_db
def test_tonight_says_what_is_due_and_what_it_still_takes(helper_client, make_product, take_order):
    product = make_product("Reed Eel, five", loose=5, bagged=2)
    take_order((product, 6), due_on=date(2020, 1, 2))
    page = helper_client.get(reverse("tonight")).content.decode()
    assert "Juniper Vale" in page and "late" in page
    # Six ordered, two bagged, loose baits for one more: four to fill, three of them to pour.
    assert "Reed Eel, five: 4 bags" in page and "3 to pour" in page


@pytest.mark.django_db
def test_tonight_says_what_can_ship(helper_client, make_product, take_order):
    take_order((make_product(bagged=2), 2))
    assert b"ready to ship" in helper_client.get(reverse("tonight")).content


@pytest.mark.django_db
def test_tonight_says_what_is_low_and_what_wants_counting(helper_client, shop):
    low = factories.make_item(name="Marsh green", minimum=micro(50))
    factories.make_lot(low, 20)
    lot = factories.make_lot(factories.make_item(name="Ember dust"), 20)
    Lot.objects.filter(pk=lot.pk).update(count_me=True)
    page = helper_client.get(reverse("tonight")).content.decode()
    assert "Marsh green" in page and "20 mL" in page and "of 50 mL" in page
    assert reverse("inventory:count", args=[lot.pk]) in page


@pytest.mark.django_db
def test_tonight_leads_to_the_bench_while_a_pour_is_open(helper_client, shop):
    start, bench = reverse("production:pour_start"), "To the bench"
    page = helper_client.get(reverse("tonight")).content.decode()
    assert start in page and bench not in page
    lot = factories.make_lot(factories.make_plastisol(), 1000)
    pour = factories.make_pour()
    part = batches.Part(lot.item, micro(120), lot=lot)
    batches.mix(key=key(), pour=pour, version=None, parts=[part], by=None)
    page = helper_client.get(reverse("tonight")).content.decode()
    assert reverse("production:pour", args=[pour.pk]) in page and "120 mL" in page
    assert start not in page


def test_burn_first_aid_opens_without_a_session_and_without_the_database(client):
    # No database mark: any query would fail this test.
    answer = client.get(reverse("burn"))
    page = answer.content.decode()
    assert answer.status_code == 200
    for words in ("running water", "20 minutes", "peel", "No ice", "emergency help"):
        assert words in page
    assert "Follow the data sheet, local rules and qualified advice" in page


def test_a_failure_is_told_without_the_database_and_without_a_traceback():
    answer = home.failed(RequestFactory().get("/"))
    assert answer.status_code == 500
    assert b"Something went wrong" in answer.content
    assert b"Traceback" not in answer.content
    # What can't wait for the database to be mended.
    assert b"Cool running water, 20 minutes" in answer.content


@pytest.mark.django_db
def test_a_page_that_breaks_is_told_plainly(owner_client, shop):
    owner_client.raise_request_exception = False
    type(shop).objects.update(time_zone="Not/AZone")
    answer = owner_client.get(reverse("tonight"))
    assert answer.status_code == 500
    assert b"Something went wrong" in answer.content
    assert b"Not/AZone" not in answer.content


@pytest.mark.django_db
def test_an_unknown_address_is_told_plainly(owner_client):
    for client in (owner_client, Client()):
        answer = client.get("/no/such/page/")
        assert answer.status_code == 404
        assert b"Nothing here" in answer.content


@pytest.mark.django_db
def test_a_helper_is_told_whom_to_ask(helper_client):
    answer = helper_client.get(reverse("books"))
    assert answer.status_code == 403
    assert b"Only the owner can open this" in answer.content


@pytest.mark.django_db
def test_a_page_left_open_too_long_is_told_plainly(owner):
    client = Client(enforce_csrf_checks=True)
    answer = client.post(reverse("sign_in"), {"username": "wren", "password": "x"})
    assert answer.status_code == 403
    assert b"Please send that again" in answer.content
