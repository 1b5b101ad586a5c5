"""What the bench's pages read across tables."""

from inventory.models import Lot
from production import loose
from production.models import Batch, Pour, Product


def most_bags(product: Product) -> int:
    """Whole bags that the loose baits fill now."""
    contents = product.contents.all()
    kinds = {content: loose.kind_of(product, content) for content in contents}
    ready = loose.ready(kinds.values())
    return min((ready.get(kinds[c], 0) // c.count for c in contents), default=0)


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
