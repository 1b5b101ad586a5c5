"""Every batch of the books adds up, and where someone miscounted the record says so."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.services import counts
from production import batch_balance
from production.models import Batch
from production.services import batches, leftovers, shots
from tests import factories
from tests.factories import key, micro
from tests.production.small_bench import Bench

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench(shop):
    return Bench()


def settle(bench, left_ml, then=leftovers.PUCK, **more):
    leftovers.settle(
        key=key(), batch=bench.batch, measured=micro(left_ml), then=then, by=None, **more
    )


def of(bench):
    batch = Batch.objects.select_related("lot__item").get(pk=bench.batch.pk)
    return batch_balance.of([batch])[batch.pk]


def test_a_measured_rest_near_what_the_books_say_closes(bench):
    bench.shoot(36, count=10)
    settle(bench, 138)
    found = of(bench)
    # 400 − 260 in the molds − 138.
    assert found.imbalance_ml == pytest.approx(2)
    assert found.gave == pytest.approx({"baits": 180, "trim": 80})
    assert found.closes
    assert "adds up" in found.sentence


def test_before_anything_is_measured_the_balance_says_nothing(bench):
    bench.shoot(40, count=10)
    assert "not measured" in of(bench).sentence


def test_ten_baits_that_were_never_logged_are_pointed_out(bench):
    # Twelve and a half shots were made, ten were logged: 65 mL went into ten baits and their sprues.
    bench.shoot(40, count=10)
    settle(bench, 75)
    found = of(bench)
    assert found.imbalance_ml == pytest.approx(65)
    assert not found.closes
    assert "are missing" in found.sentence


def test_ten_baits_counted_too_few_show_when_the_trim_is_weighed(bench):
    # All forty were good, thirty were counted: the books put 50 mL of ten baits into the trim.
    logged = bench.shoot(30, count=10)
    settle(bench, 140)
    assert of(bench).closes
    trim = logged.trim_lot
    counts.count(key=key(), lot=trim, counted=micro(60), by=None)
    found = of(bench)
    assert found.imbalance_ml == pytest.approx(50)
    assert found.baits == 10
    assert not found.closes


def test_a_rest_thrown_away_and_one_that_went_on_are_not_missing(bench):
    bench.shoot(40, count=10)
    moved = [batches.Part(bench.batch.lot.item, micro(40), lot=bench.batch.lot)]
    batches.mix(key=key(), pour=bench.pour, version=None, parts=moved, by=None)
    settle(bench, 100, leftovers.THROW, reason="burnt")
    assert of(bench).imbalance_ml == pytest.approx(0)
    assert of(bench).measured


def test_weighed_base_is_known_better_than_poured_base(bench):
    by_marks = of(bench).base_in.within
    factories.make_lot(bench.version.grade, 400, 20)
    parts = [batches.Part(bench.version.grade, micro(400), said="412 g")]
    bench.batch = batches.mix(
        key=key(), pour=bench.pour, version=bench.version, parts=parts, by=None
    ).batch
    assert of(bench).base_in.within < by_marks


def test_both_cups_of_a_laminate_close(bench):
    soot = factories.make_recipe("Soot Reed", grade=bench.version.grade, doses={})
    factories.make_lot(bench.version.grade, 400, 20)
    pattern = factories.make_laminate("Reed Split", [bench.version, soot], [600_000, 400_000])
    parts = [batches.Part(bench.version.grade, micro(200))]
    dark = batches.mix(key=key(), pour=bench.pour, version=soot, parts=parts, by=None).batch
    shots.shoot(
        key=key(), pour=bench.pour, mold=bench.mold, pattern=pattern,
        batches=[bench.batch, dark], count=5, results=[shots.Result(bench.bait, 20)], by=None,
    )  # fmt: skip
    for batch, left in ((bench.batch, 321), (dark, 147)):
        leftovers.settle(key=key(), batch=batch, measured=micro(left), then=leftovers.PUCK, by=None)
    found = batch_balance.of(Batch.objects.select_related("lot__item"))
    assert [round(found[b.pk].imbalance_ml, 6) for b in (bench.batch, dark)] == [1, 1]
    assert all(one.closes for one in found.values())


def test_twenty_batches_are_balanced_with_as_many_queries_as_two(bench):
    def asked() -> int:
        with CaptureQueriesContext(connection) as queries:
            batch_balance.of(Batch.objects.select_related("lot__item"))
        return len(queries)

    def more(count) -> None:
        for _ in range(count):
            factories.make_lot(bench.version.grade, 100, 5)
            parts = [batches.Part(bench.version.grade, micro(100))]
            bench.batch = batches.mix(
                key=key(), pour=bench.pour, version=bench.version, parts=parts, by=None
            ).batch
            bench.shoot(8, count=2)
            settle(bench, 48)

    more(2)
    first = asked()
    more(4)
    assert asked() == first
