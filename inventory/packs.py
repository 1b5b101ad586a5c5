"""What a supplier sells and on what terms, and what a purchase from it costs.

Amounts are in the item's stock unit, money in whatever unit the caller uses throughout. Both are
floats at the edge and whole millionths inside, as in the ledger, so that sums and ties are exact.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

MICRO = 1_000_000


@dataclass(frozen=True)
class Pack:
    """One way to buy: `quantity` of `item` in a pack, at `price` each.

    `breaks` are all-units price breaks, (from so many packs, price each), in rising order: ten or
    more at the lower price means all ten at it. `least` is the fewest packs the supplier sells.
    """

    key: str
    quantity: float
    price: float
    supplier: str = ""
    item: str = ""
    breaks: Sequence[tuple[int, float]] = ()
    least: int = 1

    def __post_init__(self) -> None:
        object.__setattr__(self, "breaks", tuple((start, price) for start, price in self.breaks))
        if not 0 < self.quantity < math.inf or self.quantity_micro < 1:
            raise ValueError(f"{self.key} holds nothing that can be counted")
        if self.least < 1:
            raise ValueError(f"{self.key} is sold from {self.least} packs")
        for _, price in self.tiers:
            if not 0 <= price < math.inf:
                raise ValueError(f"{self.key} cannot cost {price}")
        starts = [start for start, _ in self.tiers]
        if any(later <= earlier for earlier, later in zip(starts, starts[1:], strict=False)):
            raise ValueError(f"the price breaks of {self.key} must rise, from 2 packs on")

    @property
    def quantity_micro(self) -> int:
        return round(self.quantity * MICRO)

    @property
    def tiers(self) -> list[tuple[int, float]]:
        """(From so many packs, price each), the plain price first."""
        return [(1, self.price), *self.breaks]

    @property
    def lowest_price_micro(self) -> int:
        return min(round(price * MICRO) for _, price in self.tiers)

    def each(self, count: int) -> float:
        """The price of one pack when `count` are bought."""
        return [price for start, price in self.tiers if start <= max(count, 1)][-1]

    def each_micro(self, count: int) -> int:
        return round(self.each(count) * MICRO)


@dataclass(frozen=True)
class Terms:
    """What one supplier asks of a whole order: goods for at least `minimum`, and `shipping`, which is
    waived when the goods reach `free_from` (None: never)."""

    supplier: str
    minimum: float = 0
    shipping: float = 0
    free_from: float | None = None

    def __post_init__(self) -> None:
        for sum_ in (self.minimum, self.shipping, self.free_from or 0):
            if not 0 <= sum_ < math.inf:
                raise ValueError(f"{self.supplier} cannot ask for {sum_}")

    @property
    def minimum_micro(self) -> int:
        return round(self.minimum * MICRO)

    @property
    def free_from_micro(self) -> int | None:
        return None if self.free_from is None else round(self.free_from * MICRO)

    @property
    def threshold_micro(self) -> int:
        """Goods beyond this sum change nothing more in what the supplier asks."""
        return max(self.minimum_micro, (self.free_from_micro or 0) if self.shipping else 0)

    def shipping_micro(self, goods: int) -> int:
        """Shipping on an order with goods for so many millionths."""
        if self.free_from_micro is not None and goods >= self.free_from_micro:
            return 0
        return round(self.shipping * MICRO)


@dataclass(frozen=True)
class Line:
    """`count` packs at `price_each`, breaks included."""

    pack: Pack
    count: int
    price_each: float

    @property
    def quantity(self) -> float:
        return self.count * self.pack.quantity_micro / MICRO

    @property
    def price(self) -> float:
        return self.count * self.pack.each_micro(self.count) / MICRO


@dataclass(frozen=True)
class Purchase:
    """What to order. `covers` is False when no order can cover the need; `proven` is False when the
    search was cut short, so that something cheaper may exist. `shipping` is summed over suppliers."""

    lines: tuple[Line, ...] = ()
    goods: float = 0.0
    shipping: float = 0.0
    covers: bool = True
    proven: bool = True

    @property
    def total(self) -> float:
        return round((self.goods + self.shipping) * MICRO) / MICRO

    @property
    def suppliers(self) -> tuple[str, ...]:
        return tuple(sorted({line.pack.supplier for line in self.lines}))

    @property
    def quantity(self) -> float:
        """All that is bought, in stock units: of one item, if it is for one."""
        return sum(line.count * line.pack.quantity_micro for line in self.lines) / MICRO

    def quantity_of(self, item: str) -> float:
        """How much of one item is bought, in its stock unit."""
        mine = [line for line in self.lines if line.pack.item == item]
        return sum(line.count * line.pack.quantity_micro for line in mine) / MICRO


def amount_micro(amount: float, what: str) -> int:
    """Whole millionths of a finite amount; raises ValueError for NaN and infinity."""
    if not math.isfinite(amount):
        raise ValueError(f"{what} cannot be {amount}")
    return round(amount * MICRO)


def target_micro(short: int) -> int:
    """The least that covers `short` millionths.

    A millionth of the need may be missing: 32 bottles of 4 fl oz, each rounded to the ledger's last
    digit, are a gallon though they sum to eight millionths of a mL less.
    """
    return short - short // MICRO


def terms_by_supplier(packs: Iterable[Pack], terms: Iterable[Terms]) -> dict[str, Terms]:
    """Every supplier's terms; one without any ships free and has no minimum."""
    given = {term.supplier: term for term in terms}
    return {pack.supplier: given.get(pack.supplier) or Terms(pack.supplier) for pack in packs}


def most_worth_buying(pack: Pack, short: int, missing_goods: int) -> int:
    """Beyond this count one pack fewer is no dearer and still does everything.

    It alone covers `short`, brings the order's goods up by `missing_goods` and has the last break.
    """
    counts = [pack.least, pack.tiers[-1][0], -(-short // pack.quantity_micro)]
    if pack.lowest_price_micro:
        counts.append(-(-missing_goods // pack.lowest_price_micro))
    return max(counts)


def priced(
    counts: Iterable[tuple[Pack, int]], terms: Mapping[str, Terms], proven: bool = True
) -> Purchase | None:
    """The purchase of so many of each pack; None where a supplier's or a pack's minimum is missed."""
    lines = tuple(Line(pack, count, pack.each(count)) for pack, count in counts if count)
    goods: dict[str, int] = {}
    for line in lines:
        if line.count < line.pack.least:
            return None
        sum_ = line.count * line.pack.each_micro(line.count)
        goods[line.pack.supplier] = goods.get(line.pack.supplier, 0) + sum_
    if any(sum_ < terms[supplier].minimum_micro for supplier, sum_ in goods.items()):
        return None
    shipping = sum(terms[supplier].shipping_micro(sum_) for supplier, sum_ in goods.items())
    return Purchase(lines, sum(goods.values()) / MICRO, shipping / MICRO, proven=proven)
