"""Goods coming in."""

from datetime import date, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory.models import Entry, Lot, Place
from inventory.services import suppliers
from tests import factories
from tests.inventory.pages import page

pytestmark = pytest.mark.django_db
RECEIVE = reverse("inventory:receive")


def make_pack(item, name="4 fl oz bottle", quantity="118.294118", price_minor=650):
    return suppliers.add_pack(
        item=item,
        supplier=factories.make_supplier(),
        name=name,
        quantity=factories.micro(quantity),
        price_minor=price_minor,
    )


def send(client, item, **typed):
    return client.post(f"{RECEIVE}?item={item.pk}", {"key": "r", **typed})


def test_first_the_item_is_chosen(owner_client):
    item = factories.make_item(name="Copper dusk")
    factories.make_item("leftover", "Poured soft base")
    text = page(owner_client, RECEIVE)
    assert f"?item={item.pk}" in text
    assert "Poured soft base" not in text
    assert "No item is named like" in page(owner_client, RECEIVE, q="zzz")


def test_with_nothing_listed_the_page_says_what_comes_first(owner_client):
    assert reverse("inventory:item_new") in page(owner_client, RECEIVE)


@pytest.mark.parametrize("number", ["999", "abc", "-1", "9" * 40, "²"])
def test_an_unknown_item_leads_back_to_the_choice(owner_client, number):
    assert "What came in?" in page(owner_client, RECEIVE, item=number)


def test_packs_come_in_at_their_listed_price(owner_client):
    item = factories.make_item(name="Copper dusk")
    pack = make_pack(item)
    assert "4 fl oz bottle" in page(owner_client, RECEIVE, item=item.pk)
    response = send(owner_client, item, pack=pack.pk, packs="3", supplier_lot="C-118")
    assert response.url == reverse("inventory:item", args=[item.pk])
    lot = Lot.objects.get()
    assert lot.on_hand == 3 * 118_294_118
    assert lot.cost == factories.micro("19.50")
    assert (lot.supplier_lot, lot.supplier) == ("C-118", pack.supplier)
    entry = Entry.objects.get(key="r")
    assert entry.title.endswith("from Gray Heron Supply")
    assert entry.movements.get().said == "3 × 4 fl oz bottle"


def test_the_price_really_paid_goes_before_the_listed_one(owner_client):
    item = factories.make_item()
    send(owner_client, item, pack=make_pack(item).pk, packs="3", paid="0")
    assert Lot.objects.get().cost == 0


def test_an_amount_without_a_price_has_an_unknown_cost(owner_client):
    item = factories.make_item()
    shelf = Place.objects.create(name="rack")
    send(
        owner_client,
        item,
        amount="1 qt",
        place=shelf.pk,
        received_on="2026-11-02",
        expires_on="2028-03-31",
    )
    lot = Lot.objects.get()
    # A US quart is 946.352946 mL: NIST Handbook 44, appendix C.
    assert (lot.on_hand, lot.cost, lot.place) == (946_352_946, None, shelf)
    assert (lot.received_on, lot.expires_on) == (date(2026, 11, 2), date(2028, 3, 31))
    assert "unknown" in page(owner_client, reverse("inventory:lot", args=[lot.pk]))


def test_the_usual_place_is_taken_when_none_is_named(owner_client):
    rack = Place.objects.create(name="rack")
    send(owner_client, factories.make_item(place=rack), amount="10")
    assert Lot.objects.get().place == rack


def test_receive_another_leads_back_to_the_choice(owner_client):
    response = send(owner_client, factories.make_item(), amount="10", another="yes")
    assert response.url == RECEIVE


def test_the_same_form_sent_twice_receives_once(owner_client):
    item = factories.make_item()
    for _ in range(2):
        assert send(owner_client, item, amount="10").status_code == 302
    assert Lot.objects.count() == 1


def test_a_spent_key_with_other_numbers_receives_nothing(owner_client):
    item = factories.make_item()
    send(owner_client, item, amount="10")
    response = send(owner_client, item, amount="20")
    assert response.status_code == 422
    assert response.context["form"]["key"].value() != "r"
    assert Lot.objects.count() == 1


@pytest.mark.parametrize(
    ("field", "text"),
    [
        ("amount", ""),
        ("amount", "NaN"),
        ("amount", "1,5 qt"),
        ("amount", "-2"),
        ("amount", "0"),
        ("amount", "1e309"),
        ("amount", "2 lb"),
        ("paid", "12,50"),
        ("paid", "-1"),
        ("expires_on", "31.03.2028"),
        ("received_on", "2026-02-30"),
    ],
)
def test_what_is_not_understood_is_kept_and_not_received(owner_client, field, text):
    typed = {"amount": "10", "note": "two dents", field: text}
    response = send(owner_client, factories.make_item(), **typed)
    content = response.content.decode()
    assert response.status_code == 422
    assert list(response.context["form"].errors) == [field]
    assert "two dents" in content
    assert not text or f'value="{text}"' in content
    assert not Entry.objects.exists()


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({}, "amount"),
        ({"packs": "2"}, "pack"),
        ({"pack": True}, "packs"),
        ({"pack": True, "packs": "2", "amount": "10"}, "amount"),
        ({"pack": True, "packs": "0"}, "packs"),
        ({"pack": True, "packs": "1.5"}, "packs"),
    ],
)
def test_either_packs_or_an_amount(owner_client, typed, field):
    item = factories.make_item()
    pack = make_pack(item)
    response = send(
        owner_client, item, **{**typed, **({"pack": pack.pk} if "pack" in typed else {})}
    )
    assert response.status_code == 422
    assert list(response.context["form"].errors) == [field]
    assert not Lot.objects.exists()


def test_another_items_pack_is_not_taken(owner_client):
    pack = make_pack(factories.make_item())
    item = factories.make_item()
    make_pack(item)
    assert send(owner_client, item, pack=pack.pk, packs="1").status_code == 422


def test_goods_are_not_received_tomorrow(owner_client):
    tomorrow = (timezone.localdate() + timedelta(days=1)).isoformat()
    response = send(owner_client, factories.make_item(), amount="10", received_on=tomorrow)
    assert "future" in response.context["form"].errors["received_on"][0]


def test_counted_things_come_in_whole(owner_client):
    hooks = factories.make_item("part", "Long hook", "each")
    assert send(owner_client, hooks, amount="2.5").status_code == 422
    send(owner_client, hooks, amount="2 dozen")
    assert Lot.objects.get().on_hand == factories.micro(24)


def test_a_helper_does_not_receive(helper_client, shop):
    assert helper_client.get(RECEIVE).status_code == 403
    assert send(helper_client, factories.make_item(), amount="10").status_code == 403


def test_a_price_beyond_what_can_be_kept_is_refused(owner_client):
    item = factories.make_item()
    pack = make_pack(item, price_minor=100_000_000_000)
    response = send(owner_client, item, pack=pack.pk, packs="10000")
    assert "more than can be kept" in response.context["form"].errors["packs"][0]
