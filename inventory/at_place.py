"""What lies at a place, item by item: what may be moved from there, or is counted there."""

from collections.abc import Iterable
from dataclasses import dataclass, field

from inventory.models import Item, Lot, LotQuerySet, Place


@dataclass
class Heap:
    """All of one item at a place: its lots in the order of drawing."""

    item: Item
    lots: list[Lot] = field(default_factory=list)

    @property
    def on_hand(self) -> int:
        """Millionths of the item's stock unit."""
        return sum(lot.on_hand for lot in self.lots)

    @property
    def codes(self) -> list[str]:
        """The printed codes of its lots, each once, in the order of drawing."""
        return list(dict.fromkeys(lot.printed for lot in self.lots))

    @property
    def free(self) -> int:
        """Of that, what no order holds."""
        return sum(lot.available for lot in self.lots)


def movable(place: Place | None, kind: str = "") -> list[Heap]:
    """What may be moved from a place (None: from anywhere at home), by name; one query."""
    lots = Lot.objects.free() if place is None else Lot.objects.filter(place=place)
    lots = lots.exclude(item__kind=Item.Kind.LEFTOVER).filter(held=False)
    return heaps(lots.filter(item__kind=kind) if kind else lots)


def heaps(lots: LotQuerySet) -> list[Heap]:
    """These lots by item, items by name; lots with nothing on hand are left out."""
    found: dict[int, Heap] = {}
    ordered: Iterable[Lot] = lots.in_stock().select_related("item", "place").first_expiring_first()
    for lot in ordered:
        found.setdefault(lot.item_id, Heap(lot.item)).lots.append(lot)
    return sorted(found.values(), key=lambda heap: (heap.item.name.casefold(), heap.item.pk))
