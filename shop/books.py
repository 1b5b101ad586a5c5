"""The books: what lies on the shelf, what was spent and what left, added up by the database."""

from dataclasses import dataclass
from datetime import date

from django.db.models import Count, F, OuterRef, Q, Subquery, Sum
from django.db.models.functions import TruncMonth

from inventory.models import Entry, Item, Lot, Movement
from inventory.wording import money_text
from shop import queries, stall
from shop.models import Order, Shipment

MONTHS = 12
Kind = Entry.Kind


@dataclass(frozen=True)
class Total:
    """A sum of costs (millionths of the currency unit), and how many of its lines have no known cost."""

    known: int = 0
    unknown: int = 0

    def __str__(self) -> str:
        if not self.unknown:
            return money_text(self.known)
        if not self.known:
            return "unknown"
        return f"{money_text(self.known)} + {self.unknown} unknown"

    def __add__(self, other: "Total") -> "Total":
        return Total(self.known + other.known, self.unknown + other.unknown)


@dataclass(frozen=True)
class KindValue:
    kind: str
    lots: int
    value: Total


@dataclass(frozen=True)
class Month:
    """One month's money; `charged_minor`: what the shipped orders come to, in cents.

    `sold_minor`: what was sold without an order, before `commission_minor`, which consignees kept."""

    first: date
    spent: Total = Total()
    left: Total = Total()
    wasted: Total = Total()
    counted: Total = Total()
    given: Total = Total()
    own_use: Total = Total()
    charged_minor: int = 0
    sold_minor: int = 0
    commission_minor: int = 0


def value_by_kind() -> list[KindValue]:
    """What is on hand at what it cost, by kind of item. One query."""
    rows = (
        Lot.objects.in_stock()
        .order_by()
        .values("item__kind")
        .annotate(lots=Count("id"), known=Sum("cost"), unknown=Count("id", filter=Q(cost=None)))
    )
    found = {row["item__kind"]: row for row in rows}
    return [
        KindValue(kind.label, row["lots"], Total(int(row["known"] or 0), row["unknown"]))
        for kind in Item.Kind
        if (row := found.get(kind.value))
    ]


def months(today: date) -> list[Month]:
    """The last twelve months, this one first. A fixed number of queries; undone entries count for nothing."""
    firsts = _firsts(today)
    costs = _costs(firsts[-1])
    sold, kept = _sold(firsts[-1])
    charged = _charged(firsts[-1])
    return [
        Month(
            first,
            spent=costs.get((Kind.RECEIPT, first), Total()),
            left=costs.get((Kind.SHIPMENT, first), Total())
            + costs.get((Kind.SALE, first), Total()),
            wasted=costs.get((Kind.WASTE, first), Total()),
            counted=costs.get((Kind.COUNT, first), Total()),
            given=costs.get((Kind.GIFT, first), Total()),
            own_use=costs.get((Kind.OWN_USE, first), Total()),
            charged_minor=charged.get(first, 0),
            sold_minor=sold.get(first, 0),
            commission_minor=kept.get(first, 0),
        )
        for first in firsts
    ]


def year(rows: list[Month]) -> Month:
    """All the months together."""
    return Month(
        rows[-1].first,
        spent=sum((row.spent for row in rows), Total()),
        left=sum((row.left for row in rows), Total()),
        wasted=sum((row.wasted for row in rows), Total()),
        counted=sum((row.counted for row in rows), Total()),
        given=sum((row.given for row in rows), Total()),
        own_use=sum((row.own_use for row in rows), Total()),
        charged_minor=sum(row.charged_minor for row in rows),
        sold_minor=sum(row.sold_minor for row in rows),
        commission_minor=sum(row.commission_minor for row in rows),
    )


def _firsts(today: date) -> list[date]:
    count = today.year * 12 + today.month - 1
    return [_first(count - back) for back in range(MONTHS)]


def _first(count: int) -> date:
    """The first day of a month, given as months since year 0."""
    return date(count // 12, count % 12 + 1, 1)


def _costs(since: date) -> dict[tuple[str, date], Total]:
    """(kind of entry, month) → its cost; what left counts up, counts keep their sign."""
    leaving = {Kind.SHIPMENT, Kind.SALE, Kind.GIFT, Kind.OWN_USE, Kind.WASTE}
    kinds = [Kind.RECEIPT, Kind.COUNT, Kind.RETURN, *sorted(leaving)]
    # From the entries of that time to their lines, not the other way: old lines are never read.
    entries = Entry.objects.filter(
        kind__in=kinds, business_date__gte=since, reversed_by=None
    ).values("pk")
    own = Movement.objects.filter(revalues=None, entry__in=entries)
    # What an amended entry changed later counts with the line that it corrects.
    corrections = Movement.objects.filter(revalues__isnull=False, revalues__entry__in=entries)
    costs: dict[tuple[str, date], Total] = {}
    for lines, entry in ((own, "entry"), (corrections, "revalues__entry")):
        rows = (
            lines.order_by()
            .annotate(month=TruncMonth(f"{entry}__business_date"), of=F(f"{entry}__kind"))
            .values("of", "month", "role")
            .annotate(known=Sum("cost"), unknown=Count("id", filter=Q(cost=None)))
        )
        for row in rows:
            kind = row["of"]
            if kind == Kind.RETURN:
                # What came back did not leave after all; what was thrown away of it at once is waste.
                came = row["role"] == Movement.Role.RETURNED
                kind = Kind.SHIPMENT if came else Kind.WASTE
            known = int(row["known"] or 0) * (-1 if kind in leaving else 1)
            at = (kind, row["month"])
            costs[at] = costs.get(at, Total()) + Total(known, row["unknown"])
    return costs


def _charged(since: date) -> dict[date, int]:
    """Month → what the orders whose last parcel left in it come to, in the currency's minor unit.

    An order counts once all of it has left, however many parcels that took."""
    last = (
        queries.standing_shipments().filter(order=OuterRef("pk")).order_by("-entry__business_date")
    )
    # Of an order whose last parcel left since then, that parcel did: other orders are never read.
    entries = Entry.objects.filter(business_date__gte=since, reversed_by=None).values("pk")
    parcels = Shipment.objects.filter(entry__in=entries).values("order")
    shipped = Order.objects.filter(status=Order.Status.SHIPPED, pk__in=parcels).annotate(
        left_on=Subquery(last.values("entry__business_date")[:1])
    )
    shipped = shipped.filter(left_on__gte=since).annotate(total_minor=queries.TOTAL_MINOR)
    charged: dict[date, int] = {}
    for day, total in shipped.values_list("left_on", "total_minor"):
        month = day.replace(day=1)
        charged[month] = charged.get(month, 0) + int(total)
    return charged


def _sold(since: date) -> tuple[dict[date, int], dict[date, int]]:
    """Month → what was sold without an order in it, and what consignees kept of that; minor units."""
    sales = (
        stall.standing_sales()
        .filter(entry__business_date__gte=since)
        .order_by()
        .annotate(month=TruncMonth("entry__business_date"))
        .values("month")
    )
    sold = sales.annotate(total=Sum(F("lines__bags") * F("lines__price_minor")))
    kept = sales.annotate(total=Sum("commission_minor"))
    return (
        {row["month"]: int(row["total"] or 0) for row in sold},
        {row["month"]: int(row["total"] or 0) for row in kept},
    )
