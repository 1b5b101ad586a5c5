"""What is bought in the years: when a shelf runs low, from whom, and how it comes."""

from collections import defaultdict
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from random import Random

from inventory import units
from inventory.models import Item, Pack, PurchaseLine, PurchaseOrder
from inventory.services import purchasing, receiving
from shop.demo import shelf
from shop.demo.hours import Hours
from shop.demo.years.things import Things

CENT = units.MICRO // 100
#: What the bench uses on a usual day at first, in stock units; learned from what is used afterwards.
USE_AT_FIRST = {
    "Stillpool medium": 560,
    "Stillpool soft": 190,
    "Bag 4 × 6 in": 12,
    "Bag 5 × 8 in": 1,
    "Label 2 × 1 in": 14,
    "Header card": 11,
    "Boathouse scent oil": 9,
    "Glass rattle 4 mm": 6,
    "Fine salt": 12,
}
OF_KIND = {Item.Kind.COLORANT: 2.2, Item.Kind.FLAKE: 1.5}
#: How quickly the shop learns: the weight of a day's use.
LEARNS = 1 / 45
#: Kept for so many days beyond the lead time, and bought for so many.
SPARE_DAYS, FOR_DAYS = 16, 50
#: How often the second supplier is asked; how often a part comes later, and by how many days.
OTHER_SUPPLIER, IN_PARTS, LATER = 0.25, 0.07, 8
#: Prices rose by so much a year.
DEARER = 0.03


class Buying:
    def __init__(
        self, house, things: Things, hours: Hours, keys: Iterator[str], random: Random, scale: int
    ) -> None:
        self._house, self._things, self._hours = house, things, hours
        self._keys, self._random = keys, random
        self._use = {
            item.pk: scale * units.to_micro(USE_AT_FIRST.get(item.name, OF_KIND.get(item.kind, 0)))
            for item in things.items.values()
        }
        self._there = {item.pk: self._on_hand(item) for item in things.items.values()}
        self._to_come: dict[int, int] = defaultdict(int)
        self._on_its_way: list[tuple[date, PurchaseOrder, list[PurchaseLine]]] = []

    def look(self, day: date, still: float) -> None:
        """Orders what runs low, on one order for each supplier. `still`: years until the last day."""
        wanted: dict[int, list[purchasing.Wanted]] = defaultdict(list)
        for item in self._things.items.values():
            self._learn(item)
            pack = self._pack(item)
            needed = self._needed(item, pack)
            if needed > 0:
                packs = max(pack.least, -(-needed // pack.quantity))
                price = round(_price(pack, packs) * (1 - DEARER * still))
                wanted[pack.supplier_id].append(purchasing.Wanted(pack, packs, price))
                self._to_come[item.pk] += packs * pack.quantity
        for lines in wanted.values():
            self._order(lines, day)

    def receive(self, day: date) -> None:
        """Takes in what comes on this day."""
        due = [one for one in self._on_its_way if one[0] <= day]
        self._on_its_way = [one for one in self._on_its_way if one[0] > day]
        for _day, order, lines in due:
            if len(lines) > 1 and self._random.random() < IN_PARTS:
                late = day + timedelta(days=LATER)
                self._on_its_way.append((late, order, lines[1:]))
                lines = lines[:1]
            self._take_in(order, lines, day)

    def _learn(self, item: Item) -> None:
        now = self._on_hand(item)
        used = max(0, self._there[item.pk] - now)
        self._there[item.pk] = now
        self._use[item.pk] = round(self._use[item.pk] * (1 - LEARNS) + used * LEARNS)

    def _needed(self, item: Item, pack: Pack) -> int:
        """Millionths to order: none while what is there and on its way lasts until a delivery."""
        there = self._there[item.pk] + self._to_come[item.pk]
        least = self._use[item.pk] * (pack.supplier.lead_time_days + SPARE_DAYS)
        if there > max(least, item.minimum):
            return 0
        return max(self._use[item.pk] * FOR_DAYS + least, item.target) - there

    def _pack(self, item: Item) -> Pack:
        packs = self._things.packs[item.name]
        largest = [pack for pack in packs if pack.quantity >= packs[0].quantity * 0.9]
        return largest[-1] if self._random.random() < OTHER_SUPPLIER else largest[0]

    def _order(self, lines: list[purchasing.Wanted], day: date) -> None:
        supplier = lines[0].pack.supplier
        order, kept = self._house.shelf.order(
            next(self._keys),
            supplier=supplier,
            wanted=lines,
            ordered_on=day,
            shipping_minor=supplier.shipping_minor,
        )
        days = supplier.lead_time_days + self._random.choice((-1, 0, 0, 0, 1, 1, 2, 4))
        self._on_its_way.append((day + timedelta(days=max(1, days)), order, kept))

    def _take_in(self, order: PurchaseOrder, lines: list[PurchaseLine], day: date) -> None:
        delivered = [purchasing.Delivery(line, self._arrival(order, line, day)) for line in lines]
        self._house.shelf.receive(
            next(self._keys),
            order=order,
            delivered=delivered,
            received_on=day,
            note=f"Invoice of {order.supplier}",
            happened_at=self._moment(),
        )
        for line in lines:
            self._to_come[line.item_id] -= line.quantity
            self._there[line.item_id] += line.quantity

    def _moment(self) -> datetime:
        self._hours.tick(10)
        return self._hours.now

    def _arrival(self, order: PurchaseOrder, line: PurchaseLine, day: date) -> receiving.Arrival:
        initials = "".join(word[0] for word in order.supplier.name.split()[:2])
        keeps = line.item.shelf_life_days
        number = [stocked.name for stocked in shelf.ITEMS].index(line.item.name) + 1
        return receiving.Arrival(
            line.item,
            line.quantity,
            line.sum_minor * CENT,
            supplier=order.supplier,
            supplier_lot=f"{initials}{number:02d}-{day:%y%j}",
            expires_on=day + timedelta(days=keeps) if keeps else None,
        )

    def _on_hand(self, item: Item) -> int:
        return sum(lot.on_hand for lot in self._house.shelf.stock(item))


def _price(pack: Pack, packs: int) -> int:
    steps = [step.price_minor for step in pack.breaks.all() if step.from_packs <= packs]
    return steps[-1] if steps else pack.price_minor
