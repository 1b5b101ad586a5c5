"""Whatever is moved, sold, counted, given away and undone, in any order, no bag is sold twice."""

import threading

import pytest
from django.db import connection
from django.db.models import Sum
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

import inventory.audit
import shop.audit
from inventory import queries, units
from inventory.models import Entry, Item, Lot, Movement, Place
from inventory.services import counts, giving, holding, moving
from inventory.services.posting import LedgerError
from production.models import Product
from shop import stall
from shop.models import Customer, Sale, SaleLine
from shop.services import consigning, selling, stalls
from tests import factories
from tests.factories import key, micro
from tests.shop.stalls import bring, left, open_day


class Market:
    """Two products at home, a stall and a consignee, and what people do; each deed by a number that
    chooses how."""

    def __init__(self) -> None:
        self.products = []
        for name, bags, cost in (("Reed Eel, 5", 9, "4.95"), ("Mud Crawler, 5", 4, None)):
            item = factories.make_item(Item.Kind.BAGGED, name, "each")
            factories.make_lot(item, bags, cost)
            factories.make_lot(item, 2, 1)
            self.products.append(Product.objects.create(item=item, price_minor=650))
        stall_place = Place.objects.create(name="Harbor market", kind=Place.Kind.STALL)
        self.day = stalls.open_day(place=stall_place, float_minor=5000, by=None)
        self.consignee = consigning.save(
            None,
            customer=Customer(name="Juniper Vale"),
            place_name="Vale Tackle",
            commission_percent=30,
            price_list=None,
        )
        self.shed = Place.objects.create(name="Shed")

    def product(self, n: int) -> Product:
        return self.products[n % 2]

    def a_lot(self, n: int) -> Lot:
        lots = Lot.objects.select_related("item", "place").order_by("pk")
        return lots[n % len(lots)]

    def move(self, n: int) -> None:
        places = [self.day.place, self.consignee.place, self.shed, None]
        part = moving.Part(self.a_lot(n), micro(1 + n % 4))
        moving.move(key=key(), parts=[part], place=places[n % 4], by=None)

    def load(self, n: int) -> None:
        bring(self.product(n), 1 + n % 5, [self.day.place, self.consignee.place][n // 2 % 2])

    def tap(self, n: int) -> None:
        lines = [selling.Sold(self.product(n), 1 + n % 3, 600 + n)]
        how = [Sale.How.CASH, Sale.How.CARD][n // 2 % 2]
        really = n % 5 == 0
        selling.sell(key=key(), day=self.day, lines=lines, how=how, really=really, by=None)

    def count(self, n: int) -> None:
        product = self.product(n)
        books = left(product, self.day.place)
        fate = [selling.SOLD, selling.LOST][n // 2 % 2]
        counted = [selling.Left(product, books, n % 6, 650, fate)]
        selling.count_stall(key=key(), day=self.day, counted=counted, by=None)

    def settle(self, n: int) -> None:
        product = self.product(n)
        books = left(product, self.consignee.place)
        counted = [selling.Left(product, books, n % 4, 650)]
        selling.settle(key=key(), consignee=self.consignee, counted=counted, by=None)

    def give(self, n: int) -> None:
        parts = [moving.Part(self.a_lot(n), micro(1 + n % 2))]
        kind = [Entry.Kind.GIFT, Entry.Kind.OWN_USE][n % 2]
        giving.give(key=key(), parts=parts, kind=kind, reason="a prize", by=None)

    def hold(self, n: int) -> None:
        holding.reserve(f"order:{n}", self.product(n).item, micro(1 + n % 2))

    def undo(self, n: int) -> None:
        entries = Entry.objects.order_by("-pk")
        counts.undo(key=key(), entry=entries[n % len(entries)], by=None)


DEEDS = ["move", "load", "load", "tap", "tap", "count", "settle", "give", "hold", "undo", "undo"]


def _bags_in_and_out() -> tuple[int, int]:
    """Bags that came in by receipts, counts and finds; bags on hand, sold and given away."""
    standing = Movement.objects.filter(queries.STANDING_LINE, lot__item__kind=Item.Kind.BAGGED)

    def moved(**of) -> int:
        return (standing.filter(**of).aggregate(n=Sum("quantity"))["n"] or 0) // units.MICRO

    came = moved(role="made", entry__kind=Entry.Kind.RECEIPT)
    came += moved(role="found") + moved(role="counted")
    given_away = -moved(entry__kind__in=[Entry.Kind.GIFT, Entry.Kind.OWN_USE])
    sold = SaleLine.objects.filter(sale__entry__reversed_by=None)
    sold = sold.aggregate(n=Sum("bags"))["n"] or 0
    lots = Lot.objects.filter(item__kind=Item.Kind.BAGGED)
    on_hand = (lots.aggregate(n=Sum("on_hand"))["n"] or 0) // units.MICRO
    return came, on_hand + sold + given_away


@pytest.mark.filterwarnings("ignore::hypothesis.errors.HypothesisWarning")
class TestMarket(TestCase):
    @settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
    @given(st.lists(st.tuples(st.sampled_from(DEEDS), st.integers(0, 60)), min_size=4, max_size=14))
    def test_every_bag_is_on_hand_sold_or_given_away_once(self, deeds):
        market = Market()
        for deed, number in deeds:
            before = Entry.objects.count(), Sale.objects.count(), Lot.objects.count()
            try:
                getattr(market, deed)(number)
            except LedgerError as refusal:
                assert str(refusal)
                after = Entry.objects.count(), Sale.objects.count(), Lot.objects.count()
                assert after == before
        for lot in Lot.objects.all():
            lines = lot.movements.aggregate(on_hand=Sum("quantity"))
            assert lot.on_hand == (lines["on_hand"] or 0)
        came, went = _bags_in_and_out()
        assert came == went
        assert list(inventory.audit.findings()) == []
        assert [line for line in shop.audit.findings() if "order" not in line.lower()] == []


@pytest.mark.django_db(transaction=True)
def test_two_phones_that_sell_the_last_bag_at_once_sell_it_once_and_ask_the_other():
    item = factories.make_item(Item.Kind.BAGGED, "Reed Eel, 5", "each")
    factories.make_lot(item, 1, 1)
    product = Product.objects.create(item=item, price_minor=650)
    day = open_day()
    bring(product, 1, day.place)
    asked = []

    def tap():
        try:
            lines = [selling.Sold(product, 1, 650)]
            selling.sell(key=key(), day=day, lines=lines, how=Sale.How.CASH, by=None)
        except selling.NotThere as question:
            asked.append(question)
        finally:
            connection.close()

    threads = [threading.Thread(target=tap) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(asked) == 3
    assert stall.takings(day).bags == 1
    assert left(product, day.place) == 0


@pytest.mark.django_db(transaction=True)
def test_a_bag_is_never_both_moved_away_and_held_for_an_order():
    item = factories.make_item(Item.Kind.BAGGED, "Reed Eel, 5", "each")
    lot = factories.make_lot(item, 1, 1)
    place = Place.objects.create(name="Harbor market", kind=Place.Kind.STALL)
    refused = []

    def run(deed):
        try:
            deed()
        except LedgerError as refusal:
            refused.append(refusal)
        finally:
            connection.close()

    part = moving.Part(lot, micro(1))
    deeds = [
        lambda: moving.move(key=key(), parts=[part], place=place, by=None),
        lambda: holding.reserve("order:1", item, micro(1)),
    ]
    threads = [threading.Thread(target=run, args=[deed]) for deed in deeds]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(refused) == 1
    for found in Lot.objects.all():
        assert 0 <= found.reserved <= found.on_hand
    assert list(inventory.audit.findings()) == []
