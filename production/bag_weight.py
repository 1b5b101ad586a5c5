"""What a bag weighs: the plastic, doses and parts that the ledger says are in it, and its packaging.

A bag that was put on the scale weighs what the scale said. Otherwise each thing in it counts by what is
known of it: volumes by their density, pieces by the weight of one. What is mixed into plastic in small
doses and has no density counts at that of the plastic (common practice, no source: a few per cent of the
volume). What is missing is named, and the weight is then unknown."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Max

from inventory import queries, units
from inventory.models import Item, Lot
from production.models import WHOLE_SHARE, Cavity, Layer, LooseBait

PLASTIC = {Item.Kind.PLASTISOL, Item.Kind.LEFTOVER}


@dataclass(frozen=True)
class Weight:
    """Grams, or None where something in it has no known weight; `missing` says what, for mending."""

    grams: Decimal | None
    missing: tuple[str, ...] = ()

    def times(self, count: int) -> "Weight":
        return Weight(None if self.grams is None else self.grams * count, self.missing)


def together(weights: Iterable[Weight]) -> Weight:
    """The sum; unknown as soon as one is."""
    weights = list(weights)
    missing = dict.fromkeys(text for weight in weights for text in weight.missing)
    known = [weight.grams for weight in weights if weight.grams is not None]
    if missing or len(known) < len(weights):
        return Weight(None, tuple(missing))
    return Weight(sum(known, Decimal(0)))


def of_lots(lots: Collection[Lot]) -> dict[int, Weight]:
    """Lot id → what one bag of it weighs; the lots with their items. A fixed number of queries."""
    mixes = queries.compositions([lot.pk for lot in lots])
    items = Item.objects.in_bulk({item for mix in mixes.values() for item in mix})
    baits = _baits({pk for pk, item in items.items() if item.kind == Item.Kind.LOOSE_BAIT})
    return {lot.pk: _of_lot(lot, mixes.get(lot.pk, {}), items, baits) for lot in lots}


def _of_lot(lot: Lot, mix: dict[int, int], items: dict[int, Item], baits: dict[int, Weight]):
    if lot.item.weight_g is not None:
        return Weight(lot.item.weight_g)
    if not mix or lot.made <= 0:
        return Weight(None, (f"what one {lot.item} weighs",))
    whole = together(_parts(mix, items, baits))
    bags = units.from_micro(lot.made)
    return Weight(None if whole.grams is None else whole.grams / bags, whole.missing)


def _parts(mix: dict[int, int], items: dict[int, Item], baits: dict[int, Weight]):
    ml = grams = Decimal(0)
    doses = Decimal(0)
    for pk, millionths in mix.items():
        item, quantity = items[pk], units.from_micro(millionths)
        if item.stock_unit == "g":
            yield Weight(quantity)
        elif item.stock_unit == "each":
            yield _of_piece(item, baits).times(quantity)
        elif item.density_g_per_ml is not None:
            yield Weight(quantity * item.density_g_per_ml)
            if item.kind in PLASTIC:
                ml, grams = ml + quantity, grams + quantity * item.density_g_per_ml
        elif item.kind in Item.DOSED and any(items[other].kind in PLASTIC for other in mix):
            doses += quantity
        else:
            yield Weight(None, (f"the density of {item}",))
    if doses and ml:
        yield Weight(doses * grams / ml)


def _of_piece(item: Item, baits: dict[int, Weight]) -> Weight:
    if item.weight_g is not None:
        return Weight(item.weight_g)
    return baits.get(item.pk, Weight(None, (f"the weight of one {item}",)))


def _baits(items: Collection[int]) -> dict[int, Weight]:
    """Baits that came from outside, so that the ledger doesn't know what is in them: their volume, the
    largest that a mold gives, at the densities of their pattern's plastics by its layers' shares."""
    if not items:
        return {}
    loose = LooseBait.objects.filter(item__in=items).select_related("bait", "pattern")
    volumes = dict(
        Cavity.objects.filter(bait__in=[one.bait_id for one in loose])
        .order_by()
        .values_list("bait")
        .annotate(Max("bait_ml"))
    )
    layers: dict[int, list[Weight]] = {}
    for layer in Layer.objects.filter(pattern__in=[one.pattern_id for one in loose]).select_related(
        "version__grade"
    ):
        grade, share = layer.version.grade, Decimal(layer.share) / WHOLE_SHARE
        known = grade.density_g_per_ml
        layers.setdefault(layer.pattern_id, []).append(
            Weight(None, (f"the density of {grade}",)) if known is None else Weight(known * share)
        )
    found = {}
    for one in loose:
        density = together(layers.get(one.pattern_id, []))
        volume = volumes.get(one.bait_id)
        if volume is None:
            found[one.item_id] = Weight(None, (f"a mold with the volume of {one.bait}",))
        elif one.pattern_id in layers:
            found[one.item_id] = density.times(volume)
    return found
