"""What the pages of a stall and of consignment read: what lies there, what it costs, what was sold."""

from dataclasses import dataclass, field

from django.db.models import BigIntegerField, F, OuterRef, Q, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce

from inventory.models import Lot, Place
from production.models import Product
from shop import prices
from shop.models import PriceList, Sale, SaleLine, StallDay
from shop.services import selling

How = Sale.How


def standing_sales() -> QuerySet[Sale]:
    """Sales whose entry was not undone."""
    return Sale.objects.filter(entry__reversed_by=None)


def open_days() -> QuerySet[StallDay]:
    return StallDay.objects.filter(closed_at=None).select_related("place", "price_list")


@dataclass(frozen=True)
class Row:
    """One product at a place: what the books say is left, at what price, and what was sold of it."""

    product: Product
    price_minor: int
    left: int
    sold: int = 0
    #: Codes printed on the bags there, the oldest first.
    codes: tuple[str, ...] = ()
    count_me: bool = False

    @property
    def value_minor(self) -> int:
        return self.left * self.price_minor


@dataclass(frozen=True)
class Takings:
    """Money of a stall day in minor units, by how it came."""

    cash_minor: int = 0
    card_minor: int = 0
    #: Found sold when what was left was counted: taken for cash.
    counted_minor: int = 0
    bags: int = 0

    @property
    def total_minor(self) -> int:
        return self.cash_minor + self.card_minor + self.counted_minor


@dataclass(frozen=True)
class Cash:
    """What should be in the box, and what is."""

    float_minor: int
    takings: Takings
    counted_minor: int | None = None

    @property
    def expected_minor(self) -> int:
        return self.float_minor + self.takings.cash_minor + self.takings.counted_minor

    @property
    def difference_minor(self) -> int | None:
        """Below zero: so much is missing."""
        return None if self.counted_minor is None else self.counted_minor - self.expected_minor

    @property
    def off_minor(self) -> int:
        """The difference without its sign."""
        return abs(self.difference_minor or 0)


@dataclass(frozen=True)
class SoldRow:
    """What was sold of one product at one price."""

    product: Product
    bags: int
    price_minor: int

    @property
    def sum_minor(self) -> int:
        return self.bags * self.price_minor


@dataclass(frozen=True)
class Board:
    """A stall day as its page shows it."""

    day: StallDay
    rows: list[Row]
    takings: Takings
    last: Sale | None = None
    last_minor: int = 0
    last_lines: list[SaleLine] = field(default_factory=list)

    @property
    def left(self) -> int:
        return sum(row.left for row in self.rows)


def pictured(products: QuerySet[Product]) -> QuerySet[Product]:
    """Products with all that their chips are drawn from."""
    return products.select_related("item").prefetch_related(
        "contents__bait", "contents__pattern__layers__version__doses__item"
    )


def rows_at(
    place: Place, price_list: PriceList | None, *, sold: dict[int, int] | None = None
) -> list[Row]:
    """What lies at a place, product by product by name; products sold out there stay in their row.

    Queries for the lots, the products with their chips, and the prices; none for each row."""
    sold = sold or {}
    heaps: dict[int, list[Lot]] = {}
    lots = Lot.objects.filter(place=place).filter(Q(on_hand__gt=0) | Q(count_me=True))
    for lot in lots.first_expiring_first():
        heaps.setdefault(lot.item_id, []).append(lot)
    wanted = Q(item__in=list(heaps)) | Q(pk__in=list(sold))
    listed = prices.of_list(price_list)
    return [
        Row(
            product,
            listed.of(product),
            selling.bags_of(heaps.get(product.item_id, [])),
            sold.get(product.pk, 0),
            tuple(dict.fromkeys(lot.printed for lot in heaps.get(product.item_id, []))),
            any(lot.count_me for lot in heaps.get(product.item_id, [])),
        )
        for product in pictured(Product.objects.filter(wanted)).order_by("item__name", "pk")
    ]


def board(day: StallDay) -> Board:
    """Everything that the page of a day shows; its queries don't grow with what was sold."""
    rows = rows_at(day.place, day.price_list, sold=_sold_of(day))
    last = (
        standing_sales()
        .filter(day=day, how__in=[How.CASH, How.CARD])
        .select_related("entry__by")
        .first()
    )
    lines = list(last.lines.select_related("product__item")) if last else []
    return Board(
        day, rows, takings(day), last, sum(line.bags * line.price_minor for line in lines), lines
    )


def _lines(**of: object) -> QuerySet[SaleLine]:
    return SaleLine.objects.filter(sale__entry__reversed_by=None, **of).order_by()


def _sold_of(day: StallDay) -> dict[int, int]:
    rows = _lines(sale__day=day).values_list("product").annotate(total=Sum("bags"))
    return {product: int(total) for product, total in rows}


def takings(day: StallDay) -> Takings:
    """One query."""
    rows = _lines(sale__day=day).values_list("sale__how")
    found = {
        how: (int(minor), int(bags))
        for how, minor, bags in rows.annotate(
            minor=Sum(F("bags") * F("price_minor")), n=Sum("bags")
        )
    }

    def minor(how: str) -> int:
        return found.get(how, (0, 0))[0]

    return Takings(
        minor(How.CASH), minor(How.CARD), minor(How.COUNT), sum(bags for _, bags in found.values())
    )


def cash(day: StallDay) -> Cash:
    return Cash(day.float_minor, takings(day), day.counted_minor)


def sold_rows(**of: object) -> list[SoldRow]:
    """What was sold, by product and price: `sold_rows(sale__day=day)`. Two queries."""
    rows = list(_lines(**of).values_list("product", "price_minor").annotate(total=Sum("bags")))
    products = Product.objects.select_related("item").in_bulk({row[0] for row in rows})
    found = [SoldRow(products[pk], int(total), price) for pk, price, total in rows]
    return sorted(found, key=lambda row: (str(row.product).casefold(), row.price_minor))


def days() -> QuerySet[StallDay]:
    """Every stall day, newest first, with the bags `sold` and what was `taken` for them.

    Reckoned for the days of the page alone."""
    mine = _lines(sale__day=OuterRef("pk")).values("sale__day")

    def summed(what) -> Coalesce:
        rows = mine.annotate(total=Sum(what)).values("total")
        return Coalesce(Subquery(rows, output_field=BigIntegerField()), 0)

    return (
        StallDay.objects.select_related("place")
        .annotate(sold=summed("bags"), taken=summed(F("bags") * F("price_minor")))
        .order_by("-business_date", "-id")
    )
