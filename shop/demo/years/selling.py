"""Who buys in the years, and when parcels leave."""

from collections.abc import Iterator
from datetime import date, timedelta
from random import Random

from inventory import units
from production.models import Product
from shop.demo.hours import Hours
from shop.demo.years import assortment, seasons
from shop.demo.years.things import Things
from shop.models import Customer, Order
from shop.services.orders import Wanted

#: Invented people; the shops of the small demo come first and order by the dozen.
GIVEN = ("Ada", "Benno", "Cora", "Dell", "Edda", "Fitch", "Greta", "Hale", "Ines", "Jory")
FAMILY = ("Ashbrook", "Birchley", "Cotterill", "Dunsley", "Elmcroft", "Farrow")
SHOPS = 2
#: Bags of one line: a shop's, and anybody else's.
BY_THE_DOZEN, A_FEW = (4, 6, 6, 8, 10, 12), (1, 1, 1, 2, 2, 3)
#: Bags of an order on average, as the lines above come out.
USUAL_ORDER = 6.8
POST_DAYS = (1, 3)
#: Prices were lower then, by so much for each year before the last.
DEARER = 0.024
#: An order that could not be sent for so many days is given up.
PATIENCE = 60
BOX_G, BAG_G = 140, 62


def people() -> list[str]:
    return [f"{given} {family}" for family in FAMILY for given in GIVEN]


class Selling:
    def __init__(
        self, house, things: Things, hours: Hours, keys: Iterator[str], random: Random, scale: int
    ) -> None:
        self._house, self._things, self._hours = house, things, hours
        self._keys, self._random, self._scale = keys, random, scale
        self._open: list[tuple[Order, list[Wanted]]] = []

    def asked_for(self, product: Product, day: date, years: float) -> float:
        """Bags of a product that are wanted on a usual day around this one."""
        life = assortment.LIVES[product.item.name]
        favor = seasons.favor(years, rises=life.rises, peak=life.peak, lasts=life.lasts)
        grows = 1 + 0.3 * min(1, years / 8)
        return life.bags * favor * grows * seasons.season(day) * self._scale

    def take_orders(self, day: date, years: float, still: float) -> None:
        """The orders of a day. `still`: years until the last one."""
        wanted = [self.asked_for(product, day, years) for product in self._things.products]
        for _ in range(seasons.how_many(sum(wanted) / USUAL_ORDER, self._random)):
            shop = self._random.random() < 0.2
            customers = self._things.customers
            customer = self._random.choice(customers[:SHOPS] if shop else customers[SHOPS:])
            count = self._random.choice((2, 3, 4, 5) if shop else (1, 2, 2, 3, 4))
            chosen = dict.fromkeys(self._random.choices(self._things.products, wanted, k=count))
            lines = [
                Wanted(
                    product,
                    self._random.choice(BY_THE_DOZEN if shop else A_FEW),
                    round(product.price_minor * (1 - DEARER * still)),
                )
                for product in chosen
            ]
            self._take(customer, lines, day, shop)

    def _take(self, customer: Customer, lines: list[Wanted], day: date, shop: bool) -> None:
        due = day + timedelta(days=self._random.choice((14, 21, 28) if shop else (7, 10, 14)))
        order = self._house.sales.take(customer=customer, lines=lines, ordered_on=day, due_on=due)
        self._open.append((order, lines))

    def post_parcels(self, day: date) -> None:
        """Sends the open orders that stand ready in bags, the first due first."""
        ready = {p.pk: self._house.sales.bagged(p) for p in self._things.products}
        waiting = []
        for order, lines in sorted(self._open, key=lambda one: (one[0].due_on, one[0].pk)):
            if all(line.bags <= ready[line.product.pk] for line in lines):
                for line in lines:
                    ready[line.product.pk] -= line.bags
                self._hours.tick(3)
                self._house.sales.ship(
                    next(self._keys),
                    order=order,
                    weight_g=BOX_G + BAG_G * sum(line.bags for line in lines),
                    happened_at=self._hours.now,
                )
            elif (day - order.ordered_on).days > PATIENCE:
                self._house.sales.cancel(order)
            else:
                waiting.append((order, lines))
        self._open = waiting

    def bag(self, day: date, years: float) -> None:
        """Fills bags of the baits that have cured, for three weeks ahead."""
        for product in self._things.products:
            ahead = self.asked_for(product, day, years) * 21
            spoken_for = sum(
                line.bags
                for _order, lines in self._open
                for line in lines
                if line.product.pk == product.pk
            )
            room = round(ahead) + spoken_for - self._house.sales.bagged(product)
            bags = min(room, self._most_bags(product, day))
            if bags > 0:
                self._hours.tick(bags)
                self._house.sales.bag(
                    next(self._keys), product=product, bags=bags, happened_at=self._hours.now
                )

    def _most_bags(self, product: Product, day: date) -> int:
        cured = day - timedelta(days=2)
        return min(
            sum(
                lot.available
                for lot in self._house.bench.loose_lots(content.bait, content.pattern)
                if lot.received_on <= cured
            )
            // (content.count * units.MICRO)
            for content in product.contents.all()
        )
