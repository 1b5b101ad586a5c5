"""What the tests of buying share: a shop that has used something for a while."""

from datetime import date, datetime, timedelta

from django.utils import timezone

from inventory.models import Item, Lot, Pack
from inventory.services import counts, suppliers
from tests import factories
from tests.factories import key, micro


def noon(day: date) -> datetime:
    return timezone.make_aware(datetime(day.year, day.month, day.day, 12))


def days_ago(days: int) -> date:
    return timezone.localdate() - timedelta(days=days)


def make_pack(item: Item, supplier="Gray Heron Supply", quantity=100, price=500, **facts) -> Pack:
    seller = supplier if not isinstance(supplier, str) else factories.make_supplier(supplier)
    name = facts.pop("name", f"{quantity} bottle")
    return suppliers.add_pack(
        item=item,
        supplier=seller,
        name=name,
        quantity=micro(quantity),
        price_minor=price,
        **facts,
    )


def use(lot: Lot, quantity, day: date) -> None:
    """So much of it was used on a day: thrown away, which the ledger books as drawn."""
    counts.waste(
        key=key(), lot=lot, quantity=micro(quantity), reason="used", happened_at=noon(day), by=None
    )


def make_used(item: Item, *, left, every=7, amount=30, weeks=20) -> Lot:
    """`left` on hand after `amount` was used every so many days, for so many weeks."""
    times = list(range(weeks * 7, 0, -every))
    lot = factories.make_lot(item, left + amount * len(times), on=days_ago(weeks * 7))
    for day in times:
        use(lot, amount, days_ago(day))
    lot.refresh_from_db()
    return lot
