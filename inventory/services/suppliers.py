"""Writing down who sells what: suppliers and the packs they sell."""

from collections.abc import Iterable
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from inventory.models import Item, Pack, PackBreak, Supplier

Breaks = Iterable[tuple[int, int]]


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
def add_pack(*, item: Item, supplier: Supplier, breaks: Breaks = (), **facts: Any) -> Pack:
    """One more way to buy an item: `name`, `quantity` in millionths, `price_minor`, `least`.

    breaks: (from so many packs, price of each in the minor unit). Raises ValidationError keyed by field."""
    return _keep_pack(Pack(item=item, supplier=supplier), breaks, facts)


@transaction.atomic
def change_pack(pack: Pack, *, breaks: Breaks | None = None, **facts: Any) -> Pack:
    """Changes the facts given and no others; `breaks` None leaves them. Raises ValidationError."""
    return _keep_pack(pack, breaks, facts)


def _keep_pack(pack: Pack, breaks: Breaks | None, facts: dict[str, Any]) -> Pack:
    for name, value in facts.items():
        setattr(pack, name, value)
    twins = Pack.objects.filter(item=pack.item, supplier=pack.supplier, name=pack.name)
    if twins.exclude(pk=pack.pk).exists():
        raise ValidationError(
            {
                "name": f"{pack.supplier} already sells a {pack.name} of it. Give this one another "
                "name, or change that one."
            }
        )
    pack.full_clean()
    pack.save()
    if breaks is not None:
        pack.breaks.all().delete()
        PackBreak.objects.bulk_create(
            PackBreak(pack=pack, from_packs=packs, price_minor=price) for packs, price in breaks
        )
    return pack


@transaction.atomic
def drop_pack(pack: Pack) -> None:
    """Forgets a pack. What was received in it stays: lots don't point to packs."""
    pack.delete()
