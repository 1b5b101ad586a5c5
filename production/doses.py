"""Doses, total volume and base share of a mix, in Decimal.

All doses are per mL of base plastisol. A batch's total volume is base + liquid additions + solids
by their density; its base share is base ÷ total. Cavities and sprues are total volume.
"""

from collections.abc import Hashable, Iterable, Mapping
from decimal import Decimal
from typing import TypeVar

from inventory import units

Key = TypeVar("Key", bound=Hashable)
# An amount, its unit, and g per mL: needed for a weight; None will do for a liquid's volume.
Addition = tuple[Decimal, str, Decimal | None]


class DoseError(ValueError):
    """A base, total or dose that cannot be; the text says why."""


def scale(doses: Mapping[Key, Decimal], base_ml: Decimal) -> dict[Key, Decimal]:
    """Return each amount for `base_ml`: dose per mL of base × base, in the dose's own unit."""
    return {key: dose * base_ml for key, dose in doses.items()}


def total_volume(base_ml: Decimal, additions: Iterable[Addition]) -> Decimal:
    """Return mL of the whole mix: base + Σ mL + Σ g ÷ density.

    Raises DoseError for less than nothing and UnitsError for a weight without a density. An mL is
    true volume: weigh flake, or turn its spoons into g, before asking.
    """
    if base_ml < 0:
        raise DoseError("The base cannot be less than zero.")
    return base_ml + sum((_volume(*addition) for addition in additions), Decimal(0))


def base_share(base_ml: Decimal, additions: Iterable[Addition]) -> Decimal:
    """Return the share of a mix that is base plastisol: base ÷ total volume."""
    if base_ml <= 0:
        raise DoseError("A mix needs some base plastisol.")
    return base_ml / total_volume(base_ml, additions)


def base_for(total_ml: Decimal, doses_per_ml: Iterable[Addition]) -> Decimal:
    """Return mL of base whose mix fills `total_ml`: total ÷ (1 + volume of the doses per mL).

    doses_per_ml: the additions that one mL of base takes.
    """
    if total_ml < 0:
        raise DoseError("The total volume cannot be less than zero.")
    return total_ml / total_volume(Decimal(1), doses_per_ml)


def _volume(amount: Decimal, unit: str, density: Decimal | None) -> Decimal:
    if amount < 0:
        raise DoseError("A dose cannot be less than zero: color only goes in, never out.")
    return units.convert(amount, unit, "mL", density_g_per_ml=density)
