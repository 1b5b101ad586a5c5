"""How much of each item was used on each day, read from the ledger: four queries for any number of items.

The way leads from the entries of the last year to their lines, so that a ledger of ten years takes no
longer. Adding up is done here and not by the database: there is hardly more than one line for an item and
a day, and grouping them took three times as long as reading them (tests/bench/test_buying_list_speed.py).
"""

from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from itertools import chain

from django.db.models import CharField, Min, Q, QuerySet
from django.db.models.functions import Cast

from inventory import queries, units
from inventory.models import Entry, Item, Lot, Movement

#: So many days back the list looks; older use says little about now (our own choice, no source).
DAYS = 365

#: Use is what was drawn and what counts found missing. What the bench found beside the books was drawn,
#: too, and stands in the draw.
_USED = Q(role=Movement.Role.DRAWN) | Q(role=Movement.Role.COUNTED, quantity__lt=0)


def daily(items: Sequence[int], today: date) -> dict[int, list[float]]:
    """Item id → stock units used on each day before `today`, oldest first: DAYS of them, or as many as
    the item has been here. Items that never had a lot have none. Four queries.

    By business date, of entries that still stand. What was drawn from a thinned bottle counts as the
    colorant it held, since it is bought unthinned. A move to another place, and thinning for the colorant,
    is no use."""
    first = today - timedelta(days=DAYS)
    arrived = Lot.objects.filter(item__in=items).order_by().values_list("item")
    arrived = dict(arrived.annotate(Min("received_on")))
    entries = queries.standing().filter(business_date__gte=first, business_date__lt=today)
    days = {pk: (on - first).days for pk, on in entries.values_list("pk", "business_date")}
    used = {item: [0.0] * DAYS for item in arrived}
    for entry, item, quantity, strength in _lines(entries, items):
        if item in used:
            used[item][days[entry]] -= quantity * float(strength) / units.MICRO
    return {item: _since(used[item], (on - first).days) for item, on in arrived.items()}


def _lines(entries: QuerySet[Entry], items: Sequence[int]) -> Iterator[tuple[int, int, int, str]]:
    """(Entry, item, signed millionths, the lot's strength) of what these entries used."""
    thinned = entries.filter(kind=Entry.Kind.THINNING).values("pk")
    entries = entries.exclude(kind__in=[Entry.Kind.THINNING, Entry.Kind.MOVE]).values("pk")
    used = Movement.objects.filter(_USED).order_by()
    if len(items) == 1:
        # The lines of one item are fewer than those of a year.
        used = used.filter(lot__item=items[0])
    # Strengths stay text: Django would make a decimal of each of many.
    rows = used.values_list("entry", "lot__item", "quantity", Cast("lot__strength", CharField()))
    return chain(
        rows.filter(entry__in=entries),
        rows.filter(entry__in=thinned).exclude(lot__item__kind=Item.Kind.COLORANT),
    )


def _since(used: list[float], start: int) -> list[float]:
    """The days from the one on which it came. It may have been drawn from before the day that was written
    down for its receipt: that counts on its first."""
    start = min(max(start, 0), DAYS)
    if 0 < start < DAYS:
        used[start] += sum(used[:start])
    return used[start:]
