"""The shelf, its items and lots."""

from datetime import date, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory.models import Entry, Lot, Place
from inventory.services import counts, ledger, suppliers
from inventory.services.posting import posting
from tests import factories
from tests.inventory.pages import page, queries_of

pytestmark = pytest.mark.django_db
SHELF = reverse("inventory:shelf")


@posting
def guess(key, *, lot, by=None):
    """A splash out of the lot, marked as an estimate."""
    draw = ledger.Draw(lot, factories.micro(5), estimated=True, said="a splash")
    return ledger.post(key, ledger.Event(Entry.Kind.WASTE, "A splash", draws=[draw]), by=by)


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
    assert text.index("<h2>Colorant <") < text.index("<h2>Packaging <")


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
    assert "Copper dusk" not in page(helper_client, SHELF, show="doubtful")


def test_a_lot_is_expiring_for_thirty_days_and_then_expired(helper_client, shop):
    today = timezone.localdate()
    for name, days in (("Ember", -1), ("Reed", 0), ("Slate", 30), ("Thistle", 31)):
        item = factories.make_item(name=name)
        factories.make_lot(item, 10, expires_on=today + timedelta(days=days))
    used_up = factories.make_item(name="Brine")
    gone = factories.make_lot(used_up, 10, expires_on=today)
    counts.waste(key="w", lot=gone, quantity=factories.micro(10), reason="spilled", by=None)
    text = page(helper_client, SHELF, show="expiring")
    assert all(name in text for name in ("Ember", "Reed", "Slate"))
    assert "Thistle" not in text and "Brine" not in text
    assert text.count(">expired<") == 1
    assert text.count(">expiring</span>") == 2


def test_what_was_only_guessed_at_is_doubtful_until_it_is_counted(helper_client, shop):
    lot = factories.make_lot(factories.make_item(name="Pond green"), 80)
    guess(key="g", lot=lot)
    assert "Pond green" in page(helper_client, SHELF, show="doubtful")
    counts.count(key="c", lot=lot, counted=factories.micro(70), by=None)
    assert "Every lot agrees" in page(helper_client, SHELF, show="doubtful")


def test_dead_stock_lay_half_a_year_and_nothing_of_the_item_was_taken(helper_client, shop):
    today = timezone.localdate()
    old, new = today - timedelta(days=180), today - timedelta(days=179)
    factories.make_lot(factories.make_item(name="Ember"), 10, on=old)
    factories.make_lot(factories.make_item(name="Reed"), 10, on=new)
    used = factories.make_lot(factories.make_item(name="Slate"), 10, on=old)
    counts.waste(key="w", lot=used, quantity=1, reason="spilled", by=None)
    mistaken = factories.make_lot(factories.make_item(name="Thistle"), 10, on=old)
    wasted = counts.waste(key="m", lot=mistaken, quantity=1, reason="spilled", by=None)
    counts.undo(key="u", entry=wasted, by=None)
    factories.make_item(name="Brine")
    text = page(helper_client, SHELF, show="dead")
    assert "Ember" in text and "Thistle" in text
    assert not any(name in text for name in ("Reed", "Slate", "Brine"))


def test_every_state_and_filter_says_how_many_it_leaves(helper_client, shop):
    rack, bin_ = Place.objects.create(name="rack"), Place.objects.create(name="bin 3")
    for name, place in (("Ember", rack), ("Reed", rack), ("Slate", bin_)):
        item = factories.make_item(name=name, minimum=factories.micro(50))
        lot = factories.make_lot(item, 20 if name == "Ember" else 80)
        Lot.objects.filter(pk=lot.pk).update(place=place)
    factories.make_lot(factories.make_flake(), 5)
    response = helper_client.get(SHELF)
    assert {state: count for state, _, count in response.context["states"]} == {
        "low": 1,
        "expiring": 0,
        "doubtful": 0,
        "dead": 0,
    }
    assert response.context["all"] == 4
    assert [(c.label, c.count) for c in response.context["kinds"]] == [
        ("colorant", 3),
        ("flake", 1),
    ]
    assert [(c.label, c.count) for c in response.context["places"]] == [("bin 3", 1), ("rack", 2)]
    # The other filters count: at the rack only one is low, and there are two colorants.
    at_rack = helper_client.get(SHELF, {"place": rack.pk})
    assert [(c.label, c.count) for c in at_rack.context["kinds"]] == [("colorant", 2)]
    # A filter that leaves nothing stays chosen.
    none = helper_client.get(SHELF, {"place": rack.pk, "kind": "flake"}).content.decode()
    assert '<option value="flake" selected>flake (0)</option>' in none


def test_the_shelf_is_walked_place_by_place(helper_client, shop):
    item = factories.make_item(name="Copper dusk")
    for name, quantity in (("stall", 20), ("rack", 80)):
        lot = factories.make_lot(item, quantity)
        Lot.objects.filter(pk=lot.pk).update(place=Place.objects.create(name=name))
    factories.make_lot(factories.make_item(name="Pond green"), 33)
    factories.make_item(name="Slate")
    text = page(helper_client, SHELF, by="place")
    assert text.index("<h2>Rack <") < text.index("80 mL") < text.index("<h2>Stall <")
    assert text.index("<h2>Stall <") < text.index("20 mL") < text.index("<h2>No place")
    assert text.index("<h2>No place") < text.index("33 mL")
    assert "Slate" not in text


def test_amounts_stand_in_the_shops_units_first(helper_client, shop):
    # The US fluid ounce is 29.5735295625 mL: NIST Handbook 44, appendix C.
    factories.make_lot(factories.make_item(), "118.2941182")
    assert "<strong>4 fl oz</strong>" in page(helper_client, SHELF)
    type(shop).objects.update(units="metric")
    text = page(helper_client, SHELF)
    assert "<strong>118.3 mL</strong>" in text and "4 fl oz" in text


def test_how_full_is_drawn_against_the_target(helper_client, shop):
    micro = factories.micro
    factories.make_lot(factories.make_item(minimum=micro(30), target=micro(120)), 60)
    text = page(helper_client, SHELF)
    assert '<rect class="gauge-fill" width="50"' in text
    assert 'class="gauge-minimum" d="M25 0v8"' in text


def test_money_tied_up_is_the_owners_to_see(owner_client, helper_client, shop):
    factories.make_lot(factories.make_item(), 10, "6.57")
    factories.make_lot(factories.make_item(), 10, None)
    text = page(owner_client, SHELF)
    assert "6.57 USD" in text and "1 lot of unknown cost" in text
    assert "6.57" not in page(helper_client, SHELF)
    assert "tied up" not in page(helper_client, SHELF)


@pytest.mark.parametrize(
    "asked",
    [
        {"place": "9" * 40},
        {"place": "x"},
        {"place": "²"},
        {"kind": "fish"},
        {"show": "is_low"},
        {"by": "color"},
        {"page": "-1"},
    ],
)
def test_an_address_that_makes_no_sense_shows_the_shelf(helper_client, shop, asked):
    factories.make_item(name="Pond green")
    assert "Pond green" in page(helper_client, SHELF, **asked)


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


@pytest.mark.parametrize("way", ["", "?by=place", "?show=doubtful", "?show=dead"])
def test_the_shelf_takes_as_many_queries_for_20_items_as_for_10(owner_client, way):
    rows_of(10)
    ten = queries_of(owner_client, SHELF + way)
    rows_of(10)
    assert queries_of(owner_client, SHELF + way) == ten


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
