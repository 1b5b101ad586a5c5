"""A stall with bags on it, for the tests of selling without an order."""

from inventory import units
from inventory.models import Lot, Place
from inventory.services import moving
from shop.services import stalls
from tests.factories import key


def make_stall(name="Harbor market"):
    return Place.objects.create(name=name, kind=Place.Kind.STALL)


def open_day(place=None, *, float_minor=5000, price_list=None, by=None):
    place = place or make_stall()
    return stalls.open_day(place=place, float_minor=float_minor, price_list=price_list, by=by)


def bring(product, bags, place, reference=""):
    """Moves bags of a product from home to a place, the oldest first."""
    lots = product.item.lots.free().select_related("item").first_expiring_first()
    parts = moving.parts_of(product.item, units.to_micro(bags), lots)
    return moving.move(key=key(), parts=parts, place=place, reference=reference, by=None)


def left(product, place):
    """Bags of a product that the books say lie at a place (None: at home)."""
    lots = Lot.objects.filter(item=product.item)
    lots = lots.at_home() if place is None else lots.filter(place=place)
    return sum(lot.on_hand for lot in lots) // units.MICRO
