"""How much of each item was used on each day, read from the ledger: one query for any number of items."""

from collections.abc import Sequence
from datetime import date, timedelta

from django.db.models import CharField, Min, Q, Sum
from django.db.models.functions import Cast

from inventory import queries, units
from inventory.models import Entry, Item, Lot, Movement

#: So many days back the list looks; older use says little about now (our own choice, no source).
DAYS = 365

#: Use is what was drawn and what counts found missing. What the bench found beside the books was drawn,
#: too, and stands in the draw. A move, or thinning a colorant, puts it into another lot: no use of it.
_USED = Q(role=Movement.Role.DRAWN) | Q(role=Movement.Role.COUNTED, quantity__lt=0)
_MOVED = Q(entry__kind=Entry.Kind.MOVE) | Q(
    entry__kind=Entry.Kind.THINNING, lot__item__kind=Item.Kind.COLORANT
)


def daily(items: Sequence[int], today: date) -> dict[int, list[float]]:
    """Item id → stock units used on each day before `today`, oldest first: DAYS of them, or as many as
    the item has been here. Items that never had a lot have none. Two queries.

    By business date, of entries that still stand. What was drawn from a thinned bottle counts as the
    colorant it held, since it is bought unthinned."""
    first = today - timedelta(days=DAYS)
    since = dict(
        Lot.objects.filter(item__in=items)
        .order_by()
        .values_list("item")
        .annotate(Min("received_on"))
    )
    found = {
        item: [0.0] * (today - max(first, min(arrived, today))).days
        for item, arrived in since.items()
    }
    lines = Movement.objects.filter(
        _USED,
        queries.STANDING_LINE,
        entry__business_date__gte=first,
        entry__business_date__lt=today,
        lot__item__in=items,
    ).exclude(_MOVED)
    # Days and strengths stay text: Django would convert each of many rows.
    rows = lines.order_by().values_list(
        "lot__item",
        Cast("entry__business_date", CharField()),
        Cast("lot__strength", CharField()),
    )
    ages = {str(first + timedelta(days=n)): DAYS - n for n in range(DAYS)}
    for item, day, strength, used in rows.annotate(used=Sum("quantity")):
        days = found[item]
        if days:
            # It may have been drawn from before the day that was written down for its receipt.
            place = max(0, len(days) - ages[day])
            days[place] -= used * float(strength) / units.MICRO
    return found
