"""The page of an entry, tracing, and mending a mistake in the open."""

import pytest
from django.urls import reverse

from inventory.models import Entry, Item, Lot
from inventory.services import counts, ledger, mending
from inventory.services.lots import open_lot
from inventory.services.posting import posting
from tests import factories
from tests.inventory.pages import page, queries_of

pytestmark = pytest.mark.django_db


@posting
def event(key, *, kind, draws, makes=(), reference="", look_at="", by=None):
    """Any event, straight through the ledger's pen."""
    return ledger.post(
        key,
        ledger.Event(
            kind,
            f"{kind} {key.text}",
            reference=reference,
            look_at=look_at,
            draws=[ledger.Draw(lot, quantity, said="a good splash") for lot, quantity in draws],
            makes=[ledger.Make(lot, quantity, base=quantity) for lot, quantity in makes],
        ),
        by=by,
    )


def chain():
    """A received bottle goes into a batch, the batch into bags, the bags to an order."""
    bottle = factories.make_lot(factories.make_plastisol(), 1000, 20)
    day = bottle.received_on
    batch = open_lot(factories.make_item("leftover", "Poured base"), Lot.Form.LIQUID, day)
    bags = open_lot(factories.make_item("bagged product", "Reed Eel", "each"), Lot.Form.BAG, day)
    mixed = event(
        key="mix",
        kind=Entry.Kind.BATCH,
        draws=[(bottle, factories.micro(200))],
        makes=[(batch, factories.micro(200))],
        reference="pour:1",
        look_at="More left than was poured",
    )
    bagged = event(
        key="bag",
        kind=Entry.Kind.BAGGING,
        draws=[(batch, factories.micro(100))],
        makes=[(bags, factories.micro(5))],
    )
    shipped = event(
        key="ship",
        kind=Entry.Kind.SHIPMENT,
        draws=[(bags, factories.micro(2))],
        reference="order:7",
    )
    return bottle, batch, bags, mixed, bagged, shipped


def test_an_entry_shows_its_lines_its_mark_and_what_stands_behind_it(owner_client):
    bottle, batch, _, mixed, _, _ = chain()
    text = page(owner_client, reverse("inventory:entry", args=[mixed.pk]))
    assert "−200 mL" in text
    assert "+200 mL" in text
    assert "a good splash" in text
    assert "−4.00 USD" in text
    assert "More left than was poured" in text
    assert reverse("production:pour", args=[1]) in text
    assert reverse("inventory:lot", args=[bottle.pk]) in text
    assert reverse("inventory:lot", args=[batch.pk]) in text


def test_a_lot_is_traced_back_to_its_bottle_and_forward_to_its_order(helper_client, shop):
    bottle, batch, bags, _, _, shipped = chain()
    start = page(helper_client, reverse("inventory:lot", args=[bottle.pk]))
    for later in (batch, bags):
        assert reverse("inventory:lot", args=[later.pk]) in start
    assert reverse("order", args=[7]) in start
    assert reverse("inventory:entry", args=[shipped.pk]) in start
    end = page(helper_client, reverse("inventory:lot", args=[bags.pk]))
    for earlier in (batch, bottle):
        assert reverse("inventory:lot", args=[earlier.pk]) in end


def test_a_lot_shows_the_share_of_its_mix_that_is_left(helper_client, shop):
    bottle, batch, *_ = chain()
    text = page(helper_client, reverse("inventory:lot", args=[batch.pk]))
    # Half of the batch was drawn, so half of its 200 mL of base is left.
    mix = text.split('aria-label="What is in it"')[1].split("Where it came from")[0]
    assert bottle.item.name in mix
    assert "100 mL" in mix


def test_an_unused_entry_is_undone_and_both_stay_visible(helper_client, shop):
    *_, shipped = chain()
    url = reverse("inventory:entry_undo", args=[shipped.pk])
    assert url in page(helper_client, reverse("inventory:entry", args=[shipped.pk]))
    assert "Undo it" in page(helper_client, url)
    for _ in range(2):
        response = helper_client.post(url, {"key": "u", "note": "wrong parcel"})
        assert response.status_code == 302
    undo = Entry.objects.get(reverses=shipped)
    assert response.url == reverse("inventory:entry", args=[undo.pk])
    old = page(helper_client, reverse("inventory:entry", args=[shipped.pk]))
    assert f'Undone by <a href="{response.url}"' in old
    assert url not in old
    assert shipped.title in page(helper_client, response.url)
    assert "already undone" in page(helper_client, url)


def test_an_entry_in_use_is_kept_and_its_users_are_listed_newest_first(helper_client, shop):
    bottle, _, _, mixed, bagged, _ = chain()
    received = bottle.movements.first().entry
    counts.waste(key="w", lot=bottle, quantity=1, reason="spilled", by=None)
    url = reverse("inventory:entry_undo", args=[received.pk])
    spilled = Entry.objects.get(key="w")
    text = page(helper_client, url)
    newest, older = (reverse("inventory:entry", args=[e.pk]) for e in (spilled, mixed))
    assert text.index(newest) < text.index(older)
    assert reverse("inventory:entry", args=[bagged.pk]) not in text
    response = helper_client.post(url, {"key": "u"})
    assert response.status_code == 422
    assert "Undo these first" in response.content.decode()
    assert not Entry.objects.filter(reverses=received).exists()


def test_an_undo_is_not_undone(helper_client, shop):
    *_, shipped = chain()
    undo = counts.undo(key="u", entry=shipped, by=None)
    url = reverse("inventory:entry_undo", args=[undo.pk])
    assert "itself an undo" in page(helper_client, url)
    response = helper_client.post(url, {"key": "u2"})
    assert response.status_code == 422
    assert "itself an undo" in response.content.decode()


def test_a_leftover_counts_in_mL_of_base(helper_client, shop):
    _, batch, *_ = chain()
    assert batch.item.kind == Item.Kind.LEFTOVER
    assert "mL of base" in page(helper_client, reverse("inventory:count", args=[batch.pk]))


def test_both_versions_of_an_amended_entry_lead_to_each_other(helper_client, shop):
    bottle, batch, *_ = chain()
    first = bottle.movements.first().entry
    second = mending.amend_receipt(
        key="a", lot=bottle, quantity=factories.micro(900), cost=factories.micro(27), by=None
    )
    taken_back = Entry.objects.get(reverses=first)
    addresses = {
        entry.pk: reverse("inventory:entry", args=[entry.pk])
        for entry in (first, second, taken_back)
    }
    old = page(helper_client, addresses[first.pk])
    assert f'Amended: see <a href="{addresses[second.pk]}"' in old
    assert addresses[taken_back.pk] in old
    assert "+1,000 mL" in old
    assert reverse("inventory:entry_undo", args=[first.pk]) not in old
    new = page(helper_client, addresses[second.pk])
    assert f'In place of <a href="{addresses[first.pk]}"' in new
    assert "+900 mL" in new
    assert f'This undoes <a href="{addresses[first.pk]}"' in page(
        helper_client, addresses[taken_back.pk]
    )


def test_a_correction_of_value_says_so_and_moves_nothing(owner_client, helper_client):
    bottle, _, bags, *_ = chain()
    mending.amend_receipt(
        key="a", lot=bottle, quantity=factories.micro(1000), cost=factories.micro(30), by=None
    )
    corrections = Entry.objects.filter(kind=Entry.Kind.REVALUATION)
    assert corrections
    correction = corrections.filter(movements__lot=bags).first()
    text = page(owner_client, reverse("inventory:entry", args=[correction.pk]))
    assert "Value corrected: an earlier entry was amended" in text
    assert "value corrected" in text
    assert reverse("inventory:entry_undo", args=[correction.pk]) not in text
    mended = correction.movements.filter(lot=bags).first().revalues.entry_id
    assert f'of <a href="{reverse("inventory:entry", args=[mended])}"' in text
    moves = page(owner_client, reverse("inventory:item", args=[bags.item_id]))
    assert "value corrected" in moves.split('id="moves"')[1]
    assert "USD" not in page(helper_client, reverse("inventory:entry", args=[correction.pk]))


def test_an_entry_takes_as_many_queries_for_20_lines_as_for_10(owner_client):
    lots = [factories.make_lot(factories.make_item()) for _ in range(20)]
    ten, twenty = (
        event(key=f"k{many}", kind=Entry.Kind.WASTE, draws=[(lot, 1) for lot in lots[:many]])
        for many in (10, 20)
    )
    taken = [
        queries_of(owner_client, reverse("inventory:entry", args=[e.pk])) for e in (ten, twenty)
    ]
    assert taken[0] == taken[1]
