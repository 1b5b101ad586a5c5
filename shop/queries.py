"""What the front of house reads: orders as they stand, and what is missing for them."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from django.db.models import BigIntegerField, Exists, F, Max, OuterRef, Q, QuerySet, Sum, Value
from django.db.models.functions import Cast, Coalesce, Greatest, Round

from inventory import units
from inventory.models import Lot
from inventory.services import holding
from production import loose as loose_baits
from production.loose import Kind
from production.models import Product
from shop import money
from shop.models import Order, OrderLine, Shipment

State = Order.Status
#: Hundredths of a per cent in the whole: discounts are kept with two decimals.
_WHOLE = 10_000


def _hundredths(percent: str) -> Cast:
    """A field's per cent in hundredths of one, as a whole number (SQLite keeps decimals as floats)."""
    return Cast(Round(F(percent) * 100), BigIntegerField())


def _less(amount, hundredths):
    """`money.less` for the database. Divided before it is multiplied, so that nothing overflows."""
    keep = Value(_WHOLE) - hundredths
    return amount / _WHOLE * keep + ((amount % _WHOLE) * keep + _WHOLE // 2) / _WHOLE


def line_minor(lines: str = ""):
    """What a line comes to, in the minor unit, as an expression; `lines`: the way to it ("lines__").

    It equals `money.line_total`, to the cent."""
    # As OrderLine.billed.
    billed = F(f"{lines}bags") - F(f"{lines}dropped") - F(f"{lines}credited")
    amount = Greatest(billed, 0) * F(f"{lines}price_minor")
    return _less(amount, _hundredths(f"{lines}discount_percent"))


def _share(amount, hundredths):
    """`money.share` for the database."""
    return amount / _WHOLE * hundredths + ((amount % _WHOLE) * hundredths + _WHOLE // 2) / _WHOLE


# PostgreSQL sums whole numbers to a numeric, which would divide with a remainder.
_GOODS = Cast(Coalesce(Sum(line_minor("lines__")), 0), BigIntegerField())

#: Of an order: its bags, and what it comes to in the currency's minor unit (`money.order_total`).
TOTAL_BAGS = Coalesce(Sum("lines__bags"), 0)
TOTAL_MINOR = _GOODS - _share(_GOODS, _hundredths("discount_percent")) + F("shipping_minor")


def standing_shipments() -> QuerySet[Shipment]:
    """Shipments whose entry was not undone."""
    return Shipment.objects.filter(entry__reversed_by=None)


def orders() -> QuerySet[Order]:
    """Orders with their customers. `some_left`: bags have left for it."""
    left = OrderLine.objects.filter(Q(shipped__gt=0) | Q(credited__gt=0), order=OuterRef("pk"))
    return Order.objects.annotate(some_left=Exists(left)).select_related("customer")


def open_orders() -> QuerySet[Order]:
    """Open orders, the first due first; those without a date last."""
    return (
        orders()
        .filter(status=State.OPEN)
        .order_by(F("due_on").asc(nulls_last=True), "ordered_on", "id")
    )


def bought(customer: int) -> QuerySet[OrderLine]:
    """What has left for a customer: product, `sent` bags and the day of the `last` order, most first."""
    return (
        OrderLine.objects.filter(order__customer=customer, shipped__gt=0)
        .order_by()
        .values("product", "product__item__name")
        .annotate(sent=Sum("shipped"), last=Max("order__ordered_on"))
        .order_by("-sent", "product__item__name")
    )


def money_of(order: Order) -> money.Total:
    """What an order comes to and what was paid for it. Two queries, none where both are prefetched."""
    return money.order_total(
        [(line.billed, line.price_minor, line.discount_percent) for line in order.lines.all()],
        discount_percent=order.discount_percent,
        shipping_minor=order.shipping_minor,
        payments_minor=[payment.amount_minor for payment in order.payments.all()],
    )


@dataclass(frozen=True)
class LineState:
    """One line of an open order against the shelf, in whole bags."""

    line: OrderLine
    #: What stands ready for it: its own holds and what nothing holds.
    bagged: int
    could_bag: int
    #: Of the bagged: held for this order.
    held: int = 0
    #: Of the missing: what the baits that are on their way will fill.
    coming: int = 0

    @property
    def missing(self) -> int:
        """Bags that neither stand ready nor lie loose."""
        return max(0, self.line.remaining - self.bagged - self.could_bag)

    @property
    def unbagged(self) -> int:
        """Bags still to fill before the line can ship."""
        return max(0, self.line.remaining - self.bagged)

    @property
    def ready(self) -> bool:
        return not self.unbagged

    @property
    def value_minor(self) -> int:
        return money.line_total(self.line.billed, self.line.price_minor, self.line.discount_percent)


@dataclass(frozen=True)
class Due:
    """An open order with its lines against the shelf."""

    order: Order
    lines: list[LineState]

    @property
    def short(self) -> list[LineState]:
        """Lines with bags still to fill."""
        return [line for line in self.lines if not line.ready]

    @property
    def finished_tonight(self) -> bool:
        """Whether something is to be poured for it, and what is on its way is all of that."""
        missing = [line for line in self.lines if line.missing]
        return bool(missing) and all(line.missing <= line.coming for line in missing)


def line_states(
    wanted: Iterable[Order], baits_coming: Mapping[tuple[int, int], int] | None = None
) -> dict[int, list[LineState]]:
    """Order id → its lines against the shelf. Earlier orders of the list take bags and baits first.

    `baits_coming`: (bait id, pattern id) → good baits that a planned pour should give.

    What an order holds is its own; of the rest, only what nothing holds counts. Five queries, however
    many orders."""
    wanted = list(wanted)
    lines = list(
        OrderLine.objects.filter(order__in=[order.pk for order in wanted])
        .select_related("product__item")
        .prefetch_related("product__contents")
    )
    products = {line.product_id: line.product for line in lines}
    bagged = _bagged(products.values())
    kinds = {
        loose_baits.kind_of(product, content)
        for product in products.values()
        for content in product.contents.all()
    }
    loose = loose_baits.ready(kinds)
    coming = {(*kind, False): count for kind, count in (baits_coming or {}).items()}
    names = {f"order:{order.pk}": order.pk for order in wanted}
    held = {
        (names[holder], item): quantity // units.MICRO
        for (holder, item), quantity in holding.held_for(names).items()
    }
    by_order: dict[int, list[OrderLine]] = {}
    for line in lines:
        by_order.setdefault(line.order_id, []).append(line)
    return {
        order.pk: [
            _take(line, held.get((order.pk, line.product.item_id), 0), bagged, loose, coming)
            for line in by_order.get(order.pk, [])
        ]
        for order in wanted
    }


def _take(
    line: OrderLine,
    held: int,
    bagged: dict[int, int],
    loose: dict[Kind, int],
    coming: dict[Kind, int],
) -> LineState:
    item = line.product.item_id
    free = bagged.get(item, 0)
    ready = held + free
    bagged[item] = max(0, free - max(0, line.remaining - held))
    wanted = {loose_baits.kind_of(line.product, c): c.count for c in line.product.contents.all()}
    could = _filled(max(0, line.remaining - ready), wanted, loose)
    # What waits loose for want of others goes in with what is poured.
    together = {kind: loose.get(kind, 0) + coming.get(kind, 0) for kind in wanted}
    later = _filled(max(0, line.remaining - ready - could), wanted, together)
    for kind, each in wanted.items():
        beyond = later * each - loose.get(kind, 0)
        loose[kind] = max(0, -beyond)
        coming[kind] = coming.get(kind, 0) - max(0, beyond)
    return LineState(line, ready, could, held, later)


def _filled(most: int, wanted: dict[Kind, int], there: dict[Kind, int]) -> int:
    """Bags that the baits fill, at most `most`; the baits that were there are taken."""
    bags = min([most, *(there.get(kind, 0) // each for kind, each in wanted.items())])
    bags = bags if wanted else 0
    for kind, each in wanted.items():
        there[kind] = there.get(kind, 0) - bags * each
    return bags


def _bagged(products: Iterable[Product]) -> dict[int, int]:
    """Item id → whole bags at home that nothing holds."""
    lots = Lot.objects.free().filter(item__in=[product.item_id for product in products])
    rows = lots.order_by().values("item").annotate(free=Sum(F("on_hand") - F("reserved")))
    return {row["item"]: int(row["free"]) // units.MICRO for row in rows}
