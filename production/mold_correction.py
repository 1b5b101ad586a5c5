"""What a mold's shots really took, learned from cups that were measured afterwards.

All volumes are mL of cold plastic or, where said, of base. What stays as a film in cup and injector is
counted with the shots: it is gone from the cup just so."""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

#: Fewer measured pours say nothing yet; a smaller difference is not worth a change (common practice,
#: no source).
FEWEST = 3
WORTH_IT = 0.03


@dataclass(frozen=True)
class Measured:
    """One batch shot into one mold alone, whose rest was measured.

    `base_in`, `left`, `other`: mL of base poured in, measured at the end, and drawn for anything but
    shots. `base_share`: base ÷ total volume of the batch, above 0 and at most 1."""

    base_in: float
    left: float
    other: float
    shots: int
    base_share: float

    @property
    def shot_ml(self) -> float:
        """mL of mixed plastic that one shot took. Raises ZeroDivisionError without shots."""
        return (self.base_in - self.left - self.other) / self.shots / self.base_share


@dataclass(frozen=True)
class Correction:
    """`shot_ml`: the median of `pours` measured pours, which lie within ± `spread_ml` of it."""

    shot_ml: float
    spread_ml: float
    pours: int
    set_ml: float

    @property
    def off_by(self) -> float:
        """By how much of the set volume the pours differ from it: .05 is 5 % more."""
        return self.shot_ml / self.set_ml - 1


def propose(set_ml: float, pours: Sequence[Measured]) -> Correction | None:
    """The volume that measured pours speak for, when it is off by more than 3 %; else None.

    The median of at least three pours: one miscounted evening doesn't move it. The spread is the
    median distance from it; where it is as large as the correction, the pours agree on nothing and
    nothing is proposed. Raises ValueError when `set_ml` is not above 0."""
    if not set_ml > 0:
        raise ValueError(f"a shot cannot be set to {set_ml} mL")
    found = [pour.shot_ml for pour in pours if pour.shots > 0 and pour.base_share > 0]
    found = [ml for ml in found if ml > 0]
    if len(found) < FEWEST:
        return None
    middle = median(found)
    spread = median(abs(ml - middle) for ml in found)
    correction = Correction(middle, spread, len(found), set_ml)
    if abs(correction.off_by) <= WORTH_IT or spread >= abs(middle - set_ml):
        return None
    return correction
