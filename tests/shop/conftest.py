"""What the front of house's tests start from: a product with loose baits and bags, and an order."""

import pytest

from inventory.models import Item
from production.models import Pattern, Product, ProductContent, ProductPackaging
from production.services import bagging, bait_lots
from shop.models import Customer
from shop.services import orders
from tests import factories
from tests.factories import key, micro


@pytest.fixture
def data_dir(settings, tmp_path):
    settings.DATA_DIR = tmp_path
    return tmp_path


@pytest.fixture
def make_product(db):
    """make_product(name, loose=…, bagged=…): a product of five baits with that much on hand."""

    def make(name="Reed Eel, Marsh Lantern, 5", *, loose=0, bagged=0, price_minor=650):
        bait = factories.make_bait(f"Bait of {name}")
        pattern = Pattern.objects.create(name=f"Pattern of {name}")
        item = factories.make_item(Item.Kind.BAGGED, name, "each")
        product = Product.objects.create(item=item, price_minor=price_minor)
        ProductContent.objects.create(product=product, bait=bait, pattern=pattern, count=5)
        pouch = factories.make_item(Item.Kind.PACKAGING, f"Pouch for {name}", "each")
        ProductPackaging.objects.create(product=product, item=pouch, quantity=micro(1))
        factories.make_lot(pouch, 1000, 50)
        if loose or bagged:
            baits = loose + bagged * 5
            factories.make_lot(bait_lots.loose_item(bait, pattern), baits, baits * 0.1)
        if bagged:
            bagging.bag(key=key(), product=product, bags=bagged, by=None)
        return product

    return make


@pytest.fixture
def take_order(db):
    """take_order((product, bags), …): an open order."""

    def take(*lines, customer="Juniper Vale", due_on=None):
        found = Customer.objects.get_or_create(name=customer)[0]
        wanted = [orders.Wanted(product, bags) for product, bags in lines]
        return orders.take(customer=found, lines=wanted, due_on=due_on)

    return take
