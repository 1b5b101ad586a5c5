"""What was sold without an order, kept by consignees, given away and used: the books against the ledger."""

from datetime import date

import pytest
from django.db.models import Sum
from django.urls import reverse

from inventory.models import Entry, Lot, Movement
from inventory.services import counts, giving, moving
from shop import books
from shop.services import selling
from tests.factories import key, micro
from tests.shop.stalls import bring, open_day
from tests.shop.test_consignment import make_consignee
from tests.shop.test_stall import words

pytestmark = pytest.mark.django_db


@pytest.fixture
def product(make_product):
    """Twelve bags; each cost five baits at 0.10 and a pouch at 0.05."""
    return make_product(bagged=12)


@pytest.fixture
def day(product):
    day = open_day()
    bring(product, 5, day.place)
    return day


def sell(day, product, bags=1):
    lines = [selling.Sold(product, bags, 650)]
    return selling.sell(key=key(), day=day, lines=lines, how="cash", by=None)


def month():
    return books.months(date.today())[0]


def test_bags_at_a_stall_are_still_on_hand_in_the_books(product, day):
    rows = {row.kind: str(row.value) for row in books.value_by_kind()}
    assert rows["bagged product"] == "6.60"  # 12 × 0.55
    assert str(month().left) == "0.00"


def test_a_stall_sale_shows_its_money_and_its_cost(product, day):
    sell(day, product, 2)
    assert (month().sold_minor, month().charged_minor) == (1300, 0)
    assert str(month().left) == "1.10"  # 2 × 0.55
    counts.undo(key=key(), entry=Entry.objects.get(kind="sale"), by=None)
    assert (month().sold_minor, str(month().left)) == (0, "0.00")


def test_a_settlement_shows_what_was_sold_and_what_they_kept(product):
    found = make_consignee(keeps="30")
    bring(product, 5, found.place)
    counted = [selling.Left(product, 5, 2, 650)]
    selling.settle(key=key(), consignee=found, counted=counted, by=None)
    # By hand: 3 × 6.50 = 19.50, 30 % of it is 5.85, three bags cost 1.65.
    assert (month().sold_minor, month().commission_minor) == (1950, 585)
    assert str(month().left) == "1.65"


def test_a_sale_of_several_products_counts_its_commission_once(product, make_product):
    other = make_product("Mud Crawler, Dusk, 5", bagged=4)
    found = make_consignee(keeps="10")
    bring(product, 2, found.place)
    bring(other, 2, found.place)
    counted = [selling.Left(product, 2, 0, 650), selling.Left(other, 2, 0, 650)]
    selling.settle(key=key(), consignee=found, counted=counted, by=None)
    assert (month().sold_minor, month().commission_minor) == (2600, 260)


def test_the_columns_together_are_what_the_ledger_took_off_the_shelf(product, day):
    sell(day, product, 2)
    lot = Lot.objects.filter(item=product.item, place=None).get()
    for kind in (Entry.Kind.GIFT, Entry.Kind.OWN_USE):
        parts = [moving.Part(lot, micro(1))]
        giving.give(key=key(), parts=parts, kind=kind, reason="a prize", by=None)
    counted = [selling.Left(product, 3, 1, 650, selling.LOST)]
    selling.count_stall(key=key(), day=day, counted=counted, by=None)
    now = month()
    shown = now.left.known + now.given.known + now.own_use.known - now.counted.known
    bags = Movement.objects.filter(lot__item=product.item)
    made = bags.filter(entry__kind="bagging").aggregate(cost=Sum("cost"))["cost"]
    on_hand = Lot.objects.filter(item=product.item).aggregate(cost=Sum("cost"))["cost"]
    assert shown == made - on_hand == micro("3.30")  # six bags left: 6 × 0.55


def test_the_page_has_a_column_for_each(owner_client, product, day):
    sell(day, product)
    page = words(owner_client.get(reverse("books")))
    for column in ("Sold without an order", "Kept by consignees", "Given away", "Own use"):
        assert column in page
    assert "6.50" in page
