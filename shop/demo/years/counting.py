"""Counts and losses of the years."""

from collections.abc import Iterator
from datetime import date, timedelta
from random import Random

from inventory import units
from inventory.models import Item, Lot
from shop.demo.hours import Hours
from shop.demo.years.things import Things

#: Items looked at in one round, and how often a lot is found to be just what the books say.
IN_A_ROUND, JUST_SO = 5, 0.4
#: The least trim worth melting again, and for how many days a leftover waits for its color.
CRUMBS, WAITS = 8 * units.MICRO, 75
#: How often in a month something is dropped or spoiled.
ACCIDENTS = 0.25
MISHAPS = ("Dropped: the jar broke.", "Left open overnight: spoiled.", "Spilled on the bench.")


class Counting:
    def __init__(
        self, house, things: Things, hours: Hours, keys: Iterator[str], random: Random
    ) -> None:
        self._house, self._things, self._hours = house, things, hours
        self._keys, self._random = keys, random

    def round(self) -> None:
        """Looks at a few items: some have a little less than the books say."""
        items = self._random.sample(list(self._things.items.values()), IN_A_ROUND)
        for lot in [lot for item in items for lot in self._house.shelf.stock(item)]:
            self._hours.tick(2)
            self._house.shelf.count(
                next(self._keys),
                lot=lot,
                counted=self._seen(lot),
                reason="",
                counted_at=self._hours.now,
            )
        if self._random.random() < ACCIDENTS:
            self._mishap()

    def _seen(self, lot: Lot) -> int:
        if self._random.random() < JUST_SO:
            return lot.on_hand
        step = units.MICRO if lot.item.stock_unit == "each" else units.MICRO // 10
        seen = round(lot.on_hand * self._random.uniform(0.965, 1.008) / step) * step
        return max(0, seen)

    def _mishap(self) -> None:
        kinds = (Item.Kind.COLORANT, Item.Kind.FLAKE, Item.Kind.ADDITIVE)
        items = [item for item in self._things.items.values() if item.kind in kinds]
        lots = [lot for item in items for lot in self._house.shelf.stock(item)]
        if lots:
            lot = self._random.choice(lots)
            part = max(1, lot.on_hand * self._random.randint(2, 6) // 10)
            self._waste(lot, part, self._random.choice(MISHAPS))

    def clear(self, day: date) -> None:
        """Throws away what is melted too often, too little, or waits too long for its color."""
        for lot in self._house.bench.leftovers():
            if lot.on_hand < CRUMBS:
                self._waste(lot, lot.on_hand, "Crumbs.")
            elif lot.melts >= 4:
                self._waste(lot, lot.on_hand, "Melted too often to stay clear.")
            elif lot.received_on < day - timedelta(days=WAITS):
                self._waste(lot, lot.on_hand, "No color of ours took it.")

    def give_away(self, day: date) -> None:
        """Seconds that nobody bought."""
        for lot in self._house.bench.seconds():
            if lot.received_on < day - timedelta(days=30):
                self._waste(lot, lot.on_hand, "Seconds, given to the children at the pier.")

    def _waste(self, lot: Lot, quantity: int, why: str) -> None:
        self._hours.tick(1)
        self._house.shelf.waste(
            next(self._keys), lot=lot, quantity=quantity, reason=why, happened_at=self._hours.now
        )
