"""What the bags page shows of each product: ready to bag, and bagged on hand."""

from django.db.models import QuerySet, Sum

from inventory import units
from inventory.models import Lot
from production import loose
from production.models import Bagging, Product


def products() -> QuerySet:
    """Products still sold, with their contents and all that their chips are drawn from."""
    return (
        Product.objects.filter(item__archived=False)
        .select_related("item")
        .prefetch_related(
            "contents__bait",
            "contents__pattern__layers__version__doses__item",
            "finishing__item",
        )
    )


def with_counts(found: list[Product]) -> list[Product]:
    """Adds to each product `most` (whole bags that the loose baits fill now), `over` (what then stays
    loose of each bait, as text) and `on_hand` (bags in the house): two queries for any number of products."""
    baits = loose.ready()
    bagged = dict(
        Lot.objects.at_home()
        .filter(item__in=[product.item_id for product in found])
        .order_by()
        .values_list("item")
        .annotate(total=Sum("on_hand"))
    )
    for product in found:
        there = [
            (content, baits.get(loose.kind_of(product, content), 0))
            for content in product.contents.all()
        ]
        product.most = min((count // content.count for content, count in there), default=0)
        product.over = [
            (content, count - product.most * content.count)
            for content, count in there
            if count > product.most * content.count
        ]
        product.on_hand = bagged.get(product.item_id, 0) // units.MICRO
    return found


def all_baggings() -> QuerySet:
    """Every bagging, undone ones too, newest first."""
    return Bagging.objects.select_related(
        "entry__by", "entry__reversed_by", "lot__item", "product__item"
    )


def baggings() -> QuerySet:
    """Standing baggings, newest first."""
    return all_baggings().filter(entry__reversed_by=None)


def bag_lots() -> QuerySet:
    """Lots of bags on hand, newest first, with all that their labels say."""
    return (
        Lot.objects.in_stock()
        .filter(form=Lot.Form.BAG)
        .select_related("item__product")
        .prefetch_related("item__product__contents__bait", "item__product__contents__pattern")
        .order_by("-received_on", "-id")
    )
