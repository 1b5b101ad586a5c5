"""Sorting out: a good bait turns out to be a second or a reject, and back again."""

import pytest

from inventory.models import Entry, Lot
from inventory.services import counts
from inventory.services.posting import LedgerError
from production import pour_record, tally
from production.models import Shots
from production.services import batches, shots, sorting
from tests.factories import key, micro
from tests.production.small_bench import Bench, books, lots_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench(shop):
    return Bench()


def test_reject_goes_back_into_the_trim_of_its_shots_at_what_it_holds(bench):
    logged = bench.shoot()
    bench.sort(logged)
    # 26 mL of 400 mL for 20: a bait is 5 mL for 0.25, the sprue 6 mL for 0.30.
    logged.trim_lot.refresh_from_db()
    assert (logged.trim_lot.on_hand, logged.trim_lot.cost) == (micro(11), micro("0.55"))
    good = logged.results.get().good_lot
    assert (good.on_hand, good.cost) == (micro(3), micro("0.75"))
    assert bench.counted() == (4, 3, 0, 1)
    assert books() == []


def test_second_becomes_a_second_and_keeps_its_cost(bench):
    logged = bench.shoot()
    bench.sort(logged, "second", "")
    second = Lot.objects.get(item__loose_bait__second=True)
    assert (second.on_hand, second.cost) == (micro(1), micro("0.25"))
    assert bench.counted() == (4, 3, 1, 0)
    assert books() == []


def test_counting_at_once_or_sorting_one_by_one_gives_the_same(bench):
    logged = bench.shoot(4, count=1)
    more = bench.shoot(4)
    bench.sort(logged, "second", "")
    bench.sort(logged)
    bench.sort(more, reason="dent")
    one_by_one, counted = lots_of(), bench.counted()
    for entry in Entry.objects.filter(kind__in=["sorting", "shots"]):
        counts.undo(key=key(), entry=entry, by=None)
    bench.shoot(5, 1, count=2, reasons=(("air", 1), ("dent", 1)))
    assert lots_of() == one_by_one
    assert bench.counted() == counted
    reasons = tally.of(Shots.objects.filter(entry__reversed_by=None)).reasons
    assert reasons == {"air": 1, "dent": 1}


def test_taking_a_sorting_back_makes_the_bait_good_again(bench):
    logged = bench.shoot()
    before = lots_of()
    sorting.put_back(key=key(), sorting=bench.sort(logged), by=None)
    assert lots_of() == before
    assert bench.counted() == (4, 4, 0, 0)
    assert tally.of(Shots.objects.all()).reasons == {}
    assert books() == []


def test_more_than_were_good_cannot_be_sorted_out(bench):
    logged = bench.shoot(3)
    bench.sort(logged, count=2)
    with pytest.raises(LedgerError, match="1 good Reed Eel are left: 2 can't be sorted out"):
        bench.sort(logged, count=2)
    assert bench.counted() == (4, 1, 0, 3)


def test_sorted_out_baits_that_went_on_are_not_taken_back(bench):
    logged = bench.shoot()
    found = bench.sort(logged)
    trim = Lot.objects.get(pk=logged.trim_lot_id)
    parts = [batches.Part(trim.item, trim.on_hand, lot=trim)]
    batches.mix(key=key(), pour=bench.pour, version=None, parts=parts, by=None)
    with pytest.raises(LedgerError, match="used by later entries"):
        sorting.put_back(key=key(), sorting=found, by=None)


def test_where_sprues_are_thrown_away_so_are_rejects(bench):
    logged = bench.shoot(keep_trim=False)
    found = bench.sort(logged)
    assert found.entry.wasted == micro(5)
    assert not Lot.objects.filter(form="trim").exists()
    assert bench.counted() == (4, 3, 0, 1)
    assert books() == []


def test_shots_are_not_undone_under_what_was_sorted_out_of_them(bench):
    logged = bench.shoot()
    bench.sort(logged)
    with pytest.raises(LedgerError, match="Undo these first"):
        shots.take_back(key=key(), shots=logged, by=None)


def test_the_evening_counts_what_was_sorted_out(bench):
    logged = bench.shoot()
    bench.sort(logged)
    bench.sort(logged, "second", "")
    assert pour_record.evenings().get().bait_count == 3
    sums = pour_record.sums(bench.pour)
    assert (sums.baits.good, sums.baits.seconds, sums.baits.rejects) == (2, 1, 1)
    assert sums.baits.yield_percent == 50
    assert sums.trim == micro(11)
