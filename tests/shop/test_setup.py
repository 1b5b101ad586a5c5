"""Setting the shop up: facts, people, places; and what a new shop does first."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from inventory.models import Place, StoredFile
from inventory.services import files
from shop import first_steps
from shop.models import Shop, User
from tests import factories
from tests.inventory.pictures import PDF
from tests.inventory.pictures import picture as draw_picture

pytestmark = pytest.mark.django_db
PASSWORD = "heron lantern gravel"


def test_the_owner_adds_a_helper_who_can_sign_in(owner_client, client):
    data = {"username": "tobin", "role": "helper", "password": PASSWORD}
    assert owner_client.post(reverse("person_new"), data).headers["Location"] == reverse("setup")
    assert User.objects.get(username="tobin").role == "helper"
    answer = client.post(reverse("sign_in"), {"username": "tobin", "password": PASSWORD})
    assert answer.headers["Location"] == reverse("tonight")


def test_names_are_taken_whatever_their_case(owner_client, owner):
    data = {"username": owner.username.upper(), "role": "helper", "password": PASSWORD}
    answer = owner_client.post(reverse("person_new"), data)
    assert answer.status_code == 422
    assert b"has this name already" in answer.content


def test_a_weak_password_is_refused_for_helpers_too(owner_client, helper):
    data = {"username": "ash", "role": "helper", "password": "password123"}
    assert owner_client.post(reverse("person_new"), data).status_code == 422
    url = reverse("person_edit", args=[helper.pk])
    answer = owner_client.post(url, {"role": "helper", "active": "on", "password": "tobin"})
    assert answer.status_code == 422
    helper.refresh_from_db()
    assert not helper.has_usable_password()


def test_a_new_password_for_oneself_keeps_one_signed_in(owner_client, owner):
    url = reverse("person_edit", args=[owner.pk])
    owner_client.post(url, {"role": "owner", "active": "on", "password": PASSWORD})
    owner.refresh_from_db()
    assert owner.check_password(PASSWORD)
    assert owner_client.get(reverse("setup")).status_code == 200


def test_the_only_owner_stays_owner(owner_client, owner):
    url = reverse("person_edit", args=[owner.pk])
    answer = owner_client.post(url, {"role": "helper", "active": "on", "password": ""})
    assert answer.status_code == 422
    assert b"The shop needs an owner" in answer.content
    owner.refresh_from_db()
    assert owner.is_owner


def test_the_shops_facts_are_changed(owner_client):
    facts = {"name": "Gray Heron Baits", "town": "", "units": "metric", "currency": "eur"}
    owner_client.post(reverse("shop_edit"), {**facts, "time_zone": "Europe/Madrid"})
    shop = Shop.objects.get()
    assert (shop.name, shop.units, shop.currency) == ("Gray Heron Baits", "metric", "EUR")
    for wrong in ({"time_zone": "Nowhere"}, {"time_zone": "UTC", "currency": "€"}):
        assert owner_client.post(reverse("shop_edit"), {**facts, **wrong}).status_code == 422


def test_a_place_is_added_once(owner_client):
    owner_client.post(reverse("place_new"), {"name": "Top shelf", "kind": "shelf"})
    again = owner_client.post(reverse("place_new"), {"name": "Top shelf", "kind": "bin"})
    assert again.status_code == 422
    assert Place.objects.get().kind == "shelf"
    assert b"Top shelf" in owner_client.get(reverse("setup")).content


def test_a_new_shop_is_shown_its_first_steps_until_they_are_done(owner_client, shop):
    page = owner_client.get(reverse("tonight")).content.decode()
    for step in first_steps.steps():
        assert f'href="{reverse(step.url_name)}"' in page
    factories.make_cup()
    factories.make_lot(factories.make_item())
    done = [step.url_name for step in first_steps.steps() if step.done]
    assert done == ["inventory:opening", "production:cups"]


def test_a_helper_is_not_sent_to_steps_that_are_shut(helper_client):
    page = helper_client.get(reverse("tonight")).content.decode()
    assert "still setting the shop up" in page
    assert reverse("production:mold_new") not in page


def test_an_empty_field_says_what_to_do(owner_client, shop):
    answer = owner_client.post(reverse("production:bag"), {"key": "k"})
    assert answer.status_code == 422
    text = answer.content.decode()
    assert "Choose one." in text
    assert "Fill this in." in text
    assert "is required" not in text


def test_the_shops_address_and_note_stand_on_its_papers(owner_client, shop):
    facts = {"name": "Lantern Cove", "units": "us", "currency": "USD", "time_zone": "UTC"}
    more = {"address": "12 Slip Road", "email": "a@cove.example", "invoice_note": "In 14 days."}
    owner_client.post(reverse("shop_edit"), facts | more)
    shop.refresh_from_db()
    assert (shop.address, shop.email, shop.invoice_note) == (
        "12 Slip Road",
        "a@cove.example",
        "In 14 days.",
    )
    answer = owner_client.post(reverse("shop_edit"), facts | {"email": "no address"})
    assert answer.status_code == 422 and "12 Slip Road" not in answer.content.decode()


def test_a_logo_is_kept_replaced_and_removed(owner_client, shop):
    url = reverse("shop_logo")
    owner_client.post(url, {"file": SimpleUploadedFile("a.jpg", draw_picture())})
    shop.refresh_from_db()
    first = files.path_of(shop.logo.stored_as)
    assert first.exists()
    owner_client.post(url, {"file": SimpleUploadedFile("b.jpg", draw_picture())})
    shop.refresh_from_db()
    second = files.path_of(shop.logo.stored_as)
    assert second.exists() and second != first
    assert StoredFile.objects.count() == 1
    owner_client.post(url, {"to": "remove"})
    shop.refresh_from_db()
    assert shop.logo is None and not StoredFile.objects.exists()


def test_a_logo_is_a_picture(owner_client, shop):
    url = reverse("shop_logo")
    answer = owner_client.post(url, {"file": SimpleUploadedFile("a.pdf", PDF)})
    assert answer.status_code == 422 and "not a picture" in answer.content.decode()
    assert owner_client.post(url, {}).status_code == 422
    assert not StoredFile.objects.exists()
