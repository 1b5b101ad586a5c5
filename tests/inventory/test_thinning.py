"""Thinning a bottle of colorant: one weaker, larger lot, traced to both that went into it."""

from datetime import date
from decimal import Decimal

import pytest
from django.urls import reverse

from inventory import audit, lineage, queries
from inventory.models import Entry, Lot
from inventory.services import counts, thinning
from inventory.services.posting import LedgerError
from inventory.services.reversal import StillUsed
from production.models import Batch
from production.services import batches
from tests import factories
from tests.factories import key, micro
from tests.inventory.pages import page, queries_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def dye():
    return factories.make_item(name="Copper dusk", ml_per_drop=Decimal("0.05"))


@pytest.fixture
def bottle(dye):
    return factories.make_lot(dye, 10, 8, expires_on=date(2028, 5, 1))


@pytest.fixture
def oil():
    item = factories.make_item("additive", "Worm oil")
    return factories.make_lot(item, 100, 5, expires_on=date(2027, 5, 1))


def _thin(lot, quantity, oil, oil_quantity, **facts):
    entry = thinning.thin(
        key=key(),
        lot=lot,
        quantity=micro(quantity),
        oil_lot=oil,
        oil_quantity=micro(oil_quantity),
        by=None,
        **facts,
    )
    return entry.movements.get(role="made").lot


def test_ten_ml_with_thirty_of_oil_is_forty_of_a_quarter_strength(dye, bottle, oil):
    # By hand: 10 ÷ 40 = 0.25; cost 8 + 30 × 5 ÷ 100 = 9.50.
    lot = _thin(bottle, 10, oil, 30, ml_per_drop=Decimal("0.03"))
    assert (lot.item, lot.on_hand, lot.strength) == (dye, micro(40), Decimal("0.25"))
    assert (lot.cost, lot.ml_per_drop) == (micro("9.5"), Decimal("0.03"))
    assert lot.expires_on == date(2027, 5, 1)
    assert lot.number.startswith("D")
    assert queries.composition(lot) == {dye.pk: micro(10), oil.item_id: micro(30)}
    assert {parent.pk for parent in lineage.trace_back(lot)} == {bottle.pk, oil.pk}
    assert (bottle.on_hand, oil.on_hand) == (0, micro(70))
    assert list(audit.findings()) == []


def test_thinning_twice_multiplies_the_strengths(dye, bottle, oil):
    # By hand: 10 of 40 (a quarter) with 10 more is an eighth: 2.5 mL of colorant in 20.
    lot = _thin(_thin(bottle, 10, oil, 30), 10, oil, 10)
    assert lot.strength == Decimal("0.125")
    assert queries.composition(lot) == {dye.pk: micro("2.5"), oil.item_id: micro("17.5")}
    assert list(audit.findings()) == []


def test_a_batch_from_a_thinned_bottle_gets_its_colorant_and_its_oil(dye, bottle, oil):
    lot = _thin(bottle, 10, oil, 30)
    base = factories.make_lot(factories.make_plastisol(), 900)
    parts = [batches.Part(base.item, micro(100)), batches.Part(dye, micro(4), lot=lot)]
    batches.mix(key=key(), pour=factories.make_pour(), version=None, parts=parts, by=None)
    mixed = queries.composition(Batch.objects.get().lot)
    assert mixed == {base.item_id: micro(100), dye.pk: micro(1), oil.item_id: micro(3)}
    assert Batch.objects.get().total == micro(104)
    assert list(audit.findings()) == []


def test_thinning_is_undone_exactly_but_not_while_the_bottle_is_used(dye, bottle, oil):
    lot = _thin(bottle, 10, oil, 30)
    entry = Entry.objects.get(kind="thinning")
    spilled = counts.waste(key=key(), lot=lot, quantity=micro(1), reason="spilled", by=None)
    with pytest.raises(StillUsed):
        counts.undo(key=key(), entry=entry, by=None)
    counts.undo(key=key(), entry=spilled, by=None)
    counts.undo(key=key(), entry=entry, by=None)
    for one, quantity, cost in ((bottle, 10, 8), (oil, 100, 5), (lot, 0, 0)):
        one.refresh_from_db()
        assert (one.on_hand, one.cost) == (micro(quantity), micro(cost))
    assert list(audit.findings()) == []


@pytest.mark.parametrize(
    ("quantity", "oil_quantity", "why"),
    [
        (11, 5, "Copper dusk.* short"),
        (5, 101, "Worm oil.* short"),
        (0, 5, "more than zero"),
        (5, 0, "more than zero"),
        ("0.000001", 50, "too thin"),
    ],
)
def test_what_is_not_there_is_not_thinned(bottle, oil, quantity, oil_quantity, why):
    with pytest.raises(LedgerError, match=why):
        _thin(bottle, quantity, oil, oil_quantity)
    assert Lot.objects.count() == 2
    assert not Entry.objects.filter(kind="thinning").exists()


def test_only_colorant_in_ml_is_thinned_and_only_with_an_additive_in_ml(bottle, oil):
    powder = factories.make_lot(factories.make_item("additive", "Salt", "g"), 100)
    paste = factories.make_lot(
        factories.make_item("colorant", "Paste", "g", density_g_per_ml=Decimal("1.1")), 100
    )
    for lot, other, why in (
        (oil, oil, "no colorant"),
        (bottle, bottle, "no additive"),
        (bottle, powder, "Salt is stocked in g"),
        (paste, oil, "Paste is stocked in g"),
    ):
        with pytest.raises(LedgerError, match=why):
            _thin(lot, 1, other, 1)


def test_audit_tells_when_a_strength_was_tampered_with(bottle, oil):
    lot = _thin(bottle, 10, oil, 30)
    Lot.objects.filter(pk=lot.pk).update(strength=Decimal("0.5"))
    assert any("strength" in line for line in audit.findings())


def _url(lot):
    return reverse("inventory:thin", args=[lot.pk])


def test_a_bottle_is_thinned_from_its_page_and_shows_its_strength(owner_client, shop, bottle, oil):
    assert _url(bottle) in page(owner_client, reverse("inventory:lot", args=[bottle.pk]))
    form = page(owner_client, _url(bottle))
    assert 'value="10 mL"' in form
    data = {"key": "k1", "amount": "10 mL", "oil_lot": oil.pk, "oil": "2 tbsp", "ml_per_drop": ""}
    shown = owner_client.post(_url(bottle), data, follow=True).content.decode()
    # By hand: 2 US tablespoons are 29.574 mL (NIST HB 44); 10 ÷ 39.574 = 0.252694.
    assert "strength 0.252694" in shown
    assert "<dt>Strength</dt>" in shown
    again = owner_client.post(_url(bottle), data, follow=True).content.decode()
    assert "strength 0.252694" in again
    assert Entry.objects.filter(kind="thinning").count() == 1


@pytest.mark.parametrize(
    ("changed", "why"),
    [
        ({"amount": "11 mL"}, "short"),
        ({"oil": "3 each"}, "cannot be turned"),
        ({"oil": ""}, "required"),
        ({"oil_lot": "x"}, "valid choice"),
        ({"oil_lot": "9" * 30}, "valid choice"),
        ({"ml_per_drop": "2"}, "at most 1"),
    ],
)
def test_a_thinning_that_cannot_be_is_said_with_what_was_typed(
    owner_client, shop, bottle, oil, changed, why
):
    data = {"key": "k1", "amount": "7 mL", "oil_lot": oil.pk, "oil": "30 mL", "ml_per_drop": ""}
    response = owner_client.post(_url(bottle), data | changed)
    assert response.status_code == 422
    assert why in response.content.decode()
    assert f'value="{(data | changed)["amount"]}"' in response.content.decode()
    assert not Entry.objects.filter(kind="thinning").exists()


def test_oil_is_no_bottle_to_thin_and_a_helper_does_not_thin(
    owner_client, helper_client, shop, bottle, oil
):
    page(owner_client, _url(oil), status=404)
    page(helper_client, _url(bottle), status=403)
    assert _url(bottle) not in page(helper_client, reverse("inventory:lot", args=[bottle.pk]))


def test_more_bottles_of_oil_take_no_more_queries(owner_client, shop, bottle, oil):
    for _ in range(9):
        factories.make_lot(oil.item, 5)
    ten = queries_of(owner_client, _url(bottle))
    for _ in range(10):
        factories.make_lot(oil.item, 5)
    assert queries_of(owner_client, _url(bottle)) == ten
