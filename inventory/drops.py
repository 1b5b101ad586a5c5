"""How large a bottle's drop is: weigh a number of drops, or count drops into a measured volume.

A drop has no fixed size: it goes by the liquid and the tip (USP ⟨1101⟩), so each bottle is measured.
"""

from decimal import ROUND_HALF_EVEN, Context, Decimal, localcontext

#: Drops that are weighed: enough that a scale's step of 0.01 g hardly counts.
USUAL_COUNT = 50
_STEP = Decimal("0.000001")
_MOST_ML = Decimal(1)


class DropError(ValueError):
    """Figures that make no drop; the text says why."""


def from_weight(grams: Decimal, drops: int, density_g_per_ml: Decimal) -> Decimal:
    """mL per drop when `drops` of them weigh `grams`; six decimals. Raises DropError."""
    if density_g_per_ml <= 0:
        raise DropError("The density must be more than zero.")
    with localcontext(Context(prec=50)):
        return _drop(grams / density_g_per_ml, drops)


def from_volume(ml: Decimal, drops: int) -> Decimal:
    """mL per drop when `drops` of them fill `ml`; six decimals. Raises DropError."""
    return _drop(ml, drops)


def _drop(ml: Decimal, drops: int) -> Decimal:
    if ml <= 0 or drops < 1:
        raise DropError("A drop needs at least one drop and more than nothing of the liquid.")
    with localcontext(Context(prec=50, rounding=ROUND_HALF_EVEN)):
        size = (ml / drops).quantize(_STEP)
    if size < _STEP:
        raise DropError("That drop would be too small to keep. Check the figures.")
    if size > _MOST_ML:
        raise DropError("That drop would be larger than 1 mL. Check the figures.")
    return size
