"""Who sells our bags from their place: agreed once, changed in the open."""

from decimal import Decimal

from django.db import transaction

from inventory.models import Place
from shop.models import Consignee, Customer, PriceList


@transaction.atomic
def save(
    consignee: Consignee | None,
    *,
    customer: Customer,
    place_name: str,
    commission_percent: Decimal,
    price_list: PriceList | None,
) -> Consignee:
    """Writes down a consignee; a new one gets a place of that name. Earlier settlements stay as they
    were: each keeps its own commission."""
    if customer.pk is None:
        customer.save()
    if consignee is None:
        place = Place.objects.create(name=place_name, kind=Place.Kind.CONSIGNEE)
        consignee = Consignee(place=place)
    elif consignee.place.name != place_name:
        consignee.place.name = place_name
        consignee.place.save(update_fields=["name"])
    consignee.customer = customer
    consignee.commission_percent = commission_percent
    consignee.price_list = price_list
    consignee.save()
    return consignee
