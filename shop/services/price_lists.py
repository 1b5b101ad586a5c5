"""Price lists: their per cent off, and the prices they name themselves."""

from collections.abc import Mapping
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction

from production.models import Product
from shop.models import ListPrice, PriceList

#: What the list of the products' own prices is called.
RETAIL = "Retail"


@transaction.atomic
def save(
    price_list: PriceList | None,
    *,
    name: str,
    percent_off: Decimal,
    own: Mapping[Product, int | None],
) -> PriceList:
    """A new list, or what an old one says now. Of the products in `own` those with None lose their
    own price; products that are not in it keep theirs. Raises ValidationError at `name`."""
    same = PriceList.objects.filter(name__iexact=name)
    if same.exclude(pk=price_list.pk if price_list else None).exists() or (
        name.casefold() == RETAIL.casefold()
    ):
        raise ValidationError({"name": f"There is a list named {name} already. Name it otherwise."})
    price_list = price_list or PriceList()
    price_list.name, price_list.percent_off = name, percent_off
    price_list.save()
    price_list.prices.filter(product__in=own).delete()
    ListPrice.objects.bulk_create(
        ListPrice(price_list=price_list, product=product, price_minor=price_minor)
        for product, price_minor in own.items()
        if price_minor is not None
    )
    return price_list


@transaction.atomic
def remove(price_list: PriceList) -> None:
    """Removes a list; who paid by it pays the products' own prices from now on. Orders keep theirs."""
    price_list.delete()
