"""What leaves the shelf without being sold: its cost shows, and no sale does."""

from datetime import date

import pytest
from django.urls import reverse

import inventory.audit
from inventory.models import Entry, Item, Lot
from inventory.services import counts, giving, holding, moving
from inventory.services.posting import LedgerError
from shop import books, stall
from tests import factories
from tests.factories import key, micro
from tests.shop.stalls import bring, left, make_stall
from tests.shop.test_stall import words

pytestmark = pytest.mark.django_db
GIFT, OWN_USE = Entry.Kind.GIFT, Entry.Kind.OWN_USE


@pytest.fixture
def product(make_product):
    return make_product(bagged=12)


@pytest.fixture
def lot(product):
    return Lot.objects.get(item=product.item)


def give(lot, quantity, kind=GIFT, reason="prize for the club"):
    parts = [moving.Part(lot, micro(quantity))]
    return giving.give(key=key(), parts=parts, kind=kind, reason=reason, by=None)


def month():
    return books.months(date.today())[0]


def test_a_gift_leaves_the_shelf_with_its_cost_and_its_reason(lot, product):
    entry = give(lot, 2)
    assert entry.title == f"Given away: 2 {product} of {lot.number}"
    assert entry.note == "prize for the club"
    assert left(product, None) == 10
    # By hand: five baits at 0.10 and a pouch at 0.05 a bag: 2 × 0.55.
    assert str(month().given) == "1.10"
    assert list(inventory.audit.findings()) == []


def test_own_use_has_a_line_of_its_own(lot):
    give(lot, 1, OWN_USE, "fished it myself")
    assert (str(month().own_use), str(month().given)) == ("0.55", "0.00")


def test_neither_is_ever_a_sale(lot):
    give(lot, 2)
    give(lot, 1, OWN_USE)
    assert (month().sold_minor, month().charged_minor, str(month().left)) == (0, 0, "0.00")
    assert not stall.standing_sales().exists()


def test_an_undone_gift_counts_for_nothing(lot, product):
    counts.undo(key=key(), entry=give(lot, 2), by=None)
    assert (left(product, None), str(month().given)) == (12, "0.00")


def test_more_than_is_free_is_refused_with_the_amounts(lot, product):
    holding.reserve("order:1", product.item, micro(8))
    lot.refresh_from_db()
    with pytest.raises(LedgerError, match="5 asked for, 1 short"):
        give(lot, 5)
    give(lot, 4)


def test_what_is_on_hold_is_not_given_away(lot):
    Lot.objects.update(held=True)
    with pytest.raises(LedgerError, match="on hold"):
        give(lot, 1)


def test_a_leftover_is_poured_and_not_given_away():
    lot = factories.make_lot(factories.make_item(Item.Kind.LEFTOVER, "Poured soft"), 50, 2)
    with pytest.raises(LedgerError, match="leftover"):
        give(lot, 10)


def test_only_gifts_and_own_use_are_given(lot):
    with pytest.raises(LedgerError, match="given away or used"):
        give(lot, 1, Entry.Kind.SALE)


def test_from_a_lots_page(owner_client, lot, product):
    address = reverse("inventory:give_lot", args=[lot.pk])
    assert "12 free" in words(owner_client.get(address))
    facts = {"key": key(), "kind": GIFT, "quantity": "2", "reason": "sample for Cove Outfitters"}
    answer = owner_client.post(address, facts)
    assert answer.headers["Location"] == reverse("inventory:lot", args=[lot.pk])
    assert left(product, None) == 10


def test_from_an_items_page_the_oldest_at_home_go_first(helper_client, lot, product):
    bring(product, 2, make_stall())
    address = reverse("inventory:give_item", args=[product.item_id])
    assert "10 free" in words(helper_client.get(address))
    facts = {"key": key(), "kind": OWN_USE, "quantity": "3", "reason": "tested in the pond"}
    assert helper_client.post(address, facts).status_code == 302
    assert left(product, None) == 7


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"quantity": "13"}, "13 wanted, 12 free, 1 short"),
        ({"quantity": "0"}, "more than zero"),
        ({"quantity": "1.5"}, "whole number"),
        ({"quantity": "1000000000000"}, "How much"),
        ({"reason": ""}, "To whom, or what for"),
        ({"kind": "sale"}, "What happened to it"),
        ({"kind": ""}, "What happened to it"),
    ],
)
def test_what_makes_no_sense_is_said_at_the_field_and_kept(
    owner_client, lot, product, change, said
):
    facts = {"key": key(), "kind": GIFT, "quantity": "2", "reason": "prize"} | change
    answer = owner_client.post(reverse("inventory:give_lot", args=[lot.pk]), facts)
    assert answer.status_code == 422
    assert said in words(answer)
    assert f'value="{facts["quantity"]}"' in answer.content.decode()
    assert left(product, None) == 12


def test_the_lots_page_leads_there_and_tells_what_left(owner_client, lot):
    give(lot, 2)
    page = owner_client.get(reverse("inventory:lot", args=[lot.pk]))
    assert reverse("inventory:give_lot", args=[lot.pk]) in page.content.decode()
    assert "Given away: 2" in words(page)


def test_a_lot_that_left_bag_by_bag_shows_the_newest(owner_client, make_product):
    lot = Lot.objects.get(item=make_product("Mud Crawler, Dusk, 5", bagged=20).item)
    for n in range(17):
        give(lot, 1, reason=f"prize {n}")
        lot.refresh_from_db()
    page = words(owner_client.get(reverse("inventory:lot", args=[lot.pk])))
    assert "The newest are shown. Whom all of it reached" in page
