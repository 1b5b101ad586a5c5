"""Dosing from a thinned bottle: dose ÷ strength, in drops of its own size."""

from decimal import Decimal

import pytest

from inventory import audit, queries
from inventory.models import Entry, Lot
from inventory.services import thinning
from production import batch_plan
from production.models import Batch
from tests import factories
from tests.factories import key, micro
from tests.production import bench_helpers as bench

pytestmark = pytest.mark.django_db


@pytest.fixture
def base():
    item = factories.make_plastisol()
    factories.make_lot(item, 2000, 40)
    return item


@pytest.fixture
def moss():
    return factories.make_item(name="Moss tint", ml_per_drop=Decimal("0.05"))


@pytest.fixture
def oil():
    return factories.make_lot(factories.make_item("additive", "Worm oil"), 100, 5)


@pytest.fixture
def version(base, moss):
    return factories.make_recipe("Moss Lantern", grade=base, doses={moss: 1})


@pytest.fixture
def thinned(moss, oil):
    """40 mL of a quarter strength, 0.04 mL to a drop."""
    entry = thinning.thin(
        key=key(),
        lot=factories.make_lot(moss, 10, 8),
        quantity=micro(10),
        oil_lot=oil,
        oil_quantity=micro(30),
        ml_per_drop=Decimal("0.04"),
        by=None,
    )
    return entry.movements.get(role="made").lot


@pytest.fixture
def pour(shop):
    return factories.make_pour()


def test_a_quarter_strength_bottle_gives_four_times_the_dose(version, thinned):
    # By hand: 1 mL to 100 mL of base, 30 mL of base: 0.3 mL ÷ 0.25 = 1.2 mL = 30 drops of 0.04 mL.
    dose = batch_plan.plan(version, micro(30)).doses[0]
    assert (dose.target, dose.add, dose.draw) == (micro("0.3"), micro("0.3"), micro("1.2"))
    assert "30 drops" in [way.text for way in dose.measures]


def test_a_bottle_as_bought_gives_the_dose_itself(version, moss):
    factories.make_lot(moss, 10)
    dose = batch_plan.plan(version, micro(30)).doses[0]
    assert (dose.add, dose.draw) == (micro("0.3"), micro("0.3"))
    assert "6 drops" in [way.text for way in dose.measures]


def test_the_mix_page_offers_the_thinned_amount_and_the_batch_gets_its_dose(
    owner_client, pour, version, base, moss, oil, thinned
):
    url = bench.plan_url(pour, version.pk, base="30 mL")
    text = bench.text_of(owner_client.get(url))
    assert f"1.2 mL of {thinned.number}, thinned to 0.25" in text
    bench.mix(owner_client, url)
    lot = Batch.objects.get().lot
    assert queries.composition(lot) == {
        base.pk: micro(30),
        moss.pk: micro("0.3"),
        oil.item_id: micro("0.9"),
    }
    assert list(audit.findings()) == []


def test_the_thinned_bottle_is_chosen_though_a_full_one_stands_behind_it(
    owner_client, pour, version, moss, thinned
):
    full = factories.make_lot(moss, 10, 8)
    Lot.objects.filter(pk=thinned.pk).update(expires_on="2026-12-01")
    url = bench.plan_url(pour, version.pk, base="30 mL")
    assert "strength 0.25" in bench.text_of(owner_client.get(url))
    bench.mix(owner_client, url)
    drawn = Entry.objects.get(kind="batch").movements.filter(lot__item=moss)
    assert [(line.lot, line.quantity) for line in drawn] == [(thinned, -micro("1.2"))]
    full.refresh_from_db()
    assert full.on_hand == micro(10)


def test_drops_from_another_bottle_are_drops_of_its_own_size(
    owner_client, pour, version, moss, thinned
):
    full = factories.make_lot(moss, 10, 8)
    url = bench.plan_url(pour, version.pk, base="30 mL")
    changes = {f"lot_{moss.pk}": full.pk, f"dose_{moss.pk}": "6 drops"}
    bench.mix(owner_client, url, **changes)
    # By hand: 6 × 0.05 mL, the item's drop, not 6 × 0.04 mL.
    line = Entry.objects.get(kind="batch").movements.get(lot__item=moss)
    assert (line.lot, line.quantity) == (full, -micro("0.3"))


def test_oil_from_a_thinned_bottle_does_not_keep_a_leftover_out(
    owner_client, pour, version, thinned
):
    bench.mix(owner_client, bench.plan_url(pour, version.pk, base="30 mL"))
    plan = batch_plan.plan(version, micro(30), Batch.objects.get().lot)
    assert (plan.use, plan.fresh) == (micro(30), 0)
    assert [dose.draw for dose in plan.doses] == [0]
