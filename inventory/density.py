"""What a density is likely to be when it was written in another measure than g/mL."""

from decimal import Decimal

from inventory import amounts, units

#: g/mL. Nothing is denser than osmium, 22.6; above the second a page asks: salt is 2.17, while
#: 8.6 pounds per gallon, as data sheets in the US have it, is plastisol (common practice, no source).
MOST, MOST_USUAL = Decimal(25), Decimal(5)


def too_dense(written: Decimal) -> str:
    """What to write instead of a figure above MOST g/mL: it is a weight, or kg/m³."""
    if written >= 500:
        return f"Write it in g/mL: {_figure(written)} kg/m³ is {_figure(written / 1000)} g/mL."
    return (
        f"Nothing weighs {_figure(written)} g in one mL. Divide the weight by the volume: "
        "51.5 g in 50 mL is 1.03 g/mL."
    )


def doubt(written: Decimal) -> str:
    """A question when it is as dense as metal, with what it is in lb/gal; else ""."""
    if written <= MOST_USUAL:
        return ""
    grams_per_ml = written * units.POUND_G / units.GALLON_ML
    return (
        f"{_figure(written)} g/mL is as dense as metal. Did the sheet say pounds per gallon? "
        f"{_figure(written)} lb/gal is {_figure(grams_per_ml)} g/mL."
    )


def _figure(value: Decimal) -> str:
    return amounts.show(value, "x").removesuffix(" x")
