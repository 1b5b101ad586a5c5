"""What a bag costs whom: the products' own prices, or a price list's."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from production.models import Product
from shop import money
from shop.models import Customer, PriceList


@dataclass(frozen=True)
class Prices:
    """A list's prices in the minor unit: its own by product id, else the product's less so much."""

    percent_off: Decimal = Decimal(0)
    own: Mapping[int, int] = field(default_factory=dict)

    def of(self, product: Product) -> int:
        own = self.own.get(product.pk)
        return money.less(product.price_minor, self.percent_off) if own is None else own


def of_list(price_list: PriceList | None) -> Prices:
    """The prices of a list, the products' own without one. One query."""
    if price_list is None:
        return Prices()
    own = price_list.prices.values_list("product", "price_minor")
    return Prices(price_list.percent_off, dict(own))


def of_customer(customer: Customer | None) -> Prices:
    """What a customer pays; someone who is not known yet pays the products' own prices."""
    return of_list(customer.price_list if customer else None)
