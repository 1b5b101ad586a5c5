"""The pages that move goods, from one lot and from a whole place."""

import re

import pytest
from django.urls import reverse

from inventory.models import Entry, Item, Lot, Place
from inventory.services import holding, moving
from tests import factories
from tests.factories import key, micro
from tests.inventory.pages import queries_of

pytestmark = pytest.mark.django_db


def words(answer):
    return " ".join(re.sub(r"<[^>]+>", " ", answer.content.decode()).split())


@pytest.fixture
def stall():
    return Place.objects.create(name="Harbor market", kind=Place.Kind.STALL)


@pytest.fixture
def bags(shop):
    item = factories.make_item(Item.Kind.BAGGED, "Reed Eel, Marsh Lantern, 5", "each")
    return factories.make_lot(item, 12, 30)


def post(client, name, lot, **data):
    return client.post(reverse(name, args=[lot.pk]), {"key": key(), **data})


def test_a_lot_is_moved_from_its_page_and_the_new_one_shown(helper_client, bags, stall):
    address = reverse("inventory:move_lot", args=[bags.pk])
    assert 'value="12"' in helper_client.get(address).content.decode()
    answer = post(helper_client, "inventory:move_lot", bags, quantity="5", place=stall.pk)
    there = Lot.objects.get(place=stall)
    assert answer.headers["Location"] == reverse("inventory:lot", args=[there.pk])
    page = words(helper_client.get(answer.headers["Location"]))
    assert f"Moved from lot {bags.number}" in page
    assert "Harbor market (stall): ours, but not at hand" in page


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"quantity": "13"}, "13 asked for, 12 on hand, 1 short"),
        ({"quantity": "0"}, "more than zero"),
        ({"quantity": "1.5"}, "whole number"),
        ({"quantity": "3 drops"}, "How much"),
        ({"place": ""}, "To :"),
        ({"place": "99"}, "To :"),
    ],
)
def test_what_can_not_be_moved_is_said_and_kept(owner_client, bags, stall, change, said):
    facts = {"quantity": "5", "place": stall.pk} | change
    answer = post(owner_client, "inventory:move_lot", bags, **facts)
    assert answer.status_code == 422
    assert said in words(answer)
    assert f'value="{facts["quantity"]}"' in answer.content.decode()
    assert not Entry.objects.filter(kind=Entry.Kind.MOVE).exists()


def test_bottles_move_in_any_unit_that_they_can_convert(owner_client, shop):
    lot = factories.make_lot(factories.make_item(name="Marsh green"), 100, 12)
    shed = Place.objects.create(name="Shed")
    post(owner_client, "inventory:move_lot", lot, quantity="1 fl oz", place=shed.pk)
    # One US fluid ounce is 29.5735295625 mL (NIST Handbook 44, appendix C).
    assert Lot.objects.get(place=shed).on_hand == 29_573_530


def test_a_moved_bottle_tells_nothing_but_itself_and_leads_to_its_receipt(owner_client, shop):
    lot = factories.make_lot(factories.make_item(name="Marsh green"), 100, 12)
    shed = Place.objects.create(name="Shed")
    post(owner_client, "inventory:move_lot", lot, quantity="40", place=shed.pk)
    there = Lot.objects.get(place=shed)
    page = owner_client.get(reverse("inventory:lot", args=[there.pk])).content.decode()
    assert "What is in it" not in page
    assert "Mend what came" not in page
    assert owner_client.get(reverse("inventory:mend", args=[there.pk])).status_code == 404


def _move_page(to, source="", kind=""):
    return f"{reverse('inventory:move')}?from={source}&to={to}&kind={kind or Item.Kind.BAGGED}"


def test_several_are_moved_at_once_the_oldest_first(helper_client, bags, stall):
    younger = factories.make_lot(bags.item, 3, 9)
    other = factories.make_lot(factories.make_item(Item.Kind.BAGGED, "Mud Crawler", "each"), 4, 8)
    facts = {"key": key(), f"item-{bags.item_id}": "13", f"item-{other.item_id}": "4"}
    assert helper_client.post(_move_page(stall.pk), facts).status_code == 302
    on_hand = {lot.pk: lot.on_hand for lot in Lot.objects.all()}
    assert [on_hand[lot.pk] for lot in (bags, younger, other)] == [0, micro(2), 0]


def test_more_than_is_free_is_said_at_its_item(owner_client, bags, stall):
    holding.reserve("order:1", bags.item, micro(8))
    facts = {"key": key(), f"item-{bags.item_id}": "5"}
    answer = owner_client.post(_move_page(stall.pk), facts)
    assert answer.status_code == 422
    assert "5 wanted, 4 free, 1 short" in words(answer)
    assert 'value="5"' in answer.content.decode()
    assert not Lot.objects.filter(place=stall).exists()


def test_what_went_meanwhile_is_said_at_its_item(owner_client, bags, stall, monkeypatch):
    """Someone holds bags after the form was read and before it is posted."""
    move = moving.move

    def late(**facts):
        holding.reserve("order:1", bags.item, micro(10))
        return move(**facts)

    monkeypatch.setattr(moving, "move", late)
    facts = {"key": key(), f"item-{bags.item_id}": "5"}
    answer = owner_client.post(_move_page(stall.pk), facts)
    assert answer.status_code == 422
    assert "12 on hand, 10 held for orders, 3 short" in words(answer)


def test_from_a_stall_everything_there_can_be_brought_on(owner_client, bags, stall):
    moving.move(key=key(), parts=[moving.Part(bags, micro(5))], place=stall, by=None)
    shelf = Place.objects.create(name="Shelf A")
    answer = owner_client.get(_move_page(shelf.pk, stall.pk))
    assert "Reed Eel, Marsh Lantern, 5" in words(answer)
    facts = {"key": key(), f"item-{bags.item_id}": "5"}
    owner_client.post(_move_page(shelf.pk, stall.pk), facts)
    assert Lot.objects.get(place=shelf).on_hand == micro(5)


@pytest.mark.parametrize("to", ["", "99", "x", "10000000000000000000000"])
def test_a_place_that_is_none_is_asked_for(owner_client, bags, stall, to):
    answer = owner_client.get(_move_page(to))
    assert answer.status_code == 200
    assert "Choose the place that the goods go to." in words(answer)


def test_the_same_place_twice_is_said(owner_client, bags, stall):
    answer = owner_client.get(_move_page(stall.pk, stall.pk))
    assert "the same place twice" in words(answer)


def test_without_a_place_the_page_says_what_to_do(owner_client, helper_client, shop):
    assert reverse("place_new") in owner_client.get(reverse("inventory:move")).content.decode()
    assert "The owner adds places." in words(helper_client.get(reverse("inventory:move")))


def test_the_shelf_by_place_shows_what_lies_at_the_stall(owner_client, bags, stall):
    moving.move(key=key(), parts=[moving.Part(bags, micro(5))], place=stall, by=None)
    page = words(owner_client.get(reverse("inventory:shelf") + "?by=place"))
    assert re.search(r"Harbor market 1 Reed Eel, Marsh Lantern, 5 bagged product 5", page)


def test_the_page_asks_the_same_for_many_items(owner_client, bags, stall):
    few = queries_of(owner_client, _move_page(stall.pk))
    for n in range(10):
        item = factories.make_item(Item.Kind.BAGGED, f"Bait {n}, 5", "each")
        factories.make_lot(item, 3, 1)
    assert queries_of(owner_client, _move_page(stall.pk)) == few
