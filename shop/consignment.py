"""What the pages of consignment read."""

from dataclasses import dataclass

from django.db.models import F, Max, QuerySet, Sum
from django.utils import timezone

from inventory import units
from inventory.models import Lot
from shop import stall
from shop.models import Consignee, Sale


@dataclass(frozen=True)
class Row:
    """A consignee with the bags that lie there, and the days since the last settlement (None: never)."""

    consignee: Consignee
    bags: int
    days: int | None


def overview() -> list[Row]:
    """Every consignee: three queries."""
    found = list(
        Consignee.objects.select_related("place", "customer", "price_list").order_by("place__name")
    )
    places = [consignee.place_id for consignee in found]
    lots = Lot.objects.in_stock().filter(place__in=places, item__kind="bagged product").order_by()
    bags = dict(lots.values_list("place").annotate(total=Sum("on_hand")))
    sales = stall.standing_sales().filter(place__in=places, how=Sale.How.SETTLED).order_by()
    settled = dict(sales.values_list("place").annotate(last=Max("entry__business_date")))
    today = timezone.localdate()
    return [
        Row(
            one,
            int(bags.get(one.place_id, 0)) // units.MICRO,
            (today - settled[one.place_id]).days if one.place_id in settled else None,
        )
        for one in found
    ]


def settlements(consignee: Consignee) -> QuerySet[Sale]:
    """Settlements at a consignee's place, undone ones too, newest first, with their `total`."""
    sales = Sale.objects.filter(place=consignee.place_id, how=Sale.How.SETTLED)
    sales = sales.select_related("entry__reversed_by")
    return sales.annotate(total=Sum(F("lines__bags") * F("lines__price_minor"))).order_by("-id")


def consignee_of(sale: Sale) -> Consignee | None:
    found = Consignee.objects.select_related("place", "customer", "price_list")
    return found.filter(place=sale.place_id).first()
