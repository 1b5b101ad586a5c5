"""Keeping the size of a drop: of the item, or of one bottle of it."""

from decimal import Decimal

from inventory.models import Item, Lot
from inventory.services import catalog


def keep(*, item: Item, ml_per_drop: Decimal, lot: Lot | None = None) -> None:
    """Keeps it on the lot when one is named, else on the item; raises ValidationError.

    A lot's own drop size goes before the item's wherever drops are converted."""
    if lot is None:
        catalog.change_item(item, ml_per_drop=ml_per_drop)
        return
    lot.ml_per_drop = ml_per_drop
    lot.clean_fields(exclude=[f.name for f in Lot._meta.fields if f.name != "ml_per_drop"])
    lot.save(update_fields=["ml_per_drop"])
