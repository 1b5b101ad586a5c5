"""Volumes of a mold's shot, its baits and its sprue, from a scale or from known volumes."""

from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Generic, TypeVar

from inventory import amounts, units

Bait = TypeVar("Bait", bound=Hashable)


class MoldError(ValueError):
    """Weights or volumes that cannot belong to one shot; the text says why."""


@dataclass(frozen=True)
class Volumes(Generic[Bait]):
    """mL of cold plastic: one whole shot, one bait of each kind, and the shot's sprue."""

    shot_ml: Decimal
    bait_ml: Mapping[Bait, Decimal]
    sprue_ml: Decimal


def from_weighed_shot(
    shot_g: Decimal,
    baits_g: Mapping[Bait, tuple[int, Decimal]],
    density: Decimal,
) -> Volumes[Bait]:
    """Return volumes from a shot weighed as it left the mold, and again as trimmed baits.

    shot_g: g of everything. baits_g: for each bait how many the shot gave, and g of them together.
    density: g per mL of the cold plastic. Volume is mass ÷ density; what is not bait is sprue.
    """
    _positive(shot_g, "The weight of the shot")
    _positive(density, "The density")
    _counted(baits_g)
    for _, grams in baits_g.values():
        _positive(grams, "The weight of the baits")
    together = sum((grams for _, grams in baits_g.values()), Decimal(0))
    if together > shot_g:
        raise MoldError(
            f"The trimmed baits weigh {amounts.show(together, 'g')} together, more than the whole "
            f"shot of {amounts.show(shot_g, 'g')}. Weigh the shot before trimming."
        )
    bait_ml = {bait: _ml(grams, density) / count for bait, (count, grams) in baits_g.items()}
    return Volumes(_ml(shot_g, density), bait_ml, _ml(shot_g - together, density))


def from_volumes(baits_ml: Mapping[Bait, tuple[int, Decimal]], sprue_ml: Decimal) -> Volumes[Bait]:
    """Return volumes from those of the baits and the sprue.

    baits_ml: for each bait how many the mold has, and mL of one. sprue_ml: mL of the whole
    sprue, 0 for a mold poured open.
    """
    _counted(baits_ml)
    for _, millilitres in baits_ml.values():
        _positive(millilitres, "The volume of a bait")
    if sprue_ml < 0:
        raise MoldError("The volume of the sprue cannot be less than zero.")
    shot = sum((count * ml for count, ml in baits_ml.values()), sprue_ml)
    return Volumes(shot, {bait: ml for bait, (_, ml) in baits_ml.items()}, sprue_ml)


def _ml(grams: Decimal, density: Decimal) -> Decimal:
    return units.convert(grams, "g", "mL", density_g_per_ml=density)


def _positive(value: Decimal, what: str) -> None:
    if value <= 0:
        raise MoldError(f"{what} must be more than zero.")


def _counted(baits: Mapping[Bait, tuple[int, Decimal]]) -> None:
    if not baits:
        raise MoldError("A shot gives at least one bait.")
    if any(count < 1 for count, _ in baits.values()):
        raise MoldError("A mold has at least one cavity for each of its baits.")
