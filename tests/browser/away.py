"""Bags away from home: a stall's open day and a closed one, and a consignee with a settlement."""

from django.urls import reverse

from inventory.models import Lot, Place
from production.models import Product
from shop.models import Customer
from shop.services import consigning, selling, stalls
from tests.factories import key
from tests.shop.stalls import bring, left


def addresses() -> list[str]:
    """The pages of all that, made of the bags that lie at home."""
    at_home = Lot.objects.free().filter(form=Lot.Form.BAG).values("item")
    products = list(Product.objects.filter(item__in=at_home).select_related("item")[:3])
    place = Place.objects.create(name="Harbor market", kind=Place.Kind.STALL)
    closed = stalls.open_day(place=place, float_minor=5000, by=None)
    stalls.close_day(closed, counted_minor=4000, note="Rain since noon.")
    day = stalls.open_day(place=place, float_minor=5000, by=None)
    consignee = consigning.save(
        None,
        customer=Customer.objects.first(),
        place_name="Vale Tackle",
        commission_percent=30,
        price_list=None,
    )
    for product in products[:2]:
        bring(product, 1, place, reference=f"stall:{day.pk}")
    lines = [selling.Sold(products[0], 1, 650)]
    selling.sell(key=key(), day=day, lines=lines, how="cash", by=None)
    counted = []
    for product in products:
        bring(product, 1, consignee.place)
        counted.append(selling.Left(product, left(product, consignee.place), 0, 650))
    settled = selling.settle(key=key(), consignee=consignee, counted=counted[:1], by=None)
    steps = ("day", "load", "several", "count", "home", "end")
    dealings = ("", "_edit", "_settle", "_bring", "_back")
    lot = Lot.objects.filter(place=place).first()
    return [
        *(reverse(name) for name in ("stalls", "consignment", "consignee_new", "inventory:move")),
        *(reverse(f"stall_{step}", args=[day.pk]) for step in steps),
        reverse("stall_day", args=[closed.pk]),
        *(reverse(f"consignee{deal}", args=[consignee.pk]) for deal in dealings),
        reverse("settlement", args=[settled.sale.pk]),
        f"{reverse('inventory:move')}?to={consignee.place_id}",
        reverse("inventory:lot", args=[lot.pk]),
        *(reverse(f"inventory:{name}", args=[lot.pk]) for name in ("move_lot", "give_lot")),
        reverse("inventory:give_item", args=[products[2].item_id]),
        f"{reverse('inventory:shelf')}?by=place",
    ]
