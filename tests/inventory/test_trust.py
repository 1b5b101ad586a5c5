"""How far the books of a lot can be trusted: when it was counted, and what was only estimated since."""

from datetime import timedelta

import pytest
from django.utils import timezone

from inventory import queries
from inventory.models import Entry, Lot
from inventory.services import counts, ledger
from inventory.services.posting import posting
from tests import factories
from tests.factories import key, micro

pytestmark = pytest.mark.django_db


@posting
def use(key, *, lot, estimated=False, happened_at=None, by):
    draw = ledger.Draw(lot, micro(1), bench=True, said="a pinch", estimated=estimated)
    event = ledger.Event(Entry.Kind.WASTE, "Used", happened_at=happened_at, draws=[draw])
    return ledger.post(key, event, by=by)


def trust(lot: Lot) -> Lot:
    return queries.with_trust(Lot.objects.all()).get(pk=lot.pk)


def bottle() -> Lot:
    return factories.make_lot(factories.make_item(), 100)


def ago(hours: int):
    return timezone.now() - timedelta(hours=hours)


def test_a_bottle_nobody_counted_and_nobody_guessed_at_is_not_doubtful():
    lot = bottle()
    use(key=key(), lot=lot, by=None)
    assert (trust(lot).last_counted_at, trust(lot).doubtful) == (None, False)


def test_a_pinch_makes_it_doubtful_until_it_is_counted():
    lot = bottle()
    use(key=key(), lot=lot, estimated=True, by=None)
    assert trust(lot).doubtful
    entry = counts.count(key=key(), lot=lot, counted=micro(98), by=None)
    assert (trust(lot).last_counted_at, trust(lot).doubtful) == (entry.happened_at, False)
    use(key=key(), lot=lot, estimated=True, by=None)
    assert trust(lot).doubtful


def test_a_count_as_of_before_the_pinch_leaves_it_doubtful():
    lot = bottle()
    use(key=key(), lot=lot, estimated=True, happened_at=ago(1), by=None)
    counts.count(key=key(), lot=lot, counted=micro(98), counted_at=ago(2), by=None)
    assert trust(lot).doubtful


def test_what_was_undone_neither_doubts_nor_counts():
    lot = bottle()
    pinch = use(key=key(), lot=lot, estimated=True, by=None)
    counts.undo(key=key(), entry=pinch, by=None)
    assert not trust(lot).doubtful
    count = counts.count(key=key(), lot=lot, counted=micro(98), by=None)
    counts.undo(key=key(), entry=count, by=None)
    assert trust(lot).last_counted_at is None


def test_what_many_bottles_held_then_is_one_query(django_assert_num_queries):
    first, second = bottle(), bottle()
    noon = timezone.now()
    use(key=key(), lot=first, by=None)
    first.refresh_from_db()
    with django_assert_num_queries(1):
        assert queries.on_hand_then([first, second], noon) == {
            first.pk: micro(100),
            second.pk: micro(100),
        }


def test_an_entry_posted_after_a_count_it_happened_before_is_named():
    lot = bottle()
    assert queries.late_entry(lot) is None
    count = counts.count(key=key(), lot=lot, counted=micro(98), counted_at=ago(1), by=None)
    use(key=key(), lot=lot, by=None)
    assert queries.late_entry(lot) is None
    late = use(key=key(), lot=lot, happened_at=ago(2), by=None)
    assert queries.late_entry(lot) == (late, count)
