"""What two minutes with a scale tell: the weight of a level spoon, the density of a liquid.

A spoon of flake holds air, and one hand levels it differently from another: so it is weighed more
than once, and the spread tells how far to trust it (common practice, no source).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Context, Decimal, localcontext

from inventory import units

#: Readings further apart than this share of their mean are asked about.
MOST_SPREAD = Decimal("0.15")
_STEP = Decimal("0.000001")
_MOST_G_PER_TSP = Decimal(150)
_PRECISE = Context(prec=50, rounding=ROUND_HALF_EVEN)


class MeasuringError(ValueError):
    """Figures that make no measure; the text says why."""


@dataclass(frozen=True)
class SpoonWeight:
    """g per level teaspoon, of how many readings, and (largest − smallest) ÷ mean as a share."""

    g_per_tsp: Decimal
    spread: Decimal
    readings: int

    @property
    def doubtful(self) -> bool:
        return self.spread > MOST_SPREAD


def spoon_weight(grams: Sequence[Decimal], spoon_ml: Decimal) -> SpoonWeight:
    """The mean of some level spoons of `spoon_ml` each, as one teaspoon of 4.92892159375 mL (US).

    grams: each spoon's own weight, cup taken off. Six decimals. Raises MeasuringError."""
    if not grams or min(grams) <= 0:
        raise MeasuringError("Weigh at least one level spoon; each weighs more than nothing.")
    if spoon_ml <= 0:
        raise MeasuringError("The spoon holds more than nothing.")
    with localcontext(_PRECISE):
        mean = sum(grams) / len(grams)
        teaspoon = (mean * units.TEASPOON_ML / spoon_ml).quantize(_STEP)
        spread = (max(grams) - min(grams)) / mean
    if not _STEP <= teaspoon <= _MOST_G_PER_TSP:
        raise MeasuringError(
            f"A teaspoon of it would weigh {teaspoon:f} g, which nothing here does. "
            "Check the size of the spoon and the weights."
        )
    return SpoonWeight(teaspoon, spread, len(grams))


def density(full_g: Decimal, empty_g: Decimal, ml: Decimal) -> Decimal:
    """g/mL of what fills `ml` and weighs full less empty; six decimals. Raises MeasuringError."""
    if ml <= 0:
        raise MeasuringError("The volume must be more than nothing.")
    if full_g <= empty_g:
        raise MeasuringError("Full, it must weigh more than empty. Check the two weights.")
    with localcontext(_PRECISE):
        found = ((full_g - empty_g) / ml).quantize(_STEP)
    if not found:
        raise MeasuringError("It would weigh next to nothing. Check the weights and the volume.")
    return found
