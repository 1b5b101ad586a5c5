"""The shelf, its items and lots."""

from datetime import date

import pytest
from django.urls import reverse

from inventory.models import Lot, Place
from inventory.services import suppliers
from tests import factories
from tests.inventory.pages import page, queries_of

pytestmark = pytest.mark.django_db
SHELF = reverse("inventory:shelf")


def test_an_empty_shelf_says_what_to_do(owner_client, helper_client):
    text = page(owner_client, SHELF)
    assert reverse("inventory:opening") in text
    assert reverse("inventory:receive") in text
    assert reverse("inventory:opening") not in page(helper_client, SHELF)


def test_the_shelf_shows_what_there_is_by_kind_and_place(helper_client, shop):
    rack = Place.objects.create(name="rack by the door")
    factories.make_lot(factories.make_item(name="Copper dusk", place=rack), "118.5")
    factories.make_item("packaging", "Bag 4 x 6 in", "each")
    text = page(helper_client, SHELF)
    assert "118.5 mL" in text
    assert "rack by the door" in text
    assert "Bag 4 x 6 in" in text
    assert text.index("<h2>Colorant</h2>") < text.index("<h2>Packaging</h2>")


def test_at_a_place_only_what_lies_there_is_counted(helper_client, shop):
    item = factories.make_item(name="Copper dusk")
    stall = Place.objects.create(name="stall")
    factories.make_lot(item, 80)
    Lot.objects.filter(pk=factories.make_lot(item, 20).pk).update(place=stall)
    assert "100 mL" in page(helper_client, SHELF)
    text = page(helper_client, SHELF, place=stall.pk)
    assert "20 mL" in text
    assert "100 mL" not in text


@pytest.mark.parametrize("q", ["dusk", "R26", "C-118"])
def test_search_finds_a_name_a_lot_or_a_supplier_lot(helper_client, shop, q):
    lot = factories.make_lot(factories.make_item(name="Copper dusk"), on=date(2026, 1, 5))
    Lot.objects.filter(pk=lot.pk).update(supplier_lot="C-118")
    factories.make_item(name="Pond green")
    text = page(helper_client, SHELF, q=q)
    assert "Copper dusk" in text
    assert "Pond green" not in text


@pytest.mark.parametrize("q", ["zzz", "%", "\0", "'; --", "x" * 500])
def test_a_search_that_finds_nothing_says_so(helper_client, shop, q):
    factories.make_item(name="Pond green")
    assert "Pond green" in page(helper_client, SHELF, q="pond")
    if q != "\0":
        assert "fits this search" in page(helper_client, SHELF, q=q)
    else:
        assert "Pond green" in page(helper_client, SHELF, q=q)


def test_what_is_low_and_what_to_count_stands_out(helper_client, shop):
    low = factories.make_item(name="Copper dusk", minimum=factories.micro(30))
    factories.make_lot(low, 30)
    odd = factories.make_lot(factories.make_item(name="Pond green"), 80)
    Lot.objects.filter(pk=odd.pk).update(count_me=True)
    text = page(helper_client, SHELF)
    assert text.count("badge-low") == 1
    assert text.count("badge-doubt") == 1
    assert "Pond green" not in page(helper_client, SHELF, show="low")
    assert "Copper dusk" not in page(helper_client, SHELF, show="count")


def test_archived_items_are_hidden_until_asked_for(helper_client, shop):
    factories.make_item(name="Copper dusk", archived=True)
    assert "Copper dusk" not in page(helper_client, SHELF)
    assert "Copper dusk" in page(helper_client, SHELF, show="archived")


def test_a_fragment_comes_without_the_frame(helper_client, shop):
    factories.make_item(name="Pond green")
    response = helper_client.get(SHELF, headers={"HX-Request": "true"})
    text = response.content.decode()
    assert 'id="shelf-items"' in text
    assert "<html" not in text


def test_names_are_shown_as_text_never_as_markup(helper_client, shop):
    item = factories.make_item(name="<script>alert(1)</script>")
    for url in (SHELF, reverse("inventory:item", args=[item.pk])):
        assert "<script>alert" not in page(helper_client, url)


@pytest.mark.parametrize("name", ["item", "lot", "count", "waste", "entry", "entry_undo"])
def test_unknown_numbers_are_not_found(owner_client, name):
    page(owner_client, reverse(f"inventory:{name}", args=[999]), 404)


@pytest.mark.parametrize("name", ["item", "lot", "entry"])
def test_pages_that_only_show_take_no_post(owner_client, name):
    lot = factories.make_lot(factories.make_item())
    pk = {"item": lot.item_id, "lot": lot.pk, "entry": lot.movements.get().entry_id}[name]
    assert owner_client.post(reverse(f"inventory:{name}", args=[pk])).status_code == 405


def test_an_item_shows_its_lots_packs_and_movements(owner_client):
    item = factories.make_item(name="Copper dusk")
    lot = factories.make_lot(item, 118, "6.50")
    entry = lot.movements.get().entry
    text = page(owner_client, reverse("inventory:item", args=[item.pk]))
    assert lot.number in text
    assert "6.50 USD" in text
    assert reverse("inventory:entry", args=[entry.pk]) in text
    assert reverse("inventory:pack_new", args=[item.pk]) in text


def test_a_helper_sees_no_cost_of_stock(helper_client, shop):
    lot = factories.make_lot(factories.make_item(), 118, "6.57")
    urls = [
        reverse("inventory:item", args=[lot.item_id]),
        reverse("inventory:lot", args=[lot.pk]),
        reverse("inventory:entry", args=[lot.movements.get().entry_id]),
    ]
    for url in urls:
        text = page(helper_client, url)
        assert "6.57" not in text
        assert "cost" not in text.replace("costs", "")


def test_a_used_up_lot_is_shown_when_asked_for(owner_client):
    lot = factories.make_lot(factories.make_item(), 10)
    url = reverse("inventory:lot", args=[lot.pk])
    owner_client.post(
        reverse("inventory:waste", args=[lot.pk]), {"key": "w", "amount": "10", "reason": "spilled"}
    )
    item = reverse("inventory:item", args=[lot.item_id])
    section = page(owner_client, item).split("Movements")[0]
    assert url not in section
    assert url in page(owner_client, item, lots="all").split("Movements")[0]


def rows_of(count, item=None):
    """So many lots, each at a place and with a pack of its own, as rows that may cost queries."""
    for _ in range(count):
        number = Place.objects.count()
        place = Place.objects.create(name=f"rack {number}")
        mine = item or factories.make_item(minimum=factories.micro(5000), place=place)
        lot = factories.make_lot(mine)
        Lot.objects.filter(pk=lot.pk).update(count_me=True, place=place)
        suppliers.add_pack(
            item=mine,
            supplier=factories.make_supplier(f"Supplier {number}"),
            name="bottle",
            quantity=factories.micro(100),
            price_minor=650,
        )


def test_the_shelf_takes_as_many_queries_for_20_items_as_for_10(helper_client, shop):
    rows_of(10)
    ten = queries_of(helper_client, SHELF)
    rows_of(10)
    assert queries_of(helper_client, SHELF) == ten


def test_an_item_takes_as_many_queries_for_20_lots_as_for_10(owner_client):
    item = factories.make_item()
    url = reverse("inventory:item", args=[item.pk])
    rows_of(10, item)
    ten = queries_of(owner_client, url)
    rows_of(10, item)
    assert queries_of(owner_client, url) == ten


def test_long_lists_are_paged_and_the_search_goes_along(helper_client, shop):
    for number in range(60):
        factories.make_item(name=f"Dusk {number:02d}")
    text = page(helper_client, SHELF, q="dusk")
    assert "Dusk 49" in text
    assert "Dusk 50" not in text
    assert "?q=dusk&amp;page=2" in text
    assert "Dusk 50" in page(helper_client, SHELF, q="dusk", page=2)
    assert "Dusk 50" in page(helper_client, SHELF, q="dusk", page=99)
