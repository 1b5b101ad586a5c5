"""What goes into a cup: how much base the molds need, what a leftover brings, which doses are left to add.

Quantities are millionths of the item's stock unit; base is in mL of base plastisol, total in mL of
the whole mix.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from inventory import allocation, amounts, queries, units
from inventory.models import Item, Lot
from production import mixing, tolerances
from production.models import Bench, Mold, RecipeVersion
from production.services import batches, recipes

WHOLE = 1_000_000
#: A litre of base, on which a recipe's shares are worked out.
_SAMPLE = 1_000 * units.MICRO
#: No batch is larger than 100 L.
_LARGEST = 100_000 * units.MICRO


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
    def error(self) -> Decimal:
        """By how much of the whole dose the best measure of what is added goes astray."""
        if not self.measures or not self.target:
            return Decimal(0)
        return self.measures[0].error * self.add / self.target

    @property
    def error_percent(self) -> int:
        return round(self.error * 100)

    @property
    def rough(self) -> bool:
        """Whether a bigger batch or a thinned bottle should be suggested."""
        return self.error > amounts.MOST_ERROR


@dataclass(frozen=True)
class Plan:
    """A batch to mix. `use` is the leftover's part of `base`, `fresh` the rest; `limiting` is the
    item that keeps more of the leftover out. `others`: more plastic that goes in, by a plan."""

    base: int
    use: int
    fresh: int
    melts: int
    doses: Sequence[PlannedDose]
    limiting: Item | None = None
    reuse_percent: int = 100
    others: Sequence[tuple[Lot, int]] = ()


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
    if version is None:
        use = min(base, leftover.on_hand) if leftover else 0
        return Plan(base, use, base - use, leftover.melts + 1 if use else 1, [])
    hand = AtHand.of([item for item, _quantity in recipes.doses_for(version, _SAMPLE)])
    if not leftover or leftover.on_hand <= 0 or base <= 0:
        return Plan(base, 0, base, 1, _doses(version, base, {}, hand))
    held = _Held.of(leftover)
    return _with_leftover(version, base, held, held.convert(version, base), hand)


def from_sources(version: RecipeVersion, base: int, sources: Sequence[tuple[Lot, int]]) -> Plan:
    """The plan for `base` with just so much of each source (millionths of a mL of base); the first
    one's part is `use`."""
    inside: dict[int, int] = {}
    for lot, quantity in sources:
        for pk, held in queries.contents_of(lot, quantity).items():
            inside[pk] = inside.get(pk, 0) + held
    hand = AtHand.of([item for item, _quantity in recipes.doses_for(version, _SAMPLE)])
    return Plan(
        base=base,
        use=sources[0][1] if sources else 0,
        fresh=max(0, base - sum(quantity for _lot, quantity in sources)),
        melts=1 + max((lot.melts for lot, _quantity in sources), default=0),
        doses=_doses(version, base, inside, hand),
        others=sources[1:],
    )


def reachable(
    leftover: Lot, versions: Sequence[RecipeVersion], base: int, *, most: int = 12
) -> list[tuple[RecipeVersion, Plan, int]]:
    """What a leftover can become by additions only: the colors that take most of it first.

    Each with its plan for `base`, and the base of the smallest batch that uses all of it (0: none
    can). `versions` come with their doses fetched; the count of queries does not grow with them."""
    if leftover.on_hand <= 0 or base <= 0:
        return []
    held = _Held.of(leftover)
    found = mixing.reachable(
        held.mix,
        {str(version.pk): _target(version) for version in versions},
        base / units.MICRO,
        tolerance=_tolerances(versions),
        trace=held.trace,
    )
    by_pk = {str(version.pk): version for version in versions}
    hand = AtHand.of([dose.item for version in versions for dose in version.doses.all()])
    answer = []
    for key, conversion in found[:most]:
        version = by_pk[key]
        share = conversion.reuse_share
        whole = min(leftover.on_hand / share, _LARGEST) if share > 0 else 0
        answer.append(
            (version, _with_leftover(version, base, held, conversion, hand), round(whole))
        )
    return answer


@dataclass(frozen=True)
class _Held:
    """What a leftover brings: its mix by dose key, and the item behind each key.

    Plastic of unrecorded color counts as the one dose `unknown`, which no recipe asks for."""

    on_hand: int
    mix: mixing.Mix
    items: dict[str, Item]
    brought: dict[int, int]
    trace: dict[str, float]

    @classmethod
    def of(cls, leftover: Lot) -> "_Held":
        holds = queries.contents_of(leftover, leftover.on_hand)
        items = Item.objects.in_bulk(holds)
        brought = {pk: q for pk, q in holds.items() if items[pk].kind != Item.Kind.PLASTISOL}
        oils = queries.thinning_oils()
        doses: dict[str, float] = {}
        for pk, quantity in brought.items():
            key = _key(items[pk])
            doses[key] = doses.get(key, 0) + quantity / units.MICRO
        return cls(
            leftover.on_hand,
            mixing.Mix(leftover.on_hand / units.MICRO, doses, leftover.melts),
            {_key(items[pk]): items[pk] for pk in brought},
            brought,
            {str(pk): tolerances.THINNING_OIL for pk in brought if pk in oils},
        )

    def convert(self, version: RecipeVersion, base: int) -> mixing.Conversion:
        return mixing.convert(
            self.mix,
            _target(version),
            base / units.MICRO,
            tolerance=_tolerances([version]),
            trace=self.trace,
        )


@dataclass(frozen=True)
class AtHand:
    """What doses are measured with: the lot of each item that is drawn first, and the scale."""

    lots: dict[int, Lot]
    scale_step: Decimal

    @classmethod
    def of(cls, items: Sequence[Item]) -> "AtHand":
        lots: dict[int, Lot] = {}
        for lot in Lot.objects.in_stock().filter(item__in=items).first_expiring_first():
            lots.setdefault(lot.item_id, lot)
        return cls(lots, Bench.ours().scale_step_g)


def _key(item: Item) -> str:
    return mixing.UNKNOWN if item.kind == Item.Kind.LEFTOVER else str(item.pk)


def _target(version: RecipeVersion) -> dict[str, float]:
    return {str(item.pk): q / _SAMPLE for item, q in recipes.doses_for(version, _SAMPLE)}


def _tolerances(versions: Sequence[RecipeVersion]) -> dict[str, float]:
    """How far each dose of these recipes may go over; what a recipe lacks has no tolerance at all."""
    kinds = tolerances.by_kind()
    return {
        str(item.pk): tolerances.of(item, kinds)
        for version in versions
        for item, _quantity in recipes.doses_for(version, _SAMPLE)
    }


def _with_leftover(
    version: RecipeVersion, base: int, held: _Held, found: mixing.Conversion, hand: AtHand
) -> Plan:
    use = min(base, held.on_hand, units.to_micro(found.use_ml))
    inside = {pk: allocation.portion(q, use, held.on_hand) for pk, q in held.brought.items()}
    return Plan(
        base=base,
        use=use,
        fresh=base - use,
        melts=found.melts if use else 1,
        doses=_doses(version, base, inside, hand),
        limiting=held.items[found.limiting] if found.limiting else None,
        reuse_percent=int(found.reuse_share * 100),
    )


def _doses(
    version: RecipeVersion, base: int, inside: dict[int, int], hand: AtHand
) -> list[PlannedDose]:
    return [
        dose(item, target, max(0, target - inside.get(item.pk, 0)), hand)
        for item, target in recipes.doses_for(version, base)
    ]


def dose(item: Item, target: int, add: int, hand: AtHand) -> PlannedDose:
    """One dose of which `add` is left to put in, as hands measure it from the lot drawn first.

    A trifle, of which even one drop is more than twice too much, is left out."""
    lot = hand.lots.get(item.pk)
    draw = allocation.portion(add, WHOLE, units.to_micro(lot.strength)) if lot else add
    measures = amounts.hand_measures(
        units.from_micro(draw),
        item.stock_unit,
        facts=item.facts(lot),
        scale_step=hand.scale_step,
    )
    if measures and measures[0].error > 1 and add <= target * amounts.MOST_ERROR:
        return PlannedDose(item, target, 0, 0, (), lot)
    return PlannedDose(item, target, add, draw, measures, lot)
