"""Composition, cost, melts and genealogy through batches, shots and bags, against hand calculation."""

import pytest

from inventory import lineage, queries
from inventory.models import Lot
from inventory.services import counts
from inventory.services.posting import LedgerError
from production.models import Bagging, Batch, Product, ProductContent, ProductPackaging, Shots
from production.services import bagging, batches, shots
from tests import factories
from tests.factories import key, micro

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench():
    class Bench:
        base = factories.make_plastisol()
        base_lot = factories.make_lot(base, 1000, 50)  # .05 a mL
        dye = factories.make_item("colorant", "Plum dye")
        dye_lot = factories.make_lot(dye, 100, 20)  # .20 a mL
        pour = factories.make_pour()
        mold = factories.make_mold()  # 4 cavities of 5 mL, 26 mL a shot
        version = factories.make_recipe(grade=base, doses={dye: 2})

        def mix(self, base=100, dye=0.0, leftover=None, version=None) -> Batch:
            parts = [batches.Part(self.base, micro(base))] if base else []
            if dye:
                parts.append(batches.Part(self.dye, micro(dye)))
            if leftover:
                lot, quantity = leftover
                parts.append(batches.Part(lot.item, micro(quantity), lot=lot))
            version = version or self.version
            entry = batches.mix(key=key(), pour=self.pour, version=version, parts=parts, by=None)
            return entry.batch

        def shoot(self, *made, count=1, good=4, seconds=0, pattern=None, **facts) -> Shots:
            bait = self.mold.cavities.get().bait
            entry = shots.shoot(
                key=key(),
                pour=self.pour,
                mold=self.mold,
                pattern=pattern or self.version.layers.get().pattern,
                batches=list(made),
                count=count,
                results=[shots.Result(bait, good, seconds)],
                by=None,
                **facts,
            )
            return entry.shots

    return Bench()


def _fresh(lot: Lot) -> Lot:
    return Lot.objects.get(pk=lot.pk)


def test_a_batch_is_a_lot_in_ml_of_base_with_what_it_drew(bench):
    batch = bench.mix(100, dye=2)
    assert batch.lot.on_hand == micro(100)
    assert batch.lot.cost == micro("5.4")  # 100 × .05 + 2 × .20
    assert batch.total == micro(102)
    assert queries.composition(batch.lot) == {bench.base.pk: micro(100), bench.dye.pk: micro(2)}
    assert batch.lot.melts == 1


def test_a_leftover_becomes_the_next_color_by_additions_only_and_melts_once_more(bench):
    pale = bench.mix(100, dye=2)
    dark = bench.mix(60, dye=4, leftover=(pale.lot, 40))
    assert dark.lot.on_hand == micro(100)
    # 40 mL of base at 2 per 100 brings .8 of dye.
    assert queries.composition(dark.lot) == {bench.base.pk: micro(100), bench.dye.pk: micro("4.8")}
    assert dark.lot.cost == micro(60 * 0.05 + 4 * 0.2 + 5.4 * 0.4)
    assert dark.lot.melts == 2
    assert _fresh(pale.lot).on_hand == micro(60)


def test_a_shot_draws_total_volume_times_the_base_share(bench):
    batch = bench.mix(100, dye=2)
    bench.shoot(batch)
    # 26 mL in the mold, of which 100/102 is base.
    assert micro(100) - _fresh(batch.lot).on_hand == 25_490_196


def test_good_baits_bear_their_own_volume_and_what_was_thrown_away(bench):
    batch = bench.mix(104)
    row = bench.shoot(batch, keep_trim=False).results.get()
    assert row.good_lot.on_hand == micro(4)
    assert _fresh(row.good_lot).cost == micro(26 * 0.05)


def test_trim_carries_its_share_of_cost_to_the_next_batch(bench):
    batch = bench.mix(104)
    logged = bench.shoot(batch, good=3)  # one reject and 6 mL of sprue come back
    trim = _fresh(logged.trim_lot)
    assert (trim.on_hand, trim.cost, trim.form) == (micro(11), micro("0.55"), Lot.Form.TRIM)
    assert _fresh(logged.results.get().good_lot).cost == micro("0.75")
    assert logged.results.get().rejects == 1


def test_a_laminate_draws_from_both_batches_by_its_shares_and_its_trim_is_mixed(bench):
    other = factories.make_recipe("Fog Bell", grade=bench.base, doses={bench.dye: 10})
    pattern = factories.make_laminate(
        "Fog over Lantern", [bench.version, other], [600_000, 400_000]
    )
    clear, dark = bench.mix(100), bench.mix(100, dye=10, version=other)
    logged = bench.shoot(clear, dark, pattern=pattern)
    assert micro(100) - _fresh(clear.lot).on_hand == micro("15.6")
    assert micro(100) - _fresh(dark.lot).on_hand == 9_454_545  # 10.4 × 100/110
    trim = queries.composition(logged.trim_lot)
    baits = queries.composition(logged.results.get().good_lot)
    assert trim[bench.dye.pk] + baits[bench.dye.pk] == 945_454  # 9.454545 × .1
    assert trim[bench.base.pk] + baits[bench.base.pk] == micro("15.6") + 9_454_545
    assert trim[bench.dye.pk] / trim[bench.base.pk] == pytest.approx(0.945454 / 25.054545, rel=1e-5)


def test_shots_of_one_evening_from_one_batch_fill_one_lot(bench):
    batch = bench.mix(200)
    first, second = bench.shoot(batch), bench.shoot(batch, count=2, good=8)
    assert first.results.get().good_lot == second.results.get().good_lot
    assert _fresh(first.results.get().good_lot).on_hand == micro(12)


def test_more_shots_than_the_cup_held_is_posted_and_the_batch_is_to_be_counted(bench):
    batch = bench.mix(20)
    bench.shoot(batch)
    lot = _fresh(batch.lot)
    assert (lot.on_hand, lot.count_me) == (0, True)


def test_a_recipe_is_frozen_at_its_first_batch(bench):
    assert bench.version.frozen_at is None
    bench.mix(50)
    bench.version.refresh_from_db()
    assert bench.version.frozen_at is not None


def _product(bench, count=3):
    bag = factories.make_item("packaging", "Bag", "each")
    factories.make_lot(bag, 2, 0.5)
    item = factories.make_item("bagged product", "Reed Eel, three", "each")
    product = Product.objects.create(item=item, price_minor=450)
    pattern = bench.version.layers.get().pattern
    bait = bench.mold.cavities.get().bait
    ProductContent.objects.create(product=product, bait=bait, pattern=pattern, count=count)
    ProductPackaging.objects.create(product=product, item=bag, quantity=micro(1))
    return product


def test_bagging_refuses_missing_baits_and_says_how_many(bench):
    bench.shoot(bench.mix(104))
    with pytest.raises(LedgerError, match="6 wanted, 4 loose"):
        bagging.bag(key=key(), product=_product(bench), bags=2, by=None)
    assert not Bagging.objects.exists()


def test_a_bag_traces_back_to_the_bottle_and_the_bottle_forward_to_the_bag(bench):
    pale = bench.mix(104, dye=2)
    dark = bench.mix(60, dye=3, leftover=(pale.lot, 40))
    bench.shoot(dark)
    bagged = bagging.bag(key=key(), product=_product(bench), bags=1, by=None).bagging.lot
    back = lineage.trace_back(bagged)
    assert {pale.lot, dark.lot, bench.dye_lot, bench.base_lot} <= set(back)
    assert bagged in lineage.trace_forward(bench.dye_lot)


def test_bagging_takes_the_bag_even_when_the_shelf_says_none_is_left(bench):
    bench.shoot(bench.mix(200), count=3, good=12)
    product = _product(bench)
    bagging.bag(key=key(), product=product, bags=4, by=None)
    bag_lot = product.packaging.get().item.lots.get()
    assert (bag_lot.on_hand, bag_lot.count_me) == (0, True)


def test_undo_of_shots_is_refused_while_their_baits_are_bagged(bench):
    logged = bench.shoot(bench.mix(104))
    bagged = bagging.bag(key=key(), product=_product(bench), bags=1, by=None)
    with pytest.raises(LedgerError, match="Bagged 1"):
        counts.undo(key=key(), entry=logged.entry, by=None)
    counts.undo(key=key(), entry=bagged, by=None)
    counts.undo(key=key(), entry=logged.entry, by=None)
