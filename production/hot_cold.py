"""How much hot plastic shrinks: the factor that turns a cup read hot into mL at room temperature.

It is measured once, on one cup: read hot, left to cool, read again; or weighed, since weight does not
change with heat. The usual value, 0.91, is from memory.
"""

from decimal import ROUND_HALF_EVEN, Context, Decimal, localcontext

LEAST, MOST = Decimal("0.700"), Decimal("1.000")
_STEP = Decimal("0.001")


class HotColdError(ValueError):
    """Two readings that no plastic gives; the text says what may have gone wrong."""


def by_reading(hot_ml: Decimal, cold_ml: Decimal) -> Decimal:
    """Cold volume ÷ hot volume, three decimals. Raises HotColdError."""
    if hot_ml <= 0 or cold_ml <= 0:
        raise HotColdError("Both readings must be more than nothing.")
    with localcontext(Context(prec=50, rounding=ROUND_HALF_EVEN)):
        factor = (cold_ml / hot_ml).quantize(_STEP)
    if factor > MOST:
        raise HotColdError(
            "Cold plastic fills less than hot plastic. Were the two readings swapped?"
        )
    if factor < LEAST:
        raise HotColdError(
            f"It would have shrunk to {factor}; a tenth less is usual. Was some of it poured out?"
        )
    return factor


def by_weight(hot_ml: Decimal, grams: Decimal, density_g_per_ml: Decimal) -> Decimal:
    """The factor when what read `hot_ml` weighs `grams`, cup taken off, and cold plastic has this
    density in g/mL. Raises HotColdError."""
    if grams <= 0 or density_g_per_ml <= 0:
        raise HotColdError("Weight and density must be more than nothing.")
    with localcontext(Context(prec=50, rounding=ROUND_HALF_EVEN)):
        cold_ml = grams / density_g_per_ml
    return by_reading(hot_ml, cold_ml)
