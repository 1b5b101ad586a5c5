"""The shelf at a glance: dead stock, what expires before it will be used, money tied up by kind.

Four queries, however long the shelf."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Count, Q, Sum

from inventory import stock_state, units, unused
from inventory.buying_list import Ahead
from inventory.models import Item, Lot

#: So many of each are named, the dearest first.
MOST = 10


@dataclass(frozen=True)
class Kind:
    """Money in one kind (millionths of the currency unit, None: nothing known) and its share of the
    largest, in hundredths."""

    label: str
    cost: int | None
    unknown: int
    share: int


@dataclass(frozen=True)
class Expiring:
    """A lot of which `quantity` (millionths) will be left when it expires; `cost` None: unknown."""

    lot: Lot
    quantity: int
    cost: int | None
    known_use: bool


@dataclass(frozen=True)
class Overview:
    kinds: list[Kind]
    dead: list[Item]
    expiring: list[Expiring]


def build(everything: Sequence[Ahead], today: date) -> Overview:
    """The overview, with the rates of use that the buying list worked out."""
    return Overview(_kinds(), _dead(), _expiring(everything, today))


def _kinds() -> list[Kind]:
    rows = Lot.objects.in_stock().order_by().values("item__kind")
    rows = list(rows.annotate(sum=Sum("cost"), unknown=Count("pk", filter=Q(cost=None))))
    most = max((row["sum"] or 0 for row in rows), default=0)
    labels = dict(Item.Kind.choices)
    kinds = [
        Kind(
            labels.get(row["item__kind"], row["item__kind"]),
            row["sum"],
            row["unknown"],
            100 * (row["sum"] or 0) // most if most else 0,
        )
        for row in rows
    ]
    return sorted(kinds, key=lambda kind: (-(kind.cost or 0), kind.label))


def _dead() -> list[Item]:
    items = stock_state.narrowed(stock_state.items(Item.objects.all()), stock_state.DEAD)
    items = items.annotate(money=Sum("lots__cost", filter=Q(lots__on_hand__gt=0)))
    return sorted(items, key=lambda item: (-(item.money or 0), item.name.casefold()))[:MOST]


def _expiring(everything: Sequence[Ahead], today: date) -> list[Expiring]:
    rates = {one.item.pk: one.outlook for one in everything}
    lots: dict[int, list[Lot]] = defaultdict(list)
    found = Lot.objects.in_stock().filter(item__in=rates).select_related("item")
    dated = found.filter(item__lots__expires_on__isnull=False, item__lots__on_hand__gt=0)
    for lot in dated.distinct().first_expiring_first():
        lots[lot.item_id].append(lot)
    result = []
    for item, mine in lots.items():
        rate = rates[item].rate
        stock = [(lot.on_hand / units.MICRO, lot.expires_on) for lot in mine]
        for lot, left in zip(mine, unused.at_expiry(stock, rate, today), strict=True):
            if left > 0:
                quantity = min(lot.on_hand, units.to_micro(f"{left:.6f}"))
                cost = None if lot.cost is None else lot.cost * quantity // lot.on_hand
                result.append(Expiring(lot, quantity, cost, rates[item].learned))
    # Without a known use only what expires within weeks is worth a line.
    soon = [
        one
        for one in result
        if one.known_use or (one.lot.expires_on - today).days <= stock_state.EXPIRING_DAYS
    ]
    return sorted(soon, key=lambda one: (-(one.cost or 0), one.lot.pk))[:MOST]
