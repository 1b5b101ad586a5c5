"""Hooks and rattles: they lie in the cavity before the shot, and go where their bait goes."""

import pytest

from inventory import queries
from inventory.models import Entry, Lot
from inventory.services import counts
from inventory.services.posting import LedgerError
from production.services import shots, sorting
from tests import factories
from tests.factories import key, micro
from tests.production.small_bench import Bench, books, lots_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def hook():
    item = factories.make_item("part", "Keel hook 3/0", "each")
    factories.make_lot(item, 100, 20)
    return item


@pytest.fixture
def bench(shop, hook):
    made = Bench()
    made.mold.cavities.update(part=hook, parts_each=1)
    return made


def test_hooks_and_their_cost_go_into_the_baits_and_none_into_the_trim(bench, hook):
    logged = bench.shoot(count=3, good=12)
    good = logged.results.get().good_lot
    # 12 baits of 5 mL at 0.05 a mL, and 12 hooks at 0.20.
    assert (good.on_hand, good.cost) == (micro(12), micro("5.40"))
    assert queries.contents_of(good, micro(1))[hook.pk] == micro(1)
    assert hook.lots.get().on_hand == micro(88)
    logged.trim_lot.refresh_from_db()
    assert (logged.trim_lot.on_hand, logged.trim_lot.cost) == (micro(18), micro("0.90"))
    assert hook.pk not in queries.composition(logged.trim_lot)
    assert books() == []


def test_seconds_carry_their_hooks_and_rejects_are_thrown_away_with_theirs(bench, hook):
    logged = bench.shoot(count=3, good=9, seconds=1, reasons=(("air", 2),))
    row = logged.results.get()
    assert queries.composition(row.good_lot)[hook.pk] == micro(9)
    assert queries.composition(row.second_lot)[hook.pk] == micro(1)
    # All twelve cavities held a hook; two rejects of 5 mL don't go back into a cup.
    assert hook.lots.get().on_hand == micro(88)
    assert logged.entry.wasted == micro(10)
    assert logged.trim_lot.on_hand == micro(18)
    assert "thrown away with the rejects" in Entry.objects.get(kind="waste").title
    assert books() == []


def test_two_rattles_in_each_bait_are_two_in_each_bait(bench, hook):
    bench.mold.cavities.update(parts_each=2)
    logged = bench.shoot()
    assert hook.lots.get().on_hand == micro(92)
    assert queries.contents_of(logged.results.get().good_lot, micro(1))[hook.pk] == micro(2)


def test_a_hooked_bait_sorted_out_is_thrown_away_hook_and_all(bench, hook):
    logged = bench.shoot()
    found = bench.sort(logged)
    assert found.entry.wasted == micro(5)
    logged.trim_lot.refresh_from_db()
    assert logged.trim_lot.on_hand == micro(6)
    assert queries.contents_of(logged.results.get().good_lot, micro(1))[hook.pk] == micro(1)
    assert books() == []


def test_hooks_that_the_shelf_did_not_know_of_are_found_and_flagged(bench, hook):
    bench.shoot(count=30, good=120)
    lot = hook.lots.get()
    assert (lot.on_hand, lot.count_me) == (0, True)


def test_a_part_never_received_is_found_and_its_cost_is_not_known(bench):
    bench.mold.cavities.update(part=factories.make_item("part", "Glass rattle", "each"))
    logged = bench.shoot()
    assert logged.results.get().good_lot.cost is None
    assert Lot.objects.get(item__name="Glass rattle").found
    assert books() == []


def test_taking_shots_back_puts_the_hooks_back_too(bench, hook):
    before = lots_of()
    logged = bench.shoot(count=3, good=9, seconds=1)
    shots.take_back(key="back", shots=logged, by=None)
    assert lots_of() == before
    # Pressed twice, undone once.
    shots.take_back(key="back", shots=logged, by=None)
    assert lots_of() == before
    assert books() == []


def test_shots_alone_are_not_undone_under_their_hooks(bench):
    logged = bench.shoot()
    with pytest.raises(LedgerError, match="Keel hook 3/0 in Reed Eel"):
        counts.undo(key=key(), entry=logged.entry, by=None)


def test_a_hooked_reject_can_be_taken_back(bench):
    logged = bench.shoot()
    before = lots_of()
    sorting.put_back(key=key(), sorting=bench.sort(logged), by=None)
    assert lots_of() == before
    assert books() == []
