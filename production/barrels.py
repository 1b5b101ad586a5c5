"""What two barrels give: both pistons go down together, so each pushes out by the area of its bore."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Protocol

from inventory import allocation, units


class Barreled(Protocol):
    """An injector, as far as its bores matter."""

    barrels: int
    first_bore_mm: Decimal | None
    second_bore_mm: Decimal | None


def bores(injector: Barreled | None) -> tuple[Decimal, Decimal] | None:
    """Both bores in mm; None where the barrels are alike, or there are not two."""
    if injector is None or injector.barrels != 2:
        return None
    if injector.first_bore_mm is None or injector.second_bore_mm is None:
        return None
    return injector.first_bore_mm, injector.second_bore_mm


def shares(
    layers: Sequence[int], *, bores_mm: tuple[Decimal, Decimal] | None, whole: int
) -> list[int]:
    """Each layer's share of `whole`: by its barrel's area where two bores are known and there are two
    layers, the first in the first barrel; else as the pattern has them.

    A barrel's area grows with the square of its bore."""
    if bores_mm is None or len(layers) != 2:
        return list(layers)
    return allocation.split(whole, [units.to_micro(Decimal(bore) ** 2) for bore in bores_mm])
