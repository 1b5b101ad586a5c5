"""Bags sold without an order: one by one at a stall, or found sold when what is left is counted.

A sale that happened is never refused: what the books don't know of is asked about, and then booked by the
bench's rule (found stock, the lot flagged *count me*)."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from inventory import units
from inventory.models import Entry, Lot, Place
from inventory.services import ledger, on_hold
from inventory.services import lots as lot_service
from inventory.services.posting import Key, LedgerError, posting
from production.models import Product
from shop import money
from shop.models import Consignee, Customer, Sale, SaleLine, StallDay

SOLD, LOST = "sold", "lost"


@dataclass(frozen=True)
class Sold:
    """So many bags of a product at a price per bag, in the currency's minor unit."""

    product: Product
    bags: int
    price_minor: int


@dataclass(frozen=True)
class Left:
    """What was counted of a product: `books` bags were expected, `left` are there.

    `fate` of what is missing: SOLD at `price_minor` a bag, or LOST."""

    product: Product
    books: int
    left: int
    price_minor: int = 0
    fate: str = SOLD


class NotThere(LedgerError):
    """More was sold than the books say was there: "yes, really" posts it."""


@posting
def sell(
    key: Key,
    *,
    day: StallDay,
    lines: list[Sold],
    how: str,
    really: bool = False,
    happened_at: datetime | None = None,
    by,
) -> Entry:
    """Bags sold at an open stall, the oldest first. Raises NotThere when the books know of fewer."""
    day = _open_day(day)
    if not lines or any(line.bags < 1 for line in lines):
        raise LedgerError("Say what was sold: one bag or more.")
    draws, short = _draws(day.place, lines, day.business_date)
    if short and not really:
        raise NotThere(" ".join(short))
    event = ledger.Event(
        kind=Entry.Kind.SALE,
        title=f"Sold {_named(lines)} at {day.place}",
        happened_at=happened_at,
        business_date=day.business_date,
        reference=f"stall:{day.pk}",
        look_at=" ".join(short),
        draws=draws,
    )
    entry = ledger.post(key, event, by=by)
    _write_sale(entry, lines, how=how, place=day.place, day=day)
    return entry


@posting
def count_stall(
    key: Key, *, day: StallDay, counted: list[Left], happened_at: datetime | None = None, by
) -> Entry:
    """What is left at the stall: what is missing was sold at the stall's price, or lost.

    More than the books know of is booked as counted. Nothing there has moved since `happened_at`.
    Returns the first entry."""
    day = _open_day(day)
    return _count(
        key,
        day.place,
        counted,
        by,
        how=Sale.How.COUNT,
        day=day,
        business_date=day.business_date,
        happened_at=happened_at,
        reference=f"stall:{day.pk}",
    )


@posting
def settle(
    key: Key,
    *,
    consignee: Consignee,
    counted: list[Left],
    happened_at: datetime | None = None,
    by,
) -> Entry:
    """Counts what a consignee still has: what is missing was sold, and they keep their part of it.

    Nothing there has moved since `happened_at`."""
    return _count(
        key,
        consignee.place,
        counted,
        by,
        how=Sale.How.SETTLED,
        customer=consignee.customer,
        commission_percent=consignee.commission_percent,
        happened_at=happened_at,
        reference=f"consignee:{consignee.pk}",
    )


def _count(
    key: Key,
    place: Place,
    counted: list[Left],
    by,
    *,
    how: str,
    reference: str,
    happened_at: datetime | None,
    business_date: date | None = None,
    day: StallDay | None = None,
    customer: Customer | None = None,
    commission_percent=0,
) -> Entry:
    if not counted:
        raise LedgerError("Nothing was counted.")
    heaps = _lock(place, [one.product for one in counted])
    _still_as_counted(counted, heaps)
    sold = [
        Sold(one.product, one.books - one.left, one.price_minor)
        for one in counted
        if one.fate == SOLD and one.left < one.books
    ]
    first = None
    if sold:
        draws, _ = _draws(place, sold, business_date)
        event = ledger.Event(
            kind=Entry.Kind.SALE,
            title=f"Found sold at {place}: {_named(sold)}",
            happened_at=happened_at,
            business_date=business_date,
            reference=reference,
            draws=draws,
        )
        first = ledger.post(key, event, by=by)
        _write_sale(
            first,
            sold,
            how=how,
            place=place,
            day=day,
            customer=customer,
            commission_percent=commission_percent,
        )
    for one in counted:
        for lot, difference in _seen(heaps[one.product.item_id], one):
            event = ledger.Event(
                kind=Entry.Kind.COUNT,
                title=f"Counted {one.product} {lot.printed} at {place}",
                happened_at=happened_at,
                business_date=business_date,
                reference=reference,
            )
            entry = ledger.adjust(key, event, lot, difference, by=by)
            first = first or entry
    if first is None:
        raise LedgerError("By the books nothing was there, and nothing was counted.")
    return first


def _seen(lots: list[Lot], one: Left) -> list[tuple[Lot, int]]:
    """Each lot of a counted product with the difference (millionths) that the count puts right."""
    fresh = Lot.objects.in_bulk([lot.pk for lot in lots])
    lots = [fresh[lot.pk] for lot in lots]
    off = one.left * units.MICRO - sum(lot.on_hand for lot in lots)
    found: list[tuple[Lot, int]] = []
    for lot in lots:
        part = max(off, -lot.on_hand) if off < 0 else 0
        off -= part
        if part or lot.on_hand or lot.count_me:
            found.append((lot, part))
    if off > 0:
        newest = lots[-1]
        return [(lot, part) for lot, part in found if lot.pk != newest.pk] + [(newest, off)]
    return found


def _still_as_counted(counted: list[Left], heaps: dict[int, list[Lot]]) -> None:
    """Someone else may have sold while this one counted."""
    changed = []
    for one in counted:
        lots = heaps[one.product.item_id]
        now = bags_of(lots)
        if now != one.books:
            changed.append(f"{one.product}: {one.books} then, {now} now")
        if one.left and not lots:
            raise LedgerError(f"{one.product} was never taken there. Move it there first.")
    if changed:
        raise LedgerError(
            f"The books changed while you counted ({'; '.join(changed)}). Look at these again."
        )


def bags_of(lots: Iterable[Lot]) -> int:
    """Whole bags in these lots."""
    return sum(lot.on_hand for lot in lots) // units.MICRO


def _draws(
    place: Place, lines: list[Sold], day: date | None
) -> tuple[list[ledger.Draw], list[str]]:
    """The draws of a sale, each lot once, and a sentence for each product that the books have less of."""
    wanted: dict[Product, int] = {}
    for line in lines:
        wanted[line.product] = wanted.get(line.product, 0) + line.bags
    heaps = _lock(place, wanted)
    draws, short = [], []
    for product, bags in wanted.items():
        lots = heaps[product.item_id]
        taken: dict[Lot, int] = {}
        left = bags * units.MICRO
        # What is on hold goes last: it should not have been sold.
        for lot in sorted(lots, key=lambda lot: lot.held):
            part = min(left, lot.on_hand // units.MICRO * units.MICRO)
            if part > 0:
                taken[lot] = part
                left -= part
        if held := on_hold.said(taken):
            short += [*held, "It should not be sold."]
        if left:
            there = bags - left // units.MICRO
            short.append(f"{product}: {bags} sold, {there or 'none'} left at {place} by the books.")
            last = lots[-1] if lots else _found(product, place, day)
            taken[last] = taken.get(last, 0) + left
        draws += [ledger.Draw(lot, part, bench=True) for lot, part in taken.items()]
    return draws, short


def _found(product: Product, place: Place, day: date) -> Lot:
    """A lot for bags that the books don't know of (rule 3)."""
    return lot_service.open_lot(
        product.item, Lot.Form.BAG, day, found=True, count_me=True, cost=None, place=place
    )


def _lock(place: Place, products: Iterable[Product]) -> dict[int, list[Lot]]:
    """Item id → its lots at a place, the oldest first, used up ones too; locked in the ledger's order."""
    items = [product.item_id for product in products]
    found = Lot.objects.select_for_update(of=("self",)).select_related("item")
    locked = list(found.filter(place=place, item__in=items).order_by("pk"))
    heaps: dict[int, list[Lot]] = {item: [] for item in items}
    for lot in sorted(locked, key=Lot.drawing_order):
        heaps[lot.item_id].append(lot)
    return heaps


def _open_day(day: StallDay) -> StallDay:
    """The day as it stands, its row held; raises LedgerError when it is closed."""
    now = StallDay.objects.select_for_update(of=("self",)).select_related("place").get(pk=day.pk)
    if now.closed_at:
        raise LedgerError(f"This day at {now.place} is closed. Open it again to add to it.")
    return now


def _named(lines: list[Sold]) -> str:
    if len(lines) == 1:
        return f"{lines[0].bags} × {lines[0].product}"
    return f"{sum(line.bags for line in lines)} bags of {len(lines)} kinds"


def _write_sale(
    entry: Entry,
    lines: list[Sold],
    *,
    how: str,
    place: Place,
    day: StallDay | None,
    customer: Customer | None = None,
    commission_percent=0,
) -> Sale:
    total = sum(line.bags * line.price_minor for line in lines)
    sale = Sale.objects.create(
        entry=entry,
        place=place,
        day=day,
        customer=customer,
        how=how,
        commission_minor=money.share(total, commission_percent),
    )
    SaleLine.objects.bulk_create(
        SaleLine(sale=sale, product=line.product, bags=line.bags, price_minor=line.price_minor)
        for line in lines
    )
    return sale
