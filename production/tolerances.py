"""How far above its dose plastic that goes into a batch may bring it: the one place that says so."""

from collections.abc import Mapping

from inventory.models import Item
from production import mixing
from production.models import Bench

#: mL of oil from thinned bottles, per mL of base, that a leftover may bring to a recipe without any
#: (common practice, no source: a little oil softens less than hands feel).
THINNING_OIL = 0.05


def by_kind(bench: Bench | None = None) -> Mapping[str, float]:
    """Shares by kind of item, as the owner set them under Setup; a kind not named: `of`."""
    bench = bench or Bench.ours()
    return {
        Item.Kind.COLORANT: bench.colorant_tolerance / 100,
        Item.Kind.FLAKE: bench.flake_tolerance / 100,
    }


def of(item: Item, kinds: Mapping[str, float]) -> float:
    """The share for one item; additives have the planner's own tolerance."""
    return kinds.get(item.kind, mixing.DEFAULT_TOLERANCE)
