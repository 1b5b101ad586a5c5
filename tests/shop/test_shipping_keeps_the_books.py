"""However orders are sent, closed, returned, held, amended and undone, the books are right."""

import itertools

import pytest
from django.db.models import Sum
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from inventory import audit as shelf_audit
from inventory.models import Entry, Item, Lot, Movement
from inventory.services import counts, mending
from inventory.services.posting import LedgerError
from production import audit as bench_audit
from production.models import Pattern, Product, ProductContent
from production.services import bagging, bait_lots
from shop import audit, parcels, queries
from shop.models import Customer, Order, OrderLine, Return, Shipment
from shop.services import holds, invoices, orders, returns, shipping
from shop.services.shipping import Packed
from tests import factories
from tests.factories import key, micro


class Counter:
    """Two products with a few bags, three orders, and what people do to them; a number says how."""

    def __init__(self) -> None:
        self.products = [self._product(name, cost) for name, cost in (("Reed", 7), ("Brook", None))]
        for product, bags in zip(self.products, (9, 5), strict=True):
            bagging.bag(key=key(), product=product, bags=bags, by=None)
            bagging.bag(key=key(), product=product, bags=3, by=None)
        customer = Customer.objects.create(name="Juniper Vale")
        wanted = [(6, 4), (3, 0), (9, 2)]
        for counts_ in wanted:
            lines = [
                orders.Wanted(product, bags)
                for product, bags in zip(self.products, counts_, strict=True)
                if bags
            ]
            orders.take(customer=customer, lines=lines)

    def _product(self, name, cost):
        bait, pattern = factories.make_bait(name), Pattern.objects.create(name=name)
        item = factories.make_item(Item.Kind.BAGGED, name, "each")
        product = Product.objects.create(item=item, price_minor=650)
        ProductContent.objects.create(product=product, bait=bait, pattern=pattern, count=2)
        factories.make_lot(bait_lots.loose_item(bait, pattern), 60, cost)
        return product

    def _order(self, n):
        return list(queries.orders().order_by("pk"))[n % 3]

    def ship(self, n):
        order = self._order(n)
        lines = order.lines.select_related("product__item")
        packed = [Packed(line, (n // 3 + i) % 5) for i, line in enumerate(lines)]
        shipping.ship(key=key(), order=order, packed=packed, by=None)

    def ship_rest(self, n):
        shipping.ship(key=key(), order=self._order(n), by=None)

    def ship_by_lot(self, n):
        order = self._order(n)
        line = order.lines.select_related("product__item").first()
        lots = list(line.product.item.lots.select_related("item", "place").order_by("-pk"))
        of = tuple((lot, 1 + (n + i) % 3) for i, lot in enumerate(lots))
        packed = [Packed(line, sum(bags for _, bags in of), of)]
        shipping.ship(key=key(), order=order, packed=packed, by=None)

    def hold(self, n):
        holds.hold(self._order(n))

    def take_back(self, n):
        found = parcels.of(Shipment.objects.select_related("entry__reversed_by").order_by("pk"))
        if found:
            parcel = found[n % len(found)]
            bags = {one.line: (n + i) % 4 for i, one in enumerate(parcel.sent)}
            returns.take_back(
                key=key(),
                shipment=parcel.shipment,
                bags=bags,
                fate=list(Return.Fate)[n % 2],
                replace=bool(n // 2 % 2),
                by=None,
            )

    def close(self, n):
        shipping.close(self._order(n))

    def reopen(self, n):
        shipping.reopen(self._order(n))

    def cancel(self, n):
        orders.cancel(self._order(n))

    def bill(self, n):
        invoices.issue(self._order(n))

    def count(self, n):
        lots = Lot.objects.filter(item__kind=Item.Kind.BAGGED).order_by("pk")
        counts.count(key=key(), lot=lots[n % len(lots)], counted=micro(n % 7), by=None)

    def cost(self, n):
        """What the baits cost is mended after bags have left and come back."""
        lots = Lot.objects.filter(item__kind=Item.Kind.LOOSE_BAIT).order_by("pk")
        lot = lots[n % len(lots)]
        cost = micro(n) if n % 3 else None
        mending.amend_receipt(key=key(), lot=lot, quantity=micro(60), cost=cost, by=None)

    def undo(self, n):
        entries = Entry.objects.order_by("-pk")
        counts.undo(key=key(), entry=entries[n % len(entries)], by=None)


DEEDS = ["ship", "ship", "ship_rest", "ship_by_lot", "hold", "take_back", "take_back", "close"]
DEEDS += ["reopen", "cancel", "bill", "count", "cost", "undo", "undo"]
REFUSALS = (LedgerError, shipping.ShippingError, orders.OrderError)


def _right():
    for lot in Lot.objects.all():
        lines = lot.movements.aggregate(on_hand=Sum("quantity"), cost=Sum("cost"))
        assert lot.on_hand == (lines["on_hand"] or 0)
        assert lot.cost is None or lot.cost == (lines["cost"] or 0)
    for line in OrderLine.objects.select_related("product__item", "order"):
        # By hand from the lines of entries that stand: out less back.
        undone = Entry.objects.exclude(reverses=None).values("reverses")
        moved = Movement.objects.filter(
            lot__item=line.product.item, entry__reference=f"order:{line.order_id}", revalues=None
        ).exclude(entry__in=undone)
        out = moved.filter(entry__kind="shipment").aggregate(total=Sum("quantity"))["total"] or 0
        back = moved.filter(role="returned", entry__kind="return")
        total = -out - (back.aggregate(total=Sum("quantity"))["total"] or 0)
        assert micro(line.shipped) == total
    findings = [*shelf_audit.findings(), *bench_audit.findings(), *audit.findings()]
    assert findings == []


@pytest.mark.filterwarnings("ignore::hypothesis.errors.HypothesisWarning")
class TestCounter(TestCase):
    @settings(max_examples=30, deadline=None, suppress_health_check=list(HealthCheck))
    @given(st.lists(st.tuples(st.sampled_from(DEEDS), st.integers(0, 40)), min_size=4, max_size=14))
    def test_whatever_happens_to_orders_the_books_are_right(self, deeds):
        counter = Counter()
        for deed, number in deeds:
            before = Entry.objects.count(), Movement.objects.count(), Return.objects.count()
            try:
                getattr(counter, deed)(number)
            except REFUSALS as refusal:
                assert str(refusal)
                after = Entry.objects.count(), Movement.objects.count(), Return.objects.count()
                assert after == before
        _right()

    def test_a_long_day_at_the_counter(self):
        """Each deed with a few numbers, in one long row: what chance may leave out."""
        counter = Counter()
        done = 0
        for number, deed in itertools.product((1, 4, 8), DEEDS):
            try:
                getattr(counter, deed)(number + done)
                done += 1
            except REFUSALS as refusal:
                assert str(refusal)
        assert done > len(DEEDS)
        assert Order.objects.exclude(status="open").exists()
        _right()
