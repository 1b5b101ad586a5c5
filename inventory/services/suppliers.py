"""Writing down who sells what: suppliers and the packs they sell."""

from typing import Any

from django.db import transaction

from inventory.models import Item, Pack, Supplier


@transaction.atomic
def add_supplier(**facts: Any) -> Supplier:
    """A new supplier; raises ValidationError keyed by field."""
    supplier = Supplier(**facts)
    supplier.full_clean()
    supplier.save()
    return supplier


@transaction.atomic
def change_supplier(supplier: Supplier, **facts: Any) -> Supplier:
    """Changes the facts given and no others; raises ValidationError keyed by field."""
    for name, value in facts.items():
        setattr(supplier, name, value)
    supplier.full_clean()
    supplier.save(update_fields=list(facts))
    return supplier


@transaction.atomic
def add_pack(*, item: Item, supplier: Supplier, name: str, quantity: int, price_minor: int) -> Pack:
    """One more way to buy an item; `quantity` in millionths. Raises ValidationError."""
    pack = Pack(item=item, supplier=supplier, name=name, quantity=quantity, price_minor=price_minor)
    pack.full_clean()
    pack.save()
    return pack


@transaction.atomic
def drop_pack(pack: Pack) -> None:
    """Forgets a pack. What was received in it stays: lots don't point to packs."""
    pack.delete()
