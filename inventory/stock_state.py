"""The states of stock that ask for a hand: low, expiring, doubtful, dead. One place for their rules.

`items` adds them to a list of items as columns, without a query of its own; `expiring_lots` and
`doubtful_lots` give the lots behind them. Of the ledger's use only the last DEAD_DAYS are read."""

from datetime import date, datetime, timedelta

from django.db.models import BigIntegerField, Exists, OuterRef, Q, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce
from django.utils import timezone

from inventory import queries
from inventory.models import Entry, Item, Lot, Movement

#: So many days ahead a lot counts as expiring; our own choice, no source.
EXPIRING_DAYS = 30
#: Unused for so long it is dead stock; common practice, no source.
DEAD_DAYS = 180

#: The states a list can be narrowed to, in the order of the page.
LOW, EXPIRING, DOUBTFUL, DEAD = "low", "expiring", "doubtful", "dead"
STATES = (LOW, EXPIRING, DOUBTFUL, DEAD)


def expiring_lots(*, today: date | None = None, within: int = EXPIRING_DAYS) -> QuerySet[Lot]:
    """Lots on hand that are expired or will be within so many days."""
    until = (today or timezone.localdate()) + timedelta(days=within)
    return Lot.objects.in_stock().filter(expires_on__lte=until)


def doubtful_lots() -> QuerySet[Lot]:
    """Lots to count, and lots on hand that an estimate (≈) moved after their last count."""
    lots = queries.with_trust(Lot.objects.filter(Q(on_hand__gt=0) | Q(count_me=True)))
    return lots.filter(Q(count_me=True) | Q(doubtful=True))


def used_since(when: datetime) -> QuerySet[Movement]:
    """What standing entries drew since then, as ids of items; a move uses nothing up."""
    # From the entries of that time to their lines, not the other way: old lines are never read.
    entries = Entry.objects.filter(happened_at__gte=when, reversed_by=None)
    entries = entries.exclude(kind__in=[Entry.Kind.REVERSAL, Entry.Kind.MOVE]).values("pk")
    drawn = Movement.objects.filter(entry__in=entries, role=Movement.Role.DRAWN)
    return drawn.values("lot__item")


def items(found: QuerySet[Item], *, now: datetime | None = None) -> QuerySet[Item]:
    """Adds `total` (on hand at all places, millionths) and yes or no columns for the states: `is_low`,
    `is_expiring` and of that `is_expired`, `is_doubtful` and of that `is_to_count`, `is_dead`.

    Low is `queries.low_items`. Dead: some of it has lain there for DEAD_DAYS, and nothing was drawn
    in that time from any lot of the item. `found` may be narrowed further by these columns."""
    now = now or timezone.now()
    today = timezone.localdate(now)
    mine = Lot.objects.filter(item=OuterRef("pk")).order_by()
    # A lot that is used up adds nothing and is not read.
    total = mine.in_stock().values("item").annotate(total=Sum("on_hand")).values("total")
    old = mine.in_stock().filter(received_on__lte=today - timedelta(days=DEAD_DAYS))
    unused = ~Q(pk__in=used_since(now - timedelta(days=DEAD_DAYS)))
    to_count = Exists(mine.filter(count_me=True))
    # Both kinds of doubt asked apart: each finds its few lots by an index of its own.
    estimated = queries.with_trust(Lot.objects.in_stock()).filter(doubtful=True)
    expired = expiring_lots(today=today, within=-1)
    return found.annotate(
        total=Coalesce(Subquery(total, output_field=BigIntegerField()), 0),
        is_low=Q(pk__in=queries.low_items().values("pk")),
        is_expiring=Q(pk__in=expiring_lots(today=today).values("item")),
        is_expired=Q(pk__in=expired.values("item")),
        is_to_count=to_count,
        is_doubtful=to_count | Q(pk__in=estimated.values("item")),
        is_dead=Exists(old) & unused,
    )


def narrowed(found: QuerySet[Item], state: str) -> QuerySet[Item]:
    """Of items with their states, those in one of them."""
    return found.filter(**{f"is_{state}": True})
