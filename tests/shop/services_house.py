"""A `House` that writes each thing through the services, as a person at the pages would: what the bulk
writer of `shop.demo.years` has to agree with, row for row."""

from inventory import queries as shelf_queries
from inventory import units
from inventory.models import Lot
from inventory.services import counts, purchasing
from production import queries as bench_queries
from production.models import Batch
from production.services import bagging, batches, leftovers, pours, shots
from shop.services import orders, shipping


class ServicesHouse:
    def __init__(self, by) -> None:
        self.bench, self.sales, self.shelf = Bench(by), Sales(by), Shelf(by)

    def day_is_over(self) -> None:
        pass

    def finish(self) -> None:
        pass


class Bench:
    def __init__(self, by) -> None:
        self._by = by

    def begin(self, at, day):
        pour = pours.start(at=at, by=self._by)
        assert pour.business_date == day
        return pour

    def close(self, pour, at):
        pours.close(pour=pour, at=at)

    def mix(self, key, **facts):
        entry = batches.mix(key=key, by=self._by, **facts)
        return Batch.objects.select_related("lot__item", "pour", "cup", "version").get(entry=entry)

    def shoot(self, key, **facts):
        return shots.shoot(key=key, by=self._by, **facts).shots

    def settle(self, key, **facts):
        leftovers.settle(key=key, by=self._by, **facts)

    def left(self, batch):
        return Lot.objects.get(pk=batch.lot_id).on_hand

    def leftovers(self):
        return list(bench_queries.leftovers())

    def composition(self, lot):
        return shelf_queries.composition(lot)

    def loose_lots(self, bait, pattern, second=False):
        lots = Lot.objects.in_stock().filter(
            item__loose_bait__bait=bait,
            item__loose_bait__pattern=pattern,
            item__loose_bait__second=second,
        )
        return list(lots.select_related("item").first_expiring_first())

    def seconds(self):
        lots = Lot.objects.in_stock().filter(item__loose_bait__second=True)
        return list(lots.select_related("item").order_by("received_on", "pk"))


class Sales:
    def __init__(self, by) -> None:
        self._by = by

    def bag(self, key, **facts):
        bagging.bag(key=key, by=self._by, **facts)

    def take(self, **facts):
        return orders.take(**facts)

    def cancel(self, order):
        orders.cancel(order)

    def ship(self, key, **facts):
        shipping.ship(key=key, by=self._by, **facts)

    def bagged(self, product):
        return sum(lot.on_hand for lot in product.item.lots.all()) // units.MICRO


class Shelf:
    def __init__(self, by) -> None:
        self._by = by

    def order(self, key, **facts):
        order = purchasing.order(key=key, **facts)
        return order, list(order.lines.select_related("item"))

    def receive(self, key, **facts):
        purchasing.receive(key=key, by=self._by, **facts)

    def count(self, key, **facts):
        counts.count(key=key, by=self._by, **facts)

    def waste(self, key, **facts):
        counts.waste(key=key, by=self._by, **facts)

    def stock(self, item):
        return list(item.lots.in_stock().select_related("item").first_expiring_first())
