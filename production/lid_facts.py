"""What the lid of a leftover says, read from its lot."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils import timezone

from inventory import queries
from inventory.models import Item, Lot
from inventory.wording import quantity_text
from production.models import Shots

MOST_DOSES = 6


@dataclass(frozen=True)
class Lid:
    """What one lid says. `doses` are lines such as “12.4 mL Plum dye”, the largest first."""

    name: str
    lot: str
    amount: str
    melts: str
    day: str
    doses: Sequence[str] = ()


def lid(lot: Lot) -> Lid:
    """The lid of one leftover: its color as the batch or the shots had it, its base, melts and doses."""
    held = queries.contents_of(lot, lot.on_hand)
    items = Item.objects.in_bulk(held)
    doses = [
        (quantity, items[pk])
        for pk, quantity in held.items()
        if quantity and items[pk].kind in Item.DOSED
    ]
    doses.sort(key=lambda dose: (-dose[0], dose[1].name))
    limit = lot.item.melt_limit or min(
        (i.melt_limit for i in items.values() if i.kind == Item.Kind.PLASTISOL and i.melt_limit),
        default=None,
    )
    return Lid(
        name=name(lot),
        lot=lot.number,
        amount=f"{quantity_text(lot.on_hand, 'mL')} of base",
        melts=f"melt {lot.melts}" + (f" of {limit}" if limit else ""),
        day=f"{timezone.localdate():%Y-%m-%d}",
        doses=[
            f"{quantity_text(q, item.stock_unit)} {item.name}" for q, item in doses[:MOST_DOSES]
        ],
    )


def name(lot: Lot) -> str:
    """What a leftover is called: its batch's color, or what it was trimmed from."""
    batch = getattr(lot, "batch", None)
    if batch:
        return str(batch.version.recipe) if batch.version else f"Free hand, {batch.pour}"
    shots = Shots.objects.filter(trim_lot=lot).select_related("pattern").first()
    return f"Trim: {shots.pattern}" if shots else lot.item.name
