"""The demo shop's bags away from home: a market day, a shop in town that sells for it, and a gift."""

from collections.abc import Iterator

from inventory import units
from inventory.models import Entry, Lot, Place
from inventory.services import giving, moving
from production.models import Product
from shop import stall
from shop.demo import orders
from shop.demo.hours import Hours
from shop.models import Consignee, Customer, Sale, StallDay, User
from shop.services import consigning, selling, stalls

STALL, CONSIGNEE = "Alder Slip market", "Dunmere Landing, counter rack"
FLOAT_MINOR = 4000
#: A product goes along only while so many of its bags are free at home.
ENOUGH = 5
#: Minutes between two customers.
PAUSE = 7


class Away:
    """What happens away from home, at the moment that the story has come to."""

    def __init__(self, *, hours: Hours, keys: Iterator[str], owner: User, helper: User) -> None:
        self._hours, self._keys, self._owner, self._helper = hours, keys, owner, helper

    def consign(self) -> None:
        """Bags go to the shop in town."""
        consignee = consigning.save(
            None,
            customer=Customer.objects.get(name=orders.DUNMERE),
            place_name=CONSIGNEE,
            commission_percent=30,
            price_list=None,
        )
        self._bring(consignee.place, f"consignee:{consignee.pk}", most=4)

    def settle(self) -> None:
        """A count at the shop in town: one bag of every second product was sold."""
        consignee = Consignee.objects.select_related("place", "customer").get()
        rows = stall.rows_at(consignee.place, consignee.price_list)
        counted = [
            selling.Left(row.product, row.left, row.left - (index % 2 == 0), row.price_minor)
            for index, row in enumerate(rows)
        ]
        selling.settle(
            key=next(self._keys),
            consignee=consignee,
            counted=counted,
            happened_at=self._hours.now,
            by=self._owner,
        )

    def market(self) -> None:
        """A day at the market, run by the helper: loaded, sold, counted, closed."""
        place = Place.objects.create(name=STALL, kind=Place.Kind.STALL)
        day = stalls.open_day(
            place=place, float_minor=FLOAT_MINOR, opened_at=self._hours.now, by=self._helper
        )
        self._bring(place, f"stall:{day.pk}", most=6)
        for index, row in enumerate(stall.rows_at(place, None)):
            self._hours.tick(PAUSE)
            how = Sale.How.CARD if index % 3 == 2 else Sale.How.CASH
            selling.sell(
                key=next(self._keys),
                day=day,
                lines=[selling.Sold(row.product, 1, row.price_minor)],
                how=how,
                happened_at=self._hours.now,
                by=self._helper,
            )
        self._end(day)

    def _end(self, day: StallDay) -> None:
        self._hours.tick(PAUSE)
        rows = stall.rows_at(day.place, None)
        counted = [selling.Left(row.product, row.left, row.left) for row in rows]
        when = {"happened_at": self._hours.now, "by": self._helper}
        selling.count_stall(key=next(self._keys), day=day, counted=counted, **when)
        parts = [
            moving.Part(lot, lot.on_hand)
            for lot in Lot.objects.in_stock().filter(place=day.place).select_related("item")
        ]
        reference = f"stall:{day.pk}"
        moving.move(key=next(self._keys), parts=parts, place=None, reference=reference, **when)
        expected = stall.cash(day).expected_minor
        stalls.close_day(
            day,
            counted_minor=expected,
            note="Sunny; ask for more minnows.",
            closed_at=self._hours.now,
        )

    def give(self) -> None:
        """A bag for the club's raffle."""
        product = self._plenty()[0]
        lots = product.item.lots.free().select_related("item").first_expiring_first()
        giving.give(
            key=next(self._keys),
            parts=moving.parts_of(product.item, units.MICRO, lots),
            kind=Entry.Kind.GIFT,
            reason="Raffle of the harbor club",
            happened_at=self._hours.now,
            by=self._owner,
        )

    def _bring(self, place: Place, reference: str, *, most: int) -> None:
        """Two bags of each product of which there are enough, of so many products at most."""
        parts = []
        for product in self._plenty()[:most]:
            lots = product.item.lots.free().select_related("item").first_expiring_first()
            parts += moving.parts_of(product.item, 2 * units.MICRO, lots)
        moving.move(
            key=next(self._keys),
            parts=parts,
            place=place,
            reference=reference,
            happened_at=self._hours.now,
            by=self._owner,
        )

    def _plenty(self) -> list[Product]:
        return [
            product
            for product in Product.objects.select_related("item").order_by("pk")
            if sum(lot.available for lot in product.item.lots.free()) >= ENOUGH * units.MICRO
        ]
