"""Mending what was written down when a lot came in."""

import pytest
from django.urls import reverse

import inventory.audit
from inventory.models import Entry, Lot, Place, Supplier
from inventory.services import mending, receiving
from production.services import batches
from tests import factories
from tests.factories import key, micro
from tests.inventory.pages import page

pytestmark = pytest.mark.django_db


@pytest.fixture
def lot():
    return factories.make_lot(factories.make_plastisol(), 1000, 20)


def _sent(lot, **changes):
    figures = {"key": key(), "amount": "1000 mL", "paid": "20.00", "supplier_lot": "", "note": ""}
    return figures | {"supplier": "", "expires_on": "", "place": ""} | changes


def _mend(client, lot, **changes):
    return client.post(reverse("inventory:mend", args=[lot.pk]), _sent(lot, **changes))


def test_a_price_typed_wrong_is_mended_down_to_the_batch_it_went_into(owner_client, lot):
    part = batches.Part(lot.item, micro(100), lot=lot)
    batch = batches.mix(
        key=key(), pour=factories.make_pour(), version=None, parts=[part], by=None
    ).batch
    assert _mend(owner_client, lot, paid="40.00").status_code == 302
    assert Lot.objects.get(pk=lot.pk).cost == micro(36)
    assert Lot.objects.get(pk=batch.lot_id).cost == micro(4)
    assert list(inventory.audit.findings()) == []


def test_both_versions_of_the_receipt_name_each_other(owner_client, lot):
    _mend(owner_client, lot, amount="1 qt", note="it was the small can")
    old = Entry.objects.get(amended_by__isnull=False)
    new = old.amended_by
    assert reverse("inventory:entry", args=[new.pk]) in page(
        owner_client, reverse("inventory:entry", args=[old.pk])
    )
    assert reverse("inventory:entry", args=[old.pk]) in page(
        owner_client, reverse("inventory:entry", args=[new.pk])
    )
    assert Lot.objects.get(pk=lot.pk).on_hand == 946_352_946


def test_the_print_on_the_label_is_mended_without_touching_the_books(owner_client, lot):
    supplier, place = Supplier.objects.create(name="Marsh Supply"), Place.objects.create(name="A")
    _mend(owner_client, lot, supplier=supplier.pk, supplier_lot="K-7", place=place.pk)
    lot.refresh_from_db()
    assert (lot.supplier, lot.supplier_lot, lot.place) == (supplier, "K-7", place)
    assert Entry.objects.count() == 1


def test_the_form_shows_what_is_written_down(owner_client, lot):
    text = page(owner_client, reverse("inventory:mend", args=[lot.pk]))
    assert "1000 mL" in text and "20.00" in text


def test_a_figure_that_is_no_amount_is_said_at_its_field_and_kept(owner_client, lot):
    answer = _mend(owner_client, lot, amount="a lot", supplier_lot="K-9")
    assert answer.status_code == 422
    assert "a lot" in answer.content.decode() and "K-9" in answer.content.decode()
    assert Entry.objects.count() == 1


def test_ten_times_as_much_is_asked_about(owner_client, lot):
    answer = _mend(owner_client, lot, amount="10001 mL")
    assert answer.status_code == 422 and "Yes, really" in answer.content.decode()
    assert _mend(owner_client, lot, amount="10001 mL", really="on").status_code == 302


def test_one_lot_of_an_opening_shelf_is_mended_and_the_others_stay(owner_client):
    items = [factories.make_item(name=f"Dye {n}") for n in range(3)]
    arrivals = [receiving.Arrival(item, micro(50), micro(5)) for item in items]
    receiving.open_shelf(key=key(), arrivals=arrivals, by=None)
    first, *others = Lot.objects.order_by("pk")
    _mend(owner_client, first, amount="30 mL", paid="5.00")
    assert [lot.on_hand for lot in Lot.objects.order_by("pk")] == [
        micro(30),
        micro(50),
        micro(50),
    ]
    assert list(inventory.audit.findings()) == []
    assert mending.receipt_of(others[0]).quantity == micro(50)


def test_a_batch_is_not_mended_here(owner_client, lot):
    part = batches.Part(lot.item, micro(100), lot=lot)
    entry = batches.mix(key=key(), pour=factories.make_pour(), version=None, parts=[part], by=None)
    page(owner_client, reverse("inventory:mend", args=[entry.batch.lot_id]), status=404)
    page(owner_client, reverse("inventory:mend", args=[99_999]), status=404)


def test_only_the_owner_mends_a_receipt(helper_client, lot):
    page(helper_client, reverse("inventory:mend", args=[lot.pk]), status=403)
