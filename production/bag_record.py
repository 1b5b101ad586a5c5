"""What the bags page shows of each product: ready to bag, and bagged on hand."""

from django.db.models import QuerySet, Sum

from inventory import units
from inventory.models import Lot
from production.models import Bagging, LooseBait, Product


def products() -> QuerySet:
    """Products still sold, with their contents and all that their chips are drawn from."""
    return (
        Product.objects.filter(item__archived=False)
        .select_related("item")
        .prefetch_related("contents__bait", "contents__pattern__layers__version__doses__item")
    )


def with_counts(found: list[Product]) -> list[Product]:
    """Adds to each product `most` (whole bags that the loose baits fill now) and `on_hand` (bags):
    two queries for any number of products."""
    loose = loose_ready()
    bagged = dict(
        Lot.objects.filter(item__in=[product.item_id for product in found])
        .order_by()
        .values_list("item")
        .annotate(total=Sum("on_hand"))
    )
    for product in found:
        product.most = min(
            (
                loose.get((content.bait_id, content.pattern_id), 0) // content.count
                for content in product.contents.all()
            ),
            default=0,
        )
        product.on_hand = bagged.get(product.item_id, 0) // units.MICRO
    return found


def loose_ready() -> dict[tuple[int, int], int]:
    """Good loose baits that nothing holds, by (bait, pattern): one query."""
    rows = (
        LooseBait.objects.filter(second=False)
        .values_list("bait", "pattern")
        .annotate(total=Sum("item__lots__on_hand"), held=Sum("item__lots__reserved"))
    )
    return {
        (bait, pattern): ((total or 0) - (held or 0)) // units.MICRO
        for bait, pattern, total, held in rows
    }


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
