"""The list of what to buy: from whom, in which packs, why, what if not, and what it costs.

Everything is read in a fixed number of queries, however many items there are; what is read goes through the
calculations (outlook, basket, worth_adding), which know nothing of the database. Money is in cents."""

import functools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import NamedTuple

from django.db.models import Sum

from inventory import (
    basket,
    buying_words,
    deliveries,
    needs,
    outlook,
    packs,
    units,
    usage,
    worth_adding,
)
from inventory.lead_times import Seen
from inventory.models import Item, Lot, Pack, Supplier
from inventory.outlook import Lead, Outlook, Stock
from inventory.wording import quantity_text

#: Each search for the cheapest basket may take so long (seconds).
PATIENCE = 1.0
#: So many things that could wait are named for each supplier.
MOST_WAITING = 8
#: What the list and its pages ask of an item; the rest is left unread.
FACTS = ("kind", "name", "stock_unit", "color", "minimum", "target", "shelf_life_days")
#: What no supplier is known for lasts and costs nobody knows; a lead time is needed all the same.
NO_SUPPLIER = Lead(7)


@dataclass(frozen=True)
class Settings:
    """What the owner may change above the list: weeks of use bought at once, the share of lead times
    that stock is to last through."""

    weeks: float = outlook.WEEKS
    service: float = outlook.SERVICE


class Offered(NamedTuple):
    """What has to be known of a pack to choose whose lead time counts."""

    pk: int
    supplier: Supplier
    quantity: int
    price_minor: int


@dataclass
class Ahead:
    """An item with what lies ahead of it, in stock units. Its packs are read only where some of it may be
    bought now."""

    item: Item
    outlook: Outlook
    needs: list[needs.Need]
    offered: list[Offered]
    supplier: Supplier | None
    packs: list[Pack] = field(default_factory=list)

    @property
    def key(self) -> str:
        return str(self.item.pk)

    def said(self, quantity: float) -> str:
        return quantity_text(units.to_micro(f"{quantity:.6f}"), self.item.stock_unit)


@dataclass
class Row:
    """So many of one pack of an item; `count` 0: it could wait, or stands here to be asked for."""

    ahead: Ahead
    pack: Pack
    count: int
    #: What the list itself says, before anybody changed it.
    proposed: int
    why: str
    if_not: str
    too_late: str = ""
    error: str = ""
    #: What was typed, when that is no number.
    typed: str = ""

    @property
    def item(self) -> Item:
        return self.ahead.item

    @property
    def each_minor(self) -> int:
        return round(offer(self.pack).each(self.count))

    @property
    def sum_minor(self) -> int:
        return self.each_minor * self.count

    @property
    def quantity(self) -> int:
        return self.count * self.pack.quantity

    @property
    def name(self) -> str:
        """What its number is called in the form."""
        return f"packs-{self.pack.pk}"


@dataclass
class Basket:
    """What to buy from one supplier, and what could wait. `supplier` None: nobody is known to sell it."""

    supplier: Supplier | None
    rows: list[Row] = field(default_factory=list)
    waiting: list[Row] = field(default_factory=list)
    #: Items that nobody is known to sell.
    unsold: list[tuple[Ahead, str]] = field(default_factory=list)
    seen: Seen | None = None

    @property
    def all_rows(self) -> list[Row]:
        return [*self.rows, *self.waiting]

    @property
    def goods_minor(self) -> int:
        return sum(row.sum_minor for row in self.all_rows)

    @property
    def shipping_minor(self) -> int:
        if not self.goods_minor or self.supplier is None:
            return 0
        return round(
            terms(self.supplier).shipping_micro(self.goods_minor * packs.MICRO) / packs.MICRO
        )

    @property
    def total_minor(self) -> int:
        return self.goods_minor + self.shipping_minor

    @property
    def under_minimum_minor(self) -> int:
        """How much is missing to the supplier's least order."""
        if self.supplier is None or not self.goods_minor:
            return 0
        return max(0, self.supplier.order_minimum_minor - self.goods_minor)

    @property
    def changed(self) -> bool:
        return any(row.count != row.proposed for row in self.all_rows)

    @property
    def breaks(self) -> list[worth_adding.Break]:
        found = (worth_adding.next_break(_wanted(row)) for row in self.all_rows)
        return [one for one in found if one]

    @property
    def free_shipping(self) -> worth_adding.FreeShipping | None:
        if self.supplier is None:
            return None
        later = [
            worth_adding.Later(
                offer(row.pack), _enough(row), outlook.due_in(row.ahead.outlook) or 0
            )
            for row in self.waiting
            if not row.count
        ]
        return worth_adding.to_free_shipping(self.goods_minor, terms(self.supplier), later)

    def first_rows(self) -> set[str]:
        """Names of the rows that say why for their item: its other packs need not say it again."""
        firsts: dict[int, str] = {}
        for row in self.rows:
            firsts.setdefault(row.item.pk, row.name)
        return set(firsts.values())

    def row_of(self, key: str) -> Row:
        return next(row for row in self.all_rows if str(row.pack.pk) == key)


@dataclass
class BuyingList:
    """The whole list with how sure it is of being the cheapest, and "all from one supplier" beside it."""

    baskets: list[Basket]
    everything: list[Ahead]
    settings: Settings
    proven: bool
    single: packs.Purchase | None
    single_supplier: Supplier | None
    #: What the basket of the list itself costs, before anybody changed a number.
    solved_minor: int
    #: Bought items that have neither a history nor a minimum.
    silent: int

    @property
    def total_minor(self) -> int:
        return sum(basket.total_minor for basket in self.baskets)

    @property
    def to_buy(self) -> list[Basket]:
        """Baskets with something in them."""
        return [one for one in self.baskets if one.rows or one.unsold]

    @property
    def priced(self) -> bool:
        """Whether anything on the list has a pack, and so a price."""
        return any(one.rows for one in self.baskets)

    @property
    def single_minor(self) -> int | None:
        return round(self.single.total) if self.single else None

    @property
    def several(self) -> bool:
        return len([one for one in self.baskets if one.supplier and one.rows]) > 1


def build(today: date, settings: Settings = Settings()) -> BuyingList:  # noqa: B008 (frozen)
    """The list as of today. Fixed queries; the basket is solved in at most a few seconds."""
    everything = look_ahead(today, settings)
    low = [one for one in everything if one.outlook.buy > 0]
    waiting = _waiting(everything, settings)
    _read_packs([*low, *waiting])
    sold, unsold = [one for one in low if one.packs], [one for one in low if not one.packs]
    solved, filled = _solve_with_fill(sold, waiting, today)
    seen = deliveries.lead_times_seen(today)
    baskets = _baskets(solved.purchase, sold + filled, waiting, seen, today)
    if unsold:
        words = [(one, _why(one, "")) for one in unsold]
        baskets.append(Basket(None, unsold=words))
    single = solved.single_supplier
    sellers = {str(pack.supplier_id): pack.supplier for one in sold for pack in one.packs}
    return BuyingList(
        baskets,
        everything,
        settings,
        solved.purchase.proven,
        single,
        sellers.get(single.suppliers[0]) if single and single.suppliers else None,
        round(solved.purchase.total),
        sum(1 for one in everything if one.outlook.point is None and not one.outlook.buy),
    )


def look_ahead(
    today: date,
    settings: Settings = Settings(),
    only: Item | None = None,  # noqa: B008 (frozen)
) -> list[Ahead]:
    """Every bought item (or one) with what lies ahead of it."""
    items = _items(only)
    used = usage.daily([item.pk for item in items], today)
    offered = _offered(items)
    coming = deliveries.on_order()
    wanted = needs.by_item()
    spreads = deliveries.lead_times_seen(today)
    sellers = [_sellers(offered.get(item.pk, [])) for item in items]
    stocks = [_stock(item, wanted.get(item.pk, []), coming.get(item.pk, [])) for item in items]

    def look(places: Sequence[int], turn: int) -> dict[int, Outlook]:
        asked = [
            (used.get(items[n].pk, []), stocks[n], lead_of(sellers[n][turn], spreads))
            for n in places
        ]
        seen = outlook.look_at_each(asked, service=settings.service, weeks=settings.weeks)
        return dict(zip(places, seen, strict=True))

    seen = look(range(len(items)), 0)
    unlearned = {n for n, ahead in seen.items() if not ahead.learned}
    seen |= look(sorted(unlearned), -1)
    return [
        Ahead(
            item,
            seen[n],
            wanted.get(item.pk, []),
            offered.get(item.pk, []),
            sellers[n][-1 if n in unlearned else 0],
        )
        for n, item in enumerate(items)
    ]


def _items(only: Item | None) -> list[Item]:
    """The items with what the list asks of them, and how much is `on_hand`."""
    found = Item.objects.filter(pk=only.pk) if only else Item.objects.current()
    found = found.filter(kind__in=Item.BOUGHT).only(*FACTS).order_by("kind", "name")
    held = Lot.objects.in_stock().filter(item__in=found.values("pk")).order_by()
    sums = dict(held.values_list("item").annotate(Sum("on_hand")))
    items = list(found)
    for item in items:
        item.on_hand = sums.get(item.pk, 0)
    return items


def _stock(item: Item, wanted: list[needs.Need], coming: list[tuple[date, int]]) -> Stock:
    return Stock(
        _units(item.on_hand),
        _units(sum(need.quantity for need in wanted)),
        tuple((on, _units(quantity)) for on, quantity in coming),
        _units(item.minimum),
        _units(item.target),
        whole=item.stock_unit == "each",
    )


def _offered(items: list[Item]) -> dict[int, list[Offered]]:
    """Item id → what is offered of it."""
    sellers = Supplier.objects.in_bulk()
    found: dict[int, list[Offered]] = {}
    rows = Pack.objects.filter(item__in=items).order_by()
    for item, pk, seller, *sold in rows.values_list(
        "item", "pk", "supplier", "quantity", "price_minor"
    ):
        found.setdefault(item, []).append(Offered(pk, sellers[seller], *sold))
    return found


def _read_packs(aheads: list[Ahead]) -> None:
    """Gives each item its packs with their price breaks; each supplier is the same object everywhere."""
    of_item = {one.item.pk: one for one in aheads}
    sellers = {pack.supplier.pk: pack.supplier for one in aheads for pack in one.offered}
    rows = Pack.objects.filter(item__in=of_item).order_by("quantity", "pk")
    for pack in rows.prefetch_related("breaks"):
        pack.supplier = sellers[pack.supplier_id]
        of_item[pack.item_id].packs.append(pack)


def _sellers(packs: list[Offered]) -> list[Supplier | None]:
    """Whose lead time counts: the cheapest one's; where the history is too short for that, the quickest's."""
    if not packs:
        return [None]
    cheapest = min(packs, key=_rate).supplier
    quickest = min(packs, key=lambda pack: (pack.supplier.lead_time_days, _rate(pack))).supplier
    return [cheapest] if quickest == cheapest else [cheapest, quickest]


def lead_of(supplier: Supplier | None, spreads: Mapping[int, Seen]) -> Lead:
    """The supplier's days as written down; their spread as its deliveries had it."""
    if supplier is None:
        return NO_SUPPLIER
    seen = spreads.get(supplier.pk)
    if seen is None:
        return Lead(supplier.lead_time_days)
    return Lead(supplier.lead_time_days, seen.sd, seen.count)


def offer(pack: Pack) -> packs.Pack:
    """A pack as the calculations know it: prices in cents, quantities in stock units."""
    return packs.Pack(
        str(pack.pk),
        _units(pack.quantity),
        float(pack.price_minor),
        str(pack.supplier_id),
        str(pack.item_id),
        tuple((step.from_packs, float(step.price_minor)) for step in pack.breaks.all()),
        pack.least,
    )


def terms(supplier: Supplier) -> packs.Terms:
    return packs.Terms(
        str(supplier.pk),
        supplier.order_minimum_minor,
        supplier.shipping_minor,
        supplier.free_shipping_minor or None,
    )


def _solve_with_fill(
    sold: list[Ahead], waiting: list[Ahead], today: date
) -> tuple[basket.Basket, list[Ahead]]:
    """The cheapest basket; where a least order would be filled with more of the same, what could wait
    fills it first."""
    solved = _solve(sold, today)
    filled: list[Ahead] = []
    asked = _goods(_solve(sold, today, minimums=False).purchase)
    for supplier, goods in sorted(asked.items()):
        seller = next(p.supplier for a in sold for p in a.packs if str(p.supplier_id) == supplier)
        missing = seller.order_minimum_minor - goods
        for one in waiting:
            if missing <= 0:
                break
            if one.supplier == seller and one not in filled:
                filled.append(one)
                pack = min(one.packs, key=_rate)
                missing -= round(_packs_for(one, pack) * pack.price_minor)
    return (_solve(sold + filled, today), filled) if filled else (solved, [])


def _solve(aheads: list[Ahead], today: date, *, minimums: bool = True) -> basket.Basket:
    wanted = tuple((one.key, _wants(one)) for one in aheads)
    offered, asked = [], {}
    for one in aheads:
        for pack in _in_time(one, today):
            offered.append(offer(pack))
            asked[pack.supplier_id] = terms(pack.supplier)
    if not minimums:
        asked = {
            pk: packs.Terms(term.supplier, 0, term.shipping, term.free_from)
            for pk, term in asked.items()
        }
        if all(pack.supplier.order_minimum_minor == 0 for one in aheads for pack in one.packs):
            return basket.Basket(packs.Purchase(), None, ())
    return _cheapest(wanted, tuple(offered), tuple(asked[pk] for pk in sorted(asked)))


@functools.lru_cache(maxsize=32)
def _cheapest(
    wanted: tuple[tuple[str, float], ...],
    offered: tuple[packs.Pack, ...],
    asked: tuple[packs.Terms, ...],
) -> basket.Basket:
    """Solved once for the same shelf: changing a number on the page does not solve it again."""
    return basket.basket(dict(wanted), offered, terms=asked, time_limit=PATIENCE)


def _wants(one: Ahead) -> float:
    """What the list buys of an item: what it is short of, or, where it could wait, the weeks asked for."""
    return one.outlook.buy or max(one.outlook.rate * 7 * one.outlook.weeks, outlook.LEAST)


def _in_time(one: Ahead, today: date) -> list[Pack]:
    """Packs that come before the item runs out, where there are such; else of the quickest supplier."""
    out = outlook.out_on(one.outlook, today)
    if out is None:
        return one.packs
    quickest = min(pack.supplier.lead_time_days for pack in one.packs)
    until = max(quickest, (out - today).days)
    return [pack for pack in one.packs if pack.supplier.lead_time_days <= until]


def _goods(purchase: packs.Purchase) -> dict[str, int]:
    goods: dict[str, int] = {}
    for line in purchase.lines:
        goods[line.pack.supplier] = goods.get(line.pack.supplier, 0) + round(line.price)
    return goods


def _waiting(everything: list[Ahead], settings: Settings) -> list[Ahead]:
    """What will come down to its reorder point within the weeks that are bought at once, the first due
    first."""
    found = []
    for one in everything:
        left = outlook.due_in(one.outlook)
        soon = left is not None and left <= settings.weeks * 7
        if soon and one.offered and not one.outlook.buy:
            found.append((left, one.item.name.casefold(), one))
    return [one for *_, one in sorted(found, key=lambda row: row[:2])]


def _baskets(
    purchase: packs.Purchase,
    bought: list[Ahead],
    waiting: list[Ahead],
    seen: dict[int, Seen],
    today: date,
) -> list[Basket]:
    known = {str(pack.pk): (one, pack) for one in [*bought, *waiting] for pack in one.packs}
    found: dict[int, Basket] = {}

    def basket_of(supplier: Supplier) -> Basket:
        return found.setdefault(supplier.pk, Basket(supplier, seen=seen.get(supplier.pk)))

    for line in purchase.lines:
        one, pack = known[line.pack.key]
        basket_of(pack.supplier).rows.append(_row(one, pack, line.count, today))
    taken = {one.key for one in bought}
    for one in waiting:
        mine = basket_of(one.supplier)
        if one.key not in taken and len(mine.waiting) < MOST_WAITING:
            mine.waiting.append(_row(one, min(one.packs, key=_rate), 0, today))
    for mine in found.values():
        mine.rows.sort(key=lambda row: (row.item.kind, row.item.name.casefold(), row.pack.quantity))
    return sorted(found.values(), key=lambda one: (not one.rows, one.supplier.name.casefold()))


def _row(one: Ahead, pack: Pack, count: int, today: date) -> Row:
    lead = pack.supplier.lead_time_days
    wait = buying_words.could_wait(one.outlook, today)
    why = _why(one, f"supplier takes {buying_words.days(lead)}")
    if not one.outlook.buy:
        why = f"{wait}, fills the least order" if count else wait
    late = ""
    if one.outlook.buy:
        late = buying_words.too_late(one.outlook, lead, today)
    return Row(one, pack, count, count, why, buying_words.if_not(one.outlook, today), late)


def _why(one: Ahead, took: str) -> str:
    wanted = [(need.what, _units(need.quantity)) for need in one.needs]
    return buying_words.why(one.outlook, one.said, needs=wanted, took=took)


def _wanted(row: Row) -> worth_adding.Wanted:
    return worth_adding.Wanted(
        offer(row.pack), row.count, row.ahead.outlook.rate, row.item.shelf_life_days
    )


def _enough(row: Row) -> int:
    return _packs_for(row.ahead, row.pack)


def _packs_for(one: Ahead, pack: Pack) -> int:
    """Whole packs for what the list would buy of it."""
    count = -(-units.to_micro(f"{_wants(one):.6f}") // pack.quantity)
    return max(count, pack.least, 1)


def _rate(pack: Pack | Offered) -> tuple[float, int]:
    return pack.price_minor / pack.quantity, pack.pk


def _units(millionths: int) -> float:
    return millionths / units.MICRO
