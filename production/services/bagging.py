"""Bagging loose baits into products, with their packaging."""

from datetime import date, datetime
from decimal import Decimal

from django.utils import timezone

from inventory import units
from inventory.models import Entry, Item, Lot
from inventory.services import ledger, lots
from inventory.services.posting import Key, LedgerError, posting
from inventory.wording import quantity_text
from production import loose
from production.models import Bagging, Bench, Product
from production.services.batches import Part, draws_for


def doubts(product: Product, bags: int, when: datetime) -> list[str]:
    """What is to be asked before so many bags are filled: a sentence for each bait that still cures.

    Nothing where baits are missing: there `bag` refuses."""
    hours = Bench.ours().cure_hours
    lots_of = loose.lots(product)
    found = []
    for content in product.contents.select_related("bait", "pattern"):
        wanted = units.to_micro(content.count * bags)
        picked = loose.take(lots_of[loose.kind_of(product, content)], wanted, when, hours)
        if sum(part for _, part in picked) < wanted:
            return []
        early = [(each.cured_at(hours), part) for each, part in picked]
        early = [(cured, part) for cured, part in early if cured and cured > when]
        if early:
            cured = timezone.localtime(max(cured for cured, _ in early))
            count = quantity_text(sum(part for _, part in early), "each")
            found.append(
                f"{count} of {content.bait} in {content.pattern} left the mold less than {hours} "
                f"hours ago: cured by {cured:%a %d %b, %H:%M}."
            )
    return found


@posting
def bag(
    key: Key,
    *,
    product: Product,
    bags: int,
    note: str = "",
    look_at: str = "",
    happened_at: datetime | None = None,
    by,
) -> Entry:
    """Makes one lot of `bags` bags, drawing loose baits that have cured first, then oldest first.

    Raises LedgerError naming every bait that is short; packaging and what finishing uses up follow the
    bench's rule. Baits that still cure are taken too: whoever asks `doubts` first gives the answer as
    `look_at`. The lot and the entry keep the day of `happened_at` in the shop's time zone."""
    when = happened_at or timezone.now()
    day = timezone.localdate(when)
    draws = _baits(product, bags, when)
    for item, quantity in used_up(product):
        draws += draws_for(Part(item, quantity * bags), day)
    lot = lots.open_lot(
        product.item, Lot.Form.BAG, day, melts=max(draw.lot.melts for draw in draws)
    )
    entry = ledger.post(key, event(product, bags, lot, draws, note, look_at, when, day), by=by)
    minutes = bags * finishing_minutes(product)
    Bagging.objects.create(entry=entry, product=product, lot=lot, bags=bags, minutes=minutes)
    return entry


def _baits(product: Product, bags: int, when: datetime) -> list[ledger.Draw]:
    hours = Bench.ours().cure_hours
    lots_of = loose.lots(product)
    draws, short = [], []
    for content in product.contents.select_related("bait", "pattern"):
        wanted = units.to_micro(content.count * bags)
        picked = loose.take(lots_of[loose.kind_of(product, content)], wanted, when, hours)
        ready = sum(part for _, part in picked)
        if ready < wanted:
            name = f"{content.bait} · {content.pattern}" + (" (second)" if product.second else "")
            have = quantity_text(ready, "each")
            short.append(f"{name}: {content.count * bags} wanted, {have} loose")
        draws += [ledger.Draw(each.lot, part) for each, part in picked]
    if short:
        raise LedgerError("Not enough loose baits. " + "; ".join(short) + ".")
    return draws


def event(
    product: Product,
    bags: int,
    lot: Lot,
    draws: list[ledger.Draw],
    note: str,
    look_at: str,
    when: datetime,
    day: date,
) -> ledger.Event:
    """Baits and what their bags use up become a lot of bags."""
    return ledger.Event(
        kind=Entry.Kind.BAGGING,
        title=f"Bagged {bags} × {product}",
        happened_at=when,
        business_date=day,
        note=note,
        look_at=look_at,
        reference=f"bagging:{lot.pk}",
        draws=draws,
        makes=[ledger.Make(lot, units.to_micro(bags))],
    )


def used_up(product: Product) -> list[tuple[Item, int]]:
    """What one bag takes besides baits: its packaging and parts, and what its finishing uses up."""
    steps = product.finishing.exclude(item=None).select_related("item")
    lines = [*product.packaging.select_related("item"), *steps]
    return [(line.item, line.quantity) for line in lines if line.quantity]


def finishing_minutes(product: Product) -> Decimal:
    """What the finishing of one bag takes by its steps."""
    return sum((step.minutes for step in product.finishing.all()), Decimal(0))
