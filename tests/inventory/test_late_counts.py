"""Time is said: what happened before a count but is posted after it, and counts entered late."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory import audit
from inventory.models import Lot
from inventory.services import counts
from inventory.services.posting import LedgerError
from tests import factories
from tests.factories import key, micro
from tests.inventory.pages import page

pytestmark = pytest.mark.django_db


def ago(hours: int):
    return timezone.now() - timedelta(hours=hours)


def old_bottle(held: int = 100) -> Lot:
    """A bottle that was here the day before."""
    yesterday = timezone.localdate() - timedelta(days=1)
    return factories.make_lot(factories.make_item(), held, on=yesterday)


def count(lot: Lot, counted: int, hours: int):
    return counts.count(key=key(), lot=lot, counted=micro(counted), counted_at=ago(hours), by=None)


def spill(lot: Lot, quantity: int, hours: int = 0):
    return counts.waste(
        key=key(),
        lot=lot,
        quantity=micro(quantity),
        reason="spilled",
        happened_at=ago(hours) if hours else None,
        by=None,
    )


def now(lot: Lot) -> Lot:
    return Lot.objects.get(pk=lot.pk)


def test_what_happened_before_a_count_but_is_posted_after_it_asks_for_a_new_one():
    lot = old_bottle()
    count(lot, 90, hours=1)
    spill(lot, 5, hours=2)
    assert (now(lot).count_me, now(lot).on_hand) == (True, micro(85))
    count(lot, 90, hours=0)
    assert (now(lot).count_me, now(lot).on_hand) == (False, micro(90))


def test_what_happened_after_the_count_asks_for_nothing():
    lot = old_bottle()
    count(lot, 90, hours=1)
    spill(lot, 5)
    assert (now(lot).count_me, now(lot).on_hand) == (False, micro(85))


def test_an_undone_count_is_no_count():
    lot = old_bottle()
    undone = count(lot, 90, hours=1)
    counts.undo(key=key(), entry=undone, by=None)
    spill(lot, 5, hours=2)
    assert not now(lot).count_me


def test_a_count_entered_late_leaves_what_was_used_since():
    lot = old_bottle()
    spill(lot, 30)
    # At the hour of the count the books said 100; 30 left since.
    count(lot, 95, hours=1)
    assert now(lot).on_hand == micro(65)


def test_a_count_before_a_later_count_can_change_nothing():
    lot = old_bottle()
    count(lot, 90, hours=1)
    with pytest.raises(LedgerError, match="counted again after that"):
        count(lot, 95, hours=2)
    assert now(lot).on_hand == micro(90)
    assert list(audit.findings()) == []


def test_of_a_round_entered_late_the_lot_counted_since_is_named_and_nothing_is_posted():
    first, second = old_bottle(), old_bottle()
    count(second, 90, hours=1)
    seen = [counts.Seen(first, micro(50)), counts.Seen(second, micro(50))]
    with pytest.raises(counts.RoundRefused) as refused:
        counts.count_round(key=key(), seen=seen, counted_at=ago(2), by=None)
    assert set(refused.value.reasons) == {second.pk}
    assert now(first).on_hand == micro(100)


def test_a_round_is_one_transaction_and_confirms_the_books_of_then():
    first, second = old_bottle(), old_bottle(10)
    spill(first, 30)
    seen = [counts.Seen(second, micro(8), "found"), counts.Seen(first, None)]
    entry = counts.count_round(key="round", seen=seen, counted_at=ago(1), by=None)
    assert entry.key == "round"
    assert (now(first).on_hand, now(second).on_hand) == (micro(70), micro(8))
    again = counts.count_round(key="round", seen=seen, counted_at=entry.happened_at, by=None)
    assert again == entry
    assert list(audit.findings()) == []


def test_the_page_of_the_lot_says_why_it_asks(owner_client):
    lot = old_bottle()
    made = count(lot, 90, hours=1)
    late = spill(lot, 5, hours=2)
    text = page(owner_client, reverse("inventory:lot", args=[lot.pk]))
    assert "Count it again" in text
    assert reverse("inventory:entry", args=[late.pk]) in text
    assert reverse("inventory:entry", args=[made.pk]) in text
