"""Loading the demo shop into an empty database, through the services, in one transaction."""

import itertools
from collections.abc import Iterator
from datetime import date, timedelta
from random import Random
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import Q, QuerySet
from django.utils import timezone

from inventory import units
from inventory.models import Entry, Item, Lot, Supplier
from inventory.services import counts, receiving
from production import queries as bench_queries
from production.forms.plans import WishForm
from production.models import Product, Shots
from production.services import bagging, plans
from shop import queries as shop_queries
from shop.demo import catalog, counter, evenings, furnishing, orders, papers, shelf
from shop.demo.away import Away
from shop.demo.bench import LEAST_ML, Bench
from shop.demo.hours import Hours
from shop.models import Customer, Shop, User
from shop.services import orders as ordering
from shop.services import shipping

SHOP = {
    "name": "Lantern Cove Baits",
    "town": "Alder Slip, Minnesota",
    "address": "12 Slip Road\nAlder Slip, Minnesota",
    "email": "hello@lanterncove.example",
    "phone": "555-0101",
    "invoice_note": "Payable within 14 days, by check or transfer.",
    "units": Shop.Units.US,
    "currency": "USD",
    "time_zone": "America/Chicago",
    "demo": True,
}
#: The owner signs in under the name given; these are the two people of the story.
OWNER, HELPER = ("Wren", "Halloway"), ("Tobin", "Ash")
OPENED = 60
#: Bags of each product kept ready; more loose baits wait for the next bagging.
READY_BAGS = 7
CURED_AFTER = 2
#: Millionths of a mL of trim too little to melt again.
CRUMBS = LEAST_ML * units.MICRO


class NotEmpty(Exception):
    """The demo goes into an empty shop only."""


@transaction.atomic
def load(*, owner: User, today: date | None = None) -> Shop:
    """Makes the demo shop of `owner`: two months that end yesterday evening. The same for the same day.

    today: a date in the shop's time zone, not a future one; the present one by default. Raises
    NotEmpty when there is a shop, an item or a posting already: nothing is ever overwritten."""
    shop = open_empty(owner)
    zone = ZoneInfo(shop.time_zone)
    today = today or timezone.localdate(timezone=zone)
    with timezone.override(zone):
        _Story(owner=owner, helper=_make_helper(), today=today, hours=Hours(zone)).tell()
    return shop


def open_empty(owner: User) -> Shop:
    """The demo's shop with nothing in it yet; its owner gets a name. Raises NotEmpty."""
    if Shop.objects.exists() or Item.objects.exists() or Entry.objects.exists():
        raise NotEmpty("There is data here already.")
    shop = Shop(id=1, **SHOP)
    shop.full_clean()
    shop.save(force_insert=True)
    if not owner.get_full_name():
        owner.first_name, owner.last_name = OWNER
        owner.save(update_fields=["first_name", "last_name"])
    return shop


def _make_helper() -> User:
    """Tobin, who has no password: the owner gives him one under Setup."""
    name = "tobin" if not User.objects.filter(username="tobin").exists() else "tobin.ash"
    return User.objects.create_user(
        username=name, first_name=HELPER[0], last_name=HELPER[1], role=User.Role.HELPER
    )


class _Story:
    """Two months in the order in which they happened."""

    def __init__(self, *, owner: User, helper: User, today: date, hours: Hours) -> None:
        self._owner, self._helper, self._today, self._hours = owner, helper, today, hours
        self._keys = (f"demo-{number}" for number in itertools.count(1))
        random = Random("Lantern Cove")
        self._bench = Bench(hours=hours, keys=self._keys, random=random, by=owner)
        self._away = Away(hours=hours, keys=self._keys, owner=owner, helper=helper)

    def tell(self) -> None:
        happenings = [(OPENED, 9, self._open, ()), *self._days()]
        for days_ago, hour, happening, facts in sorted(
            happenings, key=lambda one: (-one[0], one[1])
        ):
            self._hours.at(self._day(days_ago), hour)
            happening(*facts)
        self._plan_tonight()
        counter.settle(today=self._today, by=self._owner)

    def _days(self) -> Iterator[tuple]:
        """(days before today, hour, what happens, its facts)."""
        for evening in evenings.EVENINGS:
            yield evening.days_ago, 19, self._bench.tell, (evening,)
            if evening.days_ago > CURED_AFTER:
                yield evening.days_ago - CURED_AFTER, 10, self._bag, ()
        for days_ago, supplier, lines in shelf.PURCHASES:
            yield days_ago, 14, self._receive, (days_ago, supplier, lines)
        days_ago, *order = shelf.ON_ITS_WAY
        yield days_ago, 11, self._order_goods, (days_ago, *order)
        for days_ago, item, difference, why in shelf.COUNTS:
            yield days_ago, 16, self._count, (item, difference, why)
        for days_ago, *order in orders.ORDERS:
            yield days_ago, 12, self._take_order, (days_ago, *order)
        for days_ago in orders.POST_DAYS:
            yield days_ago, 15, self._post_parcels, ()
        yield 4, 11, self._away.consign, ()
        yield 2, 9, self._away.market, ()
        yield 1, 13, self._away.settle, ()
        yield 1, 14, self._away.give, ()
        days_ago, *revision = catalog.REVISION
        yield days_ago, 9, self._revise_recipe, revision
        days_ago, *trim = evenings.MIXED_TRIM
        yield days_ago, 17, self._throw_mixed_trim, trim
        days_ago, *tired = evenings.TIRED_TRIM
        yield days_ago, 17, self._throw_tired_trim, tired

    def _day(self, days_ago: int) -> date:
        return self._today - timedelta(days=days_ago)

    def _open(self) -> None:
        furnishing.stock_shelf()
        furnishing.set_up_bench(self._hours.now)
        furnishing.set_service()
        furnishing.add_customers()
        counter.add_price_lists()
        papers.add(self._owner)
        receiving.open_shelf(
            key=next(self._keys),
            arrivals=furnishing.opening_arrivals(self._day(OPENED)),
            happened_at=self._hours.now,
            by=self._owner,
        )

    def _revise_recipe(self, *revision) -> None:
        furnishing.revise_recipe(*revision, written_at=self._hours.now)

    def _receive(self, days_ago: int, supplier: str, lines: list[tuple]) -> None:
        day = self._day(days_ago)
        receiving.receive(
            key=next(self._keys),
            arrivals=furnishing.bought_arrivals(lines, day, supplier),
            happened_at=self._hours.now,
            note=f"Invoice of {Supplier.objects.get(name=supplier)}",
            by=self._owner,
        )

    def _order_goods(self, days_ago: int, supplier: str, lines: list[tuple]) -> None:
        furnishing.order_goods(next(self._keys), supplier, lines, self._day(days_ago))

    def _count(self, item: str, difference: str, why: str) -> None:
        lot = Lot.objects.in_stock().filter(item__name=item).first_expiring_first().first()
        counts.count(
            key=next(self._keys),
            lot=lot,
            counted=lot.on_hand + units.to_micro(difference),
            reason=why,
            counted_at=self._hours.now,
            by=self._owner,
        )

    def _bag(self) -> None:
        for product in Product.objects.select_related("item").order_by("pk"):
            ready = sum(lot.on_hand for lot in product.item.lots.all()) // units.MICRO
            bags = min(bench_queries.most_bags(product), READY_BAGS - ready)
            if bags > 0:
                self._hours.tick(4 * bags)
                bagging.bag(
                    key=next(self._keys),
                    product=product,
                    bags=bags,
                    happened_at=self._hours.now,
                    by=self._helper,
                )

    def _take_order(
        self, days_ago: int, customer: str, lines: list[tuple], due_in: int, notes: str
    ) -> None:
        ordering.take(
            customer=Customer.objects.get(name=customer),
            lines=[
                ordering.Wanted(Product.objects.get(item__name=name), bags) for name, bags in lines
            ],
            ordered_on=self._day(days_ago),
            due_on=self._day(days_ago - due_in),
            notes=notes,
        )

    def _plan_tonight(self) -> None:
        """A plan for this evening, of what orders are short of and what is under its minimum."""
        wishes = WishForm(None).suggested()
        self._hours.at(self._today, 9)
        plans.make(wishes=wishes, by=self._owner)

    def _post_parcels(self) -> None:
        """Ships the open orders that stand ready in bags, the first due first."""
        for order in shop_queries.open_orders():
            states = shop_queries.line_states([order])
            if all(line.ready for line in states[order.pk]):
                self._hours.tick(10)
                shipping.ship(
                    key=next(self._keys),
                    order=order,
                    happened_at=self._hours.now,
                    by=self._helper,
                )

    def _throw_mixed_trim(self, pattern: str, why: str) -> None:
        shots = Shots.objects.filter(pattern__name=pattern, trim_lot__on_hand__gt=0)
        self._throw(Lot.objects.filter(pk__in=shots.values("trim_lot")), why)

    def _throw_tired_trim(self, melts: int, why: str) -> None:
        trim = Lot.objects.in_stock().filter(form=Lot.Form.TRIM)
        self._throw(trim.filter(Q(melts__gte=melts) | Q(on_hand__lt=CRUMBS)), why)

    def _throw(self, lots: QuerySet[Lot], why: str) -> None:
        for lot in lots.order_by("pk"):
            self._hours.tick(1)
            counts.waste(
                key=next(self._keys),
                lot=lot,
                quantity=lot.on_hand,
                reason=why,
                happened_at=self._hours.now,
                by=self._owner,
            )
