"""Bagging loose baits into products, with their packaging."""

from datetime import datetime

from django.utils import timezone

from inventory import queries, units
from inventory.models import Entry, Lot
from inventory.services import ledger, lots
from inventory.services.posting import Key, LedgerError, posting
from inventory.wording import quantity_text
from production.models import Bagging, Product
from production.services.bait_lots import loose_item
from production.services.batches import Part, draws_for


@posting
def bag(
    key: Key,
    *,
    product: Product,
    bags: int,
    note: str = "",
    happened_at: datetime | None = None,
    by,
) -> Entry:
    """Makes one lot of `bags` bags, drawing loose baits first expiring, first in.

    Raises LedgerError naming every bait that is short; packaging follows the bench's rule. The
    lot and the entry keep the day of `happened_at` in the shop's time zone."""
    when = happened_at or timezone.now()
    day = timezone.localdate(when)
    draws, short = [], []
    for content in product.contents.select_related("bait", "pattern"):
        item = loose_item(content.bait, content.pattern)
        wanted = units.to_micro(content.count * bags)
        ready = sum(lot.available for lot in item.lots.in_stock())
        if ready < wanted:
            have = quantity_text(ready, "each")
            short.append(f"{item.name}: {content.count * bags} wanted, {have} loose")
            continue
        draws += [ledger.Draw(lot, take) for lot, take in queries.pick(item, wanted)]
    if short:
        raise LedgerError("Not enough loose baits. " + "; ".join(short) + ".")
    for line in product.packaging.select_related("item"):
        draws += draws_for(Part(line.item, line.quantity * bags), day)
    lot = lots.open_lot(
        product.item, Lot.Form.BAG, day, melts=max(draw.lot.melts for draw in draws)
    )
    event = ledger.Event(
        kind=Entry.Kind.BAGGING,
        title=f"Bagged {bags} × {product}",
        happened_at=when,
        business_date=day,
        note=note,
        reference=f"bagging:{lot.pk}",
        draws=draws,
        makes=[ledger.Make(lot, units.to_micro(bags))],
    )
    entry = ledger.post(key, event, by=by)
    Bagging.objects.create(entry=entry, product=product, lot=lot, bags=bags)
    return entry
