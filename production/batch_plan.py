"""What goes into a cup: how much base the molds need, what a leftover brings, which doses are left to add.

Quantities are millionths of the item's stock unit; base is in mL of base plastisol, total in mL of
the whole mix.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from inventory import allocation, amounts, queries, units
from inventory.models import Item, Lot
from production import mixing
from production.models import Mold, RecipeVersion
from production.services import batches, recipes

#: How far over its target a leftover may bring a dose, by kind (design: mixing); else .05.
TOLERANCES = {Item.Kind.COLORANT: 0.05, Item.Kind.FLAKE: 0.25}
#: mL of oil from thinned bottles, per mL of base, that a leftover may bring to a recipe without any
#: (common practice, no source: a little oil softens less than hands feel).
THINNING_OIL = 0.05
WHOLE = 1_000_000
#: A litre of base, on which a recipe's shares are worked out.
_SAMPLE = 1_000 * units.MICRO


@dataclass(frozen=True)
class PlannedDose:
    """One dose: its target in the mix, what is left to add, and how hands measure that.

    `draw` is what is taken for it from `lot`, the first to be drawn: more than `add` when the lot is
    thinned (dose ÷ strength). `measures` are of `draw`, in drops of that lot's own size."""

    item: Item
    target: int
    add: int
    draw: int
    measures: Sequence[amounts.HandMeasure]
    lot: Lot | None = None

    @property
    def thinned(self) -> bool:
        return self.lot is not None and self.lot.strength != 1

    @property
    def text(self) -> str:
        """The best measure as one would type it; empty when there is nothing to add."""
        return self.measures[0].text if self.measures else ""

    @property
    def best(self) -> amounts.HandMeasure | None:
        return self.measures[0] if self.measures else None

    @property
    def error_percent(self) -> int:
        return round(self.measures[0].error * 100) if self.measures else 0


@dataclass(frozen=True)
class Plan:
    """A batch to mix. `use` is the leftover's part of `base`, `fresh` the rest; `limiting` is the
    item that keeps more of the leftover out."""

    base: int
    use: int
    fresh: int
    melts: int
    doses: Sequence[PlannedDose]
    limiting: Item | None = None
    reuse_percent: int = 100


def base_for_shots(
    version: RecipeVersion | None,
    fills: Sequence[tuple[Mold, int]],
    *,
    share: int = WHOLE,
    heel: int = 0,
) -> int:
    """Millionths of a mL of base for so many shots of each mold and a heel (both total volume).

    `share`: the layer's part of the bait, in millionths. With no recipe the mix is taken as base."""
    total = sum(units.to_micro(mold.shot_ml) * shots for mold, shots in fills)
    total = allocation.portion(total, share, WHOLE) + heel
    if version is None:
        return total
    contents = {item.pk: quantity for item, quantity in recipes.doses_for(version, _SAMPLE)}
    contents[version.grade_id] = _SAMPLE
    return allocation.portion(total, _SAMPLE, batches.total_volume(contents))


def plan(version: RecipeVersion | None, base: int, leftover: Lot | None = None) -> Plan:
    """The plan for `base` of a recipe, with as much of a leftover as additions alone allow.

    Without a recipe all of the leftover that fits is used and nothing is dosed."""
    if not leftover or leftover.on_hand <= 0 or base <= 0:
        return Plan(base, 0, base, 1, _doses(version, base, {}))
    holds = queries.contents_of(leftover, leftover.on_hand)
    items = Item.objects.in_bulk(holds)
    brought = {pk: q for pk, q in holds.items() if items[pk].kind != Item.Kind.PLASTISOL}
    if version is None:
        use = min(base, leftover.on_hand)
        return Plan(base, use, base - use, leftover.melts + 1, [])
    found = _convert(version, base, leftover, brought, items)
    use = min(base, leftover.on_hand, units.to_micro(found.use_ml))
    inside = {pk: allocation.portion(q, use, leftover.on_hand) for pk, q in brought.items()}
    return Plan(
        base=base,
        use=use,
        fresh=base - use,
        melts=found.melts if use else 1,
        doses=_doses(version, base, inside),
        limiting=items[int(found.limiting)] if found.limiting else None,
        reuse_percent=int(found.reuse_share * 100),
    )


def _convert(version, base, leftover, brought, items) -> mixing.Conversion:
    doses = recipes.doses_for(version, _SAMPLE)
    kinds = {pk: item.kind for pk, item in items.items()} | {i.pk: i.kind for i, _q in doses}
    oils = queries.thinning_oils()
    return mixing.convert(
        mixing.Mix(
            leftover.on_hand / units.MICRO,
            {str(pk): quantity / units.MICRO for pk, quantity in brought.items()},
            leftover.melts,
        ),
        {str(item.pk): quantity / _SAMPLE for item, quantity in doses},
        base / units.MICRO,
        tolerance={
            str(pk): TOLERANCES.get(kind, mixing.DEFAULT_TOLERANCE) for pk, kind in kinds.items()
        },
        trace={str(pk): THINNING_OIL for pk in brought if pk in oils},
    )


def _doses(version: RecipeVersion | None, base: int, inside: dict[int, int]) -> list[PlannedDose]:
    if version is None:
        return []
    planned, doses = [], recipes.doses_for(version, base)
    lots = _first_lots([item for item, _target in doses])
    for item, target in doses:
        add, lot = max(0, target - inside.get(item.pk, 0)), lots.get(item.pk)
        draw = allocation.portion(add, WHOLE, units.to_micro(lot.strength)) if lot else add
        measures = amounts.hand_measures(
            units.from_micro(draw), item.stock_unit, facts=item.facts(lot)
        )
        planned.append(PlannedDose(item, target, add, draw, measures, lot))
    return planned


def _first_lots(items: Sequence[Item]) -> dict[int, Lot]:
    """The lot of each item that is drawn first, for the items that are in stock."""
    found: dict[int, Lot] = {}
    for lot in Lot.objects.in_stock().filter(item__in=items).first_expiring_first():
        found.setdefault(lot.item_id, lot)
    return found
