"""What is on its way and how long it took before: read from purchase orders and their receipts."""

from collections.abc import Iterable
from datetime import date, timedelta

from django.db.models import BigIntegerField, Count, F, OuterRef, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce

from inventory import lead_times
from inventory.models import PurchaseLine, PurchaseOrder, PurchaseReceipt

#: Deliveries that count for a lead time: what was ordered in the last two years.
DAYS = 730


def with_received(lines: QuerySet[PurchaseLine]) -> QuerySet[PurchaseLine]:
    """Adds `received`, the millionths that came on each line, as the ledger has them now: a receipt that
    was undone counts nothing, a mended one counts as mended."""
    came = PurchaseReceipt.objects.filter(line=OuterRef("pk")).order_by().values("line")
    total = came.annotate(total=Sum("lot__made")).values("total")
    received = Coalesce(Subquery(total, output_field=BigIntegerField()), 0)
    return lines.annotate(received=received)


def with_sums(orders: QuerySet[PurchaseOrder]) -> QuerySet[PurchaseOrder]:
    """Adds `goods_minor`, the goods as ordered, and `line_count`."""
    return orders.annotate(
        goods_minor=Coalesce(Sum(F("lines__packs") * F("lines__price_minor")), 0),
        line_count=Count("lines"),
    )


def open_orders() -> QuerySet[PurchaseOrder]:
    """Orders on their way, the first expected first."""
    orders = PurchaseOrder.objects.filter(state=PurchaseOrder.State.OPEN)
    return orders.select_related("supplier").order_by("expected_on", "pk")


def on_order() -> dict[int, list[tuple[date, int]]]:
    """Item id → (expected day, millionths still to come) of open orders; one query."""
    lines = with_received(PurchaseLine.objects.filter(order__state=PurchaseOrder.State.OPEN))
    found: dict[int, list[tuple[date, int]]] = {}
    for line in lines.annotate(expected_on=F("order__expected_on")):
        if line.quantity > line.received:
            due = (line.expected_on, line.quantity - line.received)
            found.setdefault(line.item_id, []).append(due)
    return found


def lead_times_seen(
    today: date, suppliers: Iterable[int] | None = None
) -> dict[int, lead_times.Seen]:
    """Supplier id → what its deliveries say; those with too few are left out. One query.

    Each day on which something came on an order counts once."""
    came = PurchaseReceipt.objects.filter(
        lot__made__gt=0, line__order__ordered_on__gte=today - timedelta(days=DAYS)
    )
    if suppliers is not None:
        came = came.filter(line__order__supplier__in=suppliers)
    rows = came.order_by().values_list(
        "line__order__supplier", "line__order", "line__order__ordered_on", "entry__business_date"
    )
    days: dict[int, list[int]] = {}
    for supplier, _order, ordered_on, received_on in rows.distinct():
        days.setdefault(supplier, []).append(max(0, (received_on - ordered_on).days))
    found = {supplier: lead_times.seen(each) for supplier, each in days.items()}
    return {supplier: seen for supplier, seen in found.items() if seen}
