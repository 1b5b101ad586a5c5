"""An empty bottle: closed with one button, and asked how large its drops were."""

from decimal import Decimal

import pytest
from django.urls import reverse

from inventory.models import Entry, Item, Lot
from inventory.services import counts, ledger
from inventory.services.posting import posting
from tests import factories
from tests.factories import key, micro
from tests.inventory.pages import page

pytestmark = pytest.mark.django_db


@posting
def dose(key, *, lot, quantity, said, by):
    draw = ledger.Draw(lot, micro(quantity), bench=True, said=said)
    return ledger.post(key, ledger.Event(Entry.Kind.WASTE, "Dosed", draws=[draw]), by=by)


def bottle(held=30, drop="0.05") -> Lot:
    item = factories.make_item(name="Copper dusk", ml_per_drop=Decimal(drop))
    return factories.make_lot(item, held)


def url(name: str, lot: Lot) -> str:
    return reverse(f"inventory:{name}", args=[lot.pk])


def close(client, lot: Lot):
    return client.post(url("empty", lot), {"key": "e"})


def test_an_empty_bottle_is_closed_with_one_button(helper_client, shop):
    lot = bottle()
    assert url("empty", lot) in page(helper_client, url("lot", lot))
    assert "still hold 30 mL" in page(helper_client, url("empty", lot))
    for _ in range(2):
        assert close(helper_client, lot).status_code == 302
    lot.refresh_from_db()
    entry = Entry.objects.get(kind="count")
    assert (lot.on_hand, entry.note) == (0, "it is empty")


def test_the_drops_logged_tell_the_size_and_the_owner_may_keep_it(owner_client):
    lot = bottle()
    for _ in range(4):
        dose(key=key(), lot=lot, quantity="6.25", said="125 drops", by=None)
    response = close(owner_client, lot)
    assert response.url == url("emptied", lot)
    text = page(owner_client, url("emptied", lot))
    # 30 mL ÷ 500 drops, ± 3 % of the bottle.
    assert "0.06 <small>mL a drop" in text
    assert "between 0.0582 and 0.0618" in text
    assert "outside of this range" in text
    assert Item.objects.get().ml_per_drop == Decimal("0.05")
    assert owner_client.post(url("emptied", lot)).status_code == 302
    assert Item.objects.get().ml_per_drop == Decimal("0.06")
    assert url("emptied", lot) in page(owner_client, url("lot", lot))


def test_a_helper_sees_the_size_and_keeps_nothing(helper_client, shop):
    lot = bottle()
    dose(key=key(), lot=lot, quantity=25, said="500 drops", by=None)
    close(helper_client, lot)
    assert "The owner can keep this size" in page(helper_client, url("emptied", lot))
    assert helper_client.post(url("emptied", lot)).status_code == 403


def test_a_bottle_poured_by_the_spoon_tells_nothing_about_drops(owner_client):
    lot = bottle()
    dose(key=key(), lot=lot, quantity=28, said="28 mL", by=None)
    close(owner_client, lot)
    assert "None of it was logged in drops." in page(owner_client, url("emptied", lot))
    assert owner_client.post(url("emptied", lot)).status_code == 200
    assert Item.objects.get().ml_per_drop == Decimal("0.05")


def test_a_size_that_can_hardly_be_is_doubted(owner_client):
    lot = bottle()
    dose(key=key(), lot=lot, quantity=10, said="200 drops", by=None)
    close(owner_client, lot)
    # 30 mL ÷ 200 drops is three times the 0.05 mL of the books.
    text = page(owner_client, url("emptied", lot))
    assert "can hardly be true" in text
    assert "used and not logged" in text


def test_an_undone_dose_is_no_dose(owner_client):
    lot = bottle()
    dose(key=key(), lot=lot, quantity=10, said="500 drops", by=None)
    counts.undo(
        key=key(), entry=dose(key=key(), lot=lot, quantity=5, said="900 drops", by=None), by=None
    )
    close(owner_client, lot)
    assert "0.06 <small>mL a drop" in page(owner_client, url("emptied", lot))


def test_a_thinned_bottle_says_nothing_about_the_others(owner_client):
    lot = bottle()
    Lot.objects.filter(pk=lot.pk).update(strength=Decimal("0.5"))
    dose(key=key(), lot=lot, quantity=10, said="500 drops", by=None)
    close(owner_client, lot)
    assert "was thinned" in page(owner_client, url("emptied", lot))
    owner_client.post(url("emptied", lot))
    assert Item.objects.get().ml_per_drop == Decimal("0.05")


def test_a_jar_of_flake_tells_the_weight_of_a_teaspoon(owner_client):
    lot = factories.make_lot(factories.make_flake(), 20)
    dose(key=key(), lot=lot, quantity=12, said="8 tsp", by=None)
    close(owner_client, lot)
    # 20 g ÷ 8 level teaspoons.
    assert "2.5 <small>g a teaspoon" in page(owner_client, url("emptied", lot))


@pytest.mark.parametrize("name", ["empty", "emptied"])
def test_an_unknown_lot_is_not_found(owner_client, name):
    page(owner_client, reverse(f"inventory:{name}", args=[999]), 404)


def test_a_bottle_nobody_saw_empty_tells_nothing(owner_client):
    lot = bottle()
    page(owner_client, url("emptied", lot), 404)
    dose(key=key(), lot=lot, quantity=30, said="600 drops", by=None)
    page(owner_client, url("emptied", lot), 404)


def test_a_lot_says_why_it_is_doubtful(helper_client, shop):
    from tests.inventory.test_trust import use

    lot = bottle()
    use(key=key(), lot=lot, estimated=True, by=None)
    text = page(helper_client, url("lot", lot))
    assert "Doubtful (≈)" in text
    assert "it was never counted" in text
