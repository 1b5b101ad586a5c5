"""The lots that an evening's shots go into: one for each bait, good or second, and one for the trim.

Shots of one pattern from the same batches share their lots, whether counted at once or sorted out later."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Count

from inventory.models import Item, Lot, Movement
from inventory.services import lots
from production.models import Bait, Batch, LooseBait, Pattern, Pour, Shots, Sorting
from production.services.batches import leftover_item


@dataclass(frozen=True)
class BaitLots:
    """Finds the lots of one pattern shot from these batches in an evening, or opens them."""

    pour: Pour
    pattern: Pattern
    batches: Sequence[Batch]

    def baits(self, bait: Bait, *, second: bool) -> Lot:
        item = loose_item(bait, self.pattern, second)
        return self._made(Lot.Form.LOOSE, item) or self._open(item, Lot.Form.LOOSE)

    def trim(self) -> Lot:
        item = leftover_item([batch.lot.item_id for batch in self.batches])
        return self._made(Lot.Form.TRIM, item) or self._open(item, Lot.Form.TRIM)

    def _open(self, item: Item, form: str) -> Lot:
        melts = max(batch.lot.melts for batch in self.batches)
        return lots.open_lot(item, form, self.pour.business_date, melts=melts)

    def _made(self, form: str, item: Item) -> Lot | None:
        """The lot of that item which the evening's own entries made; their lines alone are looked at."""
        same = list(alike(self.pour, self.pattern, self.batches).values_list("pk", "entry"))
        sorted_out = Sorting.objects.filter(shots__in=[pk for pk, _entry in same])
        entries = {entry for _pk, entry in same} | set(sorted_out.values_list("entry", flat=True))
        lines = Movement.objects.filter(
            entry__in=entries, role=Movement.Role.MADE, lot__form=form, lot__item=item
        )
        line = lines.select_related("lot__item").order_by("pk").first()
        return line.lot if line else None


def alike(pour: Pour, pattern: Pattern, batches: Sequence[Batch]):
    """The evening's standing shots of a pattern from exactly these batches."""
    found = Shots.objects.filter(pour=pour, pattern=pattern, entry__reversed_by=None)
    found = found.alias(sources=Count("batches")).filter(sources=len(batches))
    for batch in batches:
        found = found.filter(
            pk__in=Shots.batches.through.objects.filter(batch=batch).values("shots")
        )
    return found


def loose_item(bait: Bait, pattern: Pattern, second: bool = False) -> Item:
    """The stocked item of a bait in a pattern; made the first time it is poured."""
    loose = LooseBait.objects.filter(bait=bait, pattern=pattern, second=second).first()
    if loose:
        return loose.item
    name = f"{bait} · {pattern}" + (" (second)" if second else "")
    item = Item.objects.create(kind=Item.Kind.LOOSE_BAIT, name=name, stock_unit="each")
    LooseBait.objects.create(bait=bait, pattern=pattern, second=second, item=item)
    return item
