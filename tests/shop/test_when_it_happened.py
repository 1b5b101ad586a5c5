"""What is written down later keeps the time that is said, and the day of that time in the shop.

"An evening keeps the date on which it began" is the project's own rule; no outside source. Chicago
keeps UTC-6 in January (IANA time zone database), so 04:30 UTC is half past ten the evening before.
"""

from datetime import UTC, date, datetime

import pytest
from django.utils import timezone

from inventory.models import Entry
from inventory.services import counts
from production.services import bagging, batches, leftovers, pours, shots
from shop.models import Customer, Order
from shop.services import orders, shipping
from tests import factories
from tests.factories import key, micro

EVENING = datetime(2025, 1, 15, 4, 30, tzinfo=UTC)
AFTER_MIDNIGHT = datetime(2025, 1, 15, 6, 20, tzinfo=UTC)
BEGAN, NEXT_DAY = date(2025, 1, 14), date(2025, 1, 15)


@pytest.fixture(autouse=True)
def chicago(db):
    with timezone.override("America/Chicago"):
        yield


def test_an_evening_past_midnight_keeps_the_date_on_which_it_began():
    base = factories.make_plastisol()
    factories.make_lot(base, 1000, 20, on=date(2025, 1, 2))
    version = factories.make_recipe(grade=base, doses={})
    pour = pours.start(at=EVENING, by=None)
    mixed = batches.mix(
        key=key(),
        pour=pour,
        version=version,
        parts=[batches.Part(base, micro(100))],
        happened_at=AFTER_MIDNIGHT,
        by=None,
    )
    mold = factories.make_mold()
    shot = shots.shoot(
        key=key(),
        pour=pour,
        mold=mold,
        pattern=version.layers.get().pattern,
        batches=[mixed.batch],
        count=1,
        results=[shots.Result(mold.cavities.get().bait, 4)],
        happened_at=AFTER_MIDNIGHT,
        by=None,
    )
    thrown = leftovers.settle(
        key=key(),
        batch=mixed.batch,
        measured=micro(60),
        then=leftovers.THROW,
        reason="scorched",
        happened_at=AFTER_MIDNIGHT,
        by=None,
    )
    closed = pours.close(pour=pour, at=AFTER_MIDNIGHT)
    assert (pour.started_at, pour.business_date) == (EVENING, BEGAN)
    assert closed.closed_at == AFTER_MIDNIGHT
    evening = Entry.objects.filter(reference=f"pour:{pour.pk}")
    assert {mixed, shot, thrown} < set(evening)
    assert set(evening.values_list("kind", flat=True)) == {"batch", "shots", "count", "waste"}
    assert set(evening.values_list("happened_at", "business_date")) == {(AFTER_MIDNIGHT, BEGAN)}
    version.refresh_from_db()
    assert version.frozen_at == AFTER_MIDNIGHT


def test_bags_keep_the_day_in_the_shop_on_which_they_were_made_and_shipped(make_product):
    product = make_product(loose=10)
    bagged = bagging.bag(key=key(), product=product, bags=2, happened_at=EVENING, by=None)
    assert (bagged.happened_at, bagged.business_date) == (EVENING, BEGAN)
    lot = bagged.bagging.lot
    assert lot.received_on == BEGAN
    assert lot.number == "P250114-01"
    order = orders.take(
        customer=Customer.objects.create(name="Juniper Vale"),
        lines=[orders.Wanted(product, 2)],
        ordered_on=BEGAN,
    )
    assert Order.objects.get().ordered_on == BEGAN
    shipped = shipping.ship(key=key(), order=order, happened_at=AFTER_MIDNIGHT, by=None)
    assert (shipped.happened_at, shipped.business_date) == (AFTER_MIDNIGHT, NEXT_DAY)


def test_what_was_thrown_away_is_booked_on_the_day_it_was_thrown_away():
    lot = factories.make_lot(factories.make_item(), 10, on=date(2025, 1, 2))
    wasted = counts.waste(
        key=key(), lot=lot, quantity=micro(4), reason="spilled", happened_at=EVENING, by=None
    )
    assert (wasted.happened_at, wasted.business_date) == (EVENING, BEGAN)


def test_what_says_no_time_happened_when_it_was_posted(make_product):
    before = timezone.now()
    product = make_product(loose=5)
    order = orders.take(
        customer=Customer.objects.create(name="Juniper Vale"), lines=[orders.Wanted(product, 1)]
    )
    bagged = bagging.bag(key=key(), product=product, bags=1, by=None)
    shipped = shipping.ship(key=key(), order=order, by=None)
    pour = pours.start(by=None)
    times = [before, bagged.happened_at, shipped.happened_at, pour.started_at, timezone.now()]
    assert times == sorted(times)
    assert order.ordered_on in {timezone.localdate(before), timezone.localdate()}
