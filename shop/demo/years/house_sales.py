"""Bags and customers of a `House`: what `bagging`, `orders` and `shipping` do, on books in memory."""

from datetime import date, datetime
from decimal import Decimal

from django.utils import timezone

from inventory import units
from inventory.models import Entry, Lot
from inventory.services import ledger
from inventory.services.bulk import Books
from production.models import Bagging, Product
from production.services import bagging
from production.services.batches import Part
from shop import addresses
from shop.demo.years.house_bench import HouseBench, draws_for
from shop.models import Customer, Order, OrderLine, Shipment
from shop.services import holds, orders


class HouseSales:
    """Bagging, orders and parcels."""

    def __init__(self, books: Books, bench: HouseBench) -> None:
        self._books, self._bench = books, bench
        self._used_up: dict[int, list] = {}
        self._minutes: dict[int, Decimal] = {}
        self._lines: dict[int, list[OrderLine]] = {}

    def bag(self, key: str, *, product: Product, bags: int, happened_at: datetime) -> None:
        """`bagging.bag` of baits that have cured."""
        posting = self._books.key(key, "bag", product=product, bags=bags, happened_at=happened_at)
        day = timezone.localdate(happened_at)
        draws = [draw for content in product.contents.all() for draw in self._baits(content, bags)]
        if product.pk not in self._used_up:
            self._used_up[product.pk] = bagging.used_up(product)
            self._minutes[product.pk] = bagging.finishing_minutes(product)
        for item, quantity in self._used_up[product.pk]:
            draws += draws_for(self._books, Part(item, quantity * bags), day)
        melts = max(draw.lot.melts for draw in draws)
        lot = self._books.open_lot(product.item, Lot.Form.BAG, day, melts=melts)
        event = bagging.event(product, bags, lot, draws, "", "", happened_at, day)
        entry = self._books.post(posting, event)
        minutes = bags * self._minutes[product.pk]
        self._books.add(Bagging(entry=entry, product=product, lot=lot, bags=bags, minutes=minutes))

    def _baits(self, content, bags: int) -> list[ledger.Draw]:
        left, draws = units.to_micro(content.count * bags), []
        for lot in self._bench.loose_lots(content.bait, content.pattern):
            part = min(left, lot.available // units.MICRO * units.MICRO)
            if part:
                draws.append(ledger.Draw(lot, part))
                left -= part
        if left:
            raise ValueError(f"Not enough loose baits for {bags} × {content.product}.")
        return draws

    def take(
        self, *, customer: Customer, lines: list[orders.Wanted], ordered_on: date, due_on: date
    ) -> Order:
        """`orders.take`, at the products' own prices."""
        order = Order(customer=customer, ordered_on=ordered_on, due_on=due_on)
        self._books.add(order)
        for wanted in lines:
            line = OrderLine(
                order=order,
                product=wanted.product,
                bags=wanted.bags,
                price_minor=wanted.price_minor,
            )
            self._books.add(line)
            self._lines.setdefault(order.pk, []).append(line)
        return order

    def cancel(self, order: Order) -> None:
        """`orders.cancel`."""
        order.status = Order.Status.CANCELLED
        self._books.touch(order, "status")
        self._lines.pop(order.pk)

    def ship(self, key: str, *, order: Order, weight_g: int, happened_at: datetime) -> None:
        """`shipping.ship` of all that was ordered."""
        facts = {"order": order, "weight_g": weight_g, "happened_at": happened_at}
        posting = self._books.key(key, "ship", **facts)
        lines = self._lines.pop(order.pk)
        draws = []
        for line in lines:
            picked = self._books.pick(line.product.item, units.to_micro(line.bags))
            draws += [ledger.Draw(lot, quantity) for lot, quantity in picked]
        event = ledger.Event(
            kind=Entry.Kind.SHIPMENT,
            title=f"Shipped order {order.pk} to {order.customer}",
            happened_at=happened_at,
            reference=holds.holder(order.pk),
            draws=draws,
        )
        entry = self._books.post(posting, event)
        ship_to = addresses.tidy(addresses.of(order))
        self._books.add(Shipment(order=order, entry=entry, ship_to=ship_to, weight_g=weight_g))
        for line in lines:
            line.shipped = line.bags
            self._books.touch(line, "shipped")
        order.status = Order.Status.SHIPPED
        self._books.touch(order, "status")

    def bagged(self, product: Product) -> int:
        """Bags on hand."""
        return sum(lot.on_hand for lot in self._books.in_stock(product.item)) // units.MICRO
