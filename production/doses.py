"""The total volume of a mix, in Decimal: base + liquid additions + solids by their density."""

from collections.abc import Iterable
from decimal import Decimal

from inventory import units

# An amount, its unit, and g per mL: needed for a weight; None will do for a liquid's volume.
Addition = tuple[Decimal, str, Decimal | None]


class DoseError(ValueError):
    """A base, total or dose that cannot be; the text says why."""


def total_volume(base_ml: Decimal, additions: Iterable[Addition]) -> Decimal:
    """Return mL of the whole mix: base + Σ mL + Σ g ÷ density.

    Raises DoseError for less than nothing and UnitsError for a weight without a density. An mL is
    true volume: weigh flake, or turn its spoons into g, before asking.
    """
    if base_ml < 0:
        raise DoseError("The base cannot be less than zero.")
    return base_ml + sum((_volume(*addition) for addition in additions), Decimal(0))


def _volume(amount: Decimal, unit: str, density: Decimal | None) -> Decimal:
    if amount < 0:
        raise DoseError("A dose cannot be less than zero: color only goes in, never out.")
    return units.convert(amount, unit, "mL", density_g_per_ml=density)
