"""What the front of house reads: orders as they stand, and what is missing for them."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import BigIntegerField, Exists, F, Max, OuterRef, Q, QuerySet, Sum, Value
from django.db.models.functions import Cast, Coalesce, Greatest, Round

from inventory import units
from inventory.models import Lot
from inventory.services import holding
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


def line_states(wanted: Iterable[Order]) -> dict[int, list[LineState]]:
    """Order id → its lines against the shelf. Earlier orders of the list take bags and baits first.

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
    loose = _loose(products.values())
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
            _take(line, held.get((order.pk, line.product.item_id), 0), bagged, loose)
            for line in by_order.get(order.pk, [])
        ]
        for order in wanted
    }


def _take(
    line: OrderLine, held: int, bagged: dict[int, int], loose: dict[tuple[int, int], int]
) -> LineState:
    item = line.product.item_id
    free = bagged.get(item, 0)
    ready = held + free
    bagged[item] = max(0, free - max(0, line.remaining - held))
    contents = list(line.product.contents.all())
    fills = [loose.get((c.bait_id, c.pattern_id), 0) // c.count for c in contents]
    could = min([max(0, line.remaining - ready), *fills]) if contents else 0
    for content in contents:
        loose[content.bait_id, content.pattern_id] = (
            loose.get((content.bait_id, content.pattern_id), 0) - could * content.count
        )
    return LineState(line, ready, could, held)


def _bagged(products: Iterable[Product]) -> dict[int, int]:
    """Item id → whole bags at home that nothing holds."""
    lots = Lot.objects.free().filter(item__in=[product.item_id for product in products])
    rows = lots.order_by().values("item").annotate(free=Sum(F("on_hand") - F("reserved")))
    return {row["item"]: int(row["free"]) // units.MICRO for row in rows}


def _loose(products: Iterable[Product]) -> dict[tuple[int, int], int]:
    """(bait id, pattern id) → good loose baits that nothing holds, as `production.queries` counts."""
    baits = {content.bait_id for product in products for content in product.contents.all()}
    rows = (
        Lot.objects.free()
        .filter(item__loose_bait__bait__in=baits, item__loose_bait__second=False)
        .order_by()
        .values_list("item__loose_bait__bait", "item__loose_bait__pattern")
        .annotate(free=Sum(F("on_hand") - F("reserved")))
    )
    return {(bait, pattern): int(free) // units.MICRO for bait, pattern, free in rows}
