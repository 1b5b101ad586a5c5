"""Mixing a batch: base and doses leave the shelf, and a lot in mL of base stands in a cup."""

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from inventory import queries, units
from inventory.models import Entry, Item, Lot
from inventory.services import ledger, lots
from inventory.services.posting import Key, posting
from inventory.wording import quantity_text
from production import doses as dosing
from production.models import Batch, Cup, Pour, RecipeVersion


@dataclass(frozen=True)
class Part:
    """One thing that goes into the cup: `quantity` millionths of the item's stock unit.

    With no `lot`, the first expiring lots are drawn; when there is none, one is made and marked
    found. Leftovers are named by their lot and measured in mL of base."""

    item: Item
    quantity: int
    lot: Lot | None = None
    said: str = ""
    estimated: bool = False


@posting
def mix(
    key: Key,
    *,
    pour: Pour,
    version: RecipeVersion | None,
    parts: list[Part],
    cup: Cup | None = None,
    look_at: str = "",
    note: str = "",
    happened_at: datetime | None = None,
    by,
) -> Entry:
    """Posts one batch; never refused for lack of stock (rule 3). Freezes the recipe version.

    However late it gets, the entry keeps the date on which the evening began."""
    day = pour.business_date
    draws = [draw for part in parts for draw in draws_for(part, day)]
    base = sum(
        d.quantity for d in draws if d.lot.item.kind in (Item.Kind.PLASTISOL, Item.Kind.LEFTOVER)
    )
    contents = _contents(draws)
    lot = lots.open_lot(
        leftover_item(contents),
        Lot.Form.LIQUID,
        day,
        melts=1 + max((d.lot.melts for d in draws), default=0),
    )
    # Two batches mixed at once are numbered one after the other.
    Pour.objects.select_for_update(of=("self",)).get(pk=pour.pk)
    number = pour.batches.count() + 1
    name = str(version.recipe) if version else "free hand"
    event = ledger.Event(
        kind=Entry.Kind.BATCH,
        title=f"Batch {number}, {name}: {quantity_text(base, 'mL')} of base",
        happened_at=happened_at,
        business_date=day,
        note=note,
        reference=f"pour:{pour.pk}",
        look_at=look_at,
        draws=draws,
        makes=[ledger.Make(lot, base, base=base)],
    )
    entry = ledger.post(key, event, by=by)
    # Said in a measure without a figure: nothing was taken off the bottle, so it must be counted.
    unmeasured = [draw.lot.pk for draw in draws if draw.estimated and not draw.quantity]
    Lot.objects.filter(pk__in=unmeasured).update(count_me=True)
    if version and version.frozen_at is None:
        RecipeVersion.objects.filter(pk=version.pk).update(frozen_at=entry.happened_at)
    Batch.objects.create(
        pour=pour,
        number=number,
        lot=lot,
        entry=entry,
        version=version,
        cup=cup,
        total=total_volume(contents),
    )
    return entry


def total_volume(contents: dict[int, int]) -> int:
    """Millionths of a mL that a mix fills: base, liquid additions, and solids by their density.

    Spoon volumes of flake go by their weight. A weight whose density nobody knows is left out: the
    bench is never refused for a missing figure."""
    items = Item.objects.in_bulk(contents)
    base, additions = Decimal(0), []
    for item_id, quantity in contents.items():
        item, amount, unit = items[item_id], units.from_micro(quantity), items[item_id].stock_unit
        if item.kind == Item.Kind.PLASTISOL:
            base += amount
            continue
        if unit == "mL" and item.g_per_tsp and item.density_g_per_ml:
            amount, unit = units.convert(amount, "mL", "g", g_per_tsp=item.g_per_tsp), "g"
        if unit == "mL" or (unit == "g" and item.density_g_per_ml):
            additions.append((amount, unit, item.density_g_per_ml))
    return units.to_micro(dosing.total_volume(base, additions))


def leftover_item(contents: dict[int, int]) -> Item:
    """The item that poured plastic of these grades is stocked as; a blend is a grade of its own."""
    grades = list(Item.objects.filter(pk__in=contents, kind=Item.Kind.PLASTISOL).order_by("pk"))
    names = " + ".join(grade.name for grade in grades) or "unrecorded base"
    code = "+".join(str(grade.pk) for grade in grades) or "none"
    item, _ = Item.objects.get_or_create(
        grades=code,
        defaults={
            "kind": Item.Kind.LEFTOVER,
            "name": f"Poured {names}"[:120],
            "stock_unit": "mL",
            "density_g_per_ml": grades[0].density_g_per_ml if grades else None,
        },
    )
    return item


def _contents(draws: list[ledger.Draw]) -> dict[int, int]:
    total: dict[int, int] = {}
    for draw in draws:
        for item_id, quantity in queries.contents_of(draw.lot, draw.quantity).items():
            total[item_id] = total.get(item_id, 0) + quantity
    return total


def draws_for(part: Part, day: date) -> list[ledger.Draw]:
    """The draws of one part, by the bench's rule: never refused (rule 3)."""
    picked = [(part.lot, part.quantity)] if part.lot else queries.pick(part.item, part.quantity)
    if not picked:
        found = lots.open_lot(part.item, Lot.Form.PACK, day, found=True, count_me=True, cost=None)
        picked = [(found, part.quantity)]
    return [
        ledger.Draw(lot, quantity, bench=True, said=part.said, estimated=part.estimated)
        for lot, quantity in picked
    ]
