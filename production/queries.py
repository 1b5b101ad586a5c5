"""What the bench's pages read across tables."""

from django.db.models import Sum

from inventory import units
from inventory.models import Lot
from production.models import Batch, Pour, Product


def loose_on_hand(bait_id: int, pattern_id: int) -> int:
    """Good loose baits on hand, whole baits."""
    lots = Lot.objects.filter(
        item__loose_bait__bait=bait_id,
        item__loose_bait__pattern=pattern_id,
        item__loose_bait__second=False,
    )
    return (lots.aggregate(total=Sum("on_hand"))["total"] or 0) // units.MICRO


def most_bags(product: Product) -> int:
    """Whole bags that the loose baits on hand fill now."""
    contents = product.contents.all()
    return min((loose_on_hand(c.bait_id, c.pattern_id) // c.count for c in contents), default=0)


def leftovers():
    """Lots of poured plastic still on hand: cups, pucks and trim, oldest first."""
    return (
        Lot.objects.in_stock()
        .filter(item__kind="leftover")
        .select_related("item", "batch__version__recipe")
        .order_by("received_on", "id")
    )


def open_pour() -> Pour | None:
    return Pour.objects.filter(closed_at=None).first()


def batches_in_cups(pour: Pour):
    """The evening's batches that still hold something."""
    return Batch.objects.filter(pour=pour, lot__on_hand__gt=0).select_related(
        "lot__item", "version__recipe", "cup"
    )
