"""What a bag weighs: by the ledger's own account of what is in it, or by the scale.

Mass is volume × density, and masses add: physics. The densities are the tests' own."""

from decimal import Decimal

import pytest

from inventory.models import Item, Lot
from production import bag_weight
from production.models import Product, ProductContent, ProductPackaging
from production.services import bagging, batches
from tests import factories
from tests.factories import key, micro
from tests.production.small_bench import Bench

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench():
    return Bench()


@pytest.fixture
def pouch():
    pouch = factories.make_item(Item.Kind.PACKAGING, "Clear pouch", "each", weight_g="2.4")
    factories.make_lot(pouch, 100, 5)
    return pouch


def _bag(bench, pouch, bait=None, pattern=None):
    """One bag of four baits in a pouch."""
    item = factories.make_item(Item.Kind.BAGGED, "Reed Eel, four", "each")
    product = Product.objects.create(item=item, price_minor=650)
    ProductContent.objects.create(
        product=product, bait=bait or bench.bait, pattern=pattern or bench.pattern, count=4
    )
    ProductPackaging.objects.create(product=product, item=pouch, quantity=micro(1))
    return bagging.bag(key=key(), product=product, bags=1, by=None).bagging.lot


def _weight(lot):
    lot.refresh_from_db()
    return bag_weight.of_lots([lot])[lot.pk]


def test_plastic_weighs_its_volume_by_its_density_and_the_pouch_is_added(bench, pouch):
    bench.shoot()
    # Four baits of 5 mL at 1.03 g/mL, and 2.4 g of pouch.
    assert _weight(_bag(bench, pouch)).grams == Decimal("23.0")


@pytest.mark.parametrize(
    ("density", "grams"),
    [
        # 400 mL of base and 4 mL of dye: each bait of 5 mL holds both in that proportion.
        ("1.25", Decimal(20) * (400 * Decimal("1.03") + 4 * Decimal("1.25")) / 404),
        # A dose without a density counts at that of the plastic.
        (None, Decimal(20) * Decimal("1.03")),
    ],
)
def test_what_was_stirred_in_counts_too(bench, pouch, density, grams):
    dye = factories.make_item(name="Plum dye", density_g_per_ml=density)
    lot = factories.make_lot(dye, 30, 3)
    batches.add(key=key(), batch=bench.batch, parts=[batches.Part(dye, micro(4), lot=lot)], by=None)
    bench.shoot()
    assert float(_weight(_bag(bench, pouch)).grams) == pytest.approx(float(grams) + 2.4, abs=1e-4)


def test_what_has_no_known_weight_is_named_and_the_whole_stays_unknown(bench, pouch):
    pouch.weight_g = None
    pouch.save()
    Item.objects.filter(kind="plastisol").update(density_g_per_ml=None)
    bench.shoot()
    weight = _weight(_bag(bench, pouch))
    assert weight.grams is None
    assert set(weight.missing) == {"the weight of one Clear pouch", "the density of Soft base"}


def test_baits_from_outside_weigh_what_their_mold_and_plastic_say(bench, pouch):
    from production.services import bait_lots

    factories.make_lot(bait_lots.loose_item(bench.bait, bench.pattern), 8, 1)
    assert _weight(_bag(bench, pouch)).grams == Decimal("23.0")
    bench.mold.cavities.all().delete()
    lot = Product.objects.get().item.lots.get()
    assert _weight(lot).missing == (f"a mold with the volume of {bench.bait}",)


def test_a_bag_on_the_scale_weighs_what_the_scale_says(bench, pouch):
    bench.shoot()
    lot = _bag(bench, pouch)
    lot.item.weight_g = Decimal("24.5")
    lot.item.save()
    assert _weight(lot).grams == Decimal("24.5")


def test_a_product_that_came_from_outside_has_no_weight_until_it_is_weighed(db):
    lot = factories.make_lot(factories.make_item(Item.Kind.BAGGED, "Old stock", "each"), 3, 1)
    assert _weight(lot).missing == ("what one Old stock weighs",)


def test_the_queries_do_not_grow_with_the_lots(bench, pouch, django_assert_num_queries):
    bench.shoot()
    lots = [_bag(bench, pouch)]
    for n in range(4):
        lots.append(factories.make_lot(factories.make_item(Item.Kind.BAGGED, f"Old {n}", "each")))
    lots = Lot.objects.filter(pk__in=[lot.pk for lot in lots]).select_related("item")
    with django_assert_num_queries(3):
        assert len(bag_weight.of_lots(lots)) == 5
