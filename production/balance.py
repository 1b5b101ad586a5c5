"""The mass balance of a batch: base in = good + seconds + trim + leftover + waste (rule 4).

Every volume is mL of base. Uncertainties are half-widths that hold about nineteen times in twenty;
independent ones add as the root of their squares (JCGM 100:2008, 5.1.2, from memory)."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

#: How well a cup's marks are read: a share of the reading, and never better than so many mL
#: (common practice, no source).
READ_SHARE, READ_LEAST_ML = 0.02, 2.0
#: How well a mold's volumes are known: a larger error is what production/mold_correction.py mends.
MOLD_SHARE = 0.03
#: How much one shot differs from the next, as a share of it (common practice, no source).
SHOT_SHARE = 0.04


@dataclass(frozen=True)
class Volume:
    """So many mL of base, give or take `within`."""

    ml: float
    within: float = 0.0


def read(ml: float) -> Volume:
    """A volume read off a cup's marks."""
    return Volume(ml, max(READ_LEAST_ML, READ_SHARE * ml))


def weighed(ml: float, *, step_g: float, density: float) -> Volume:
    """A volume from a weight: the scale's step, once for the cup and once for what is in it."""
    return Volume(ml, math.sqrt(2) * step_g / density)


def poured(ml: float, *, shots: int) -> Volume:
    """What `shots` shots took, by the mold's volumes: one error common to all, and each shot's own."""
    if shots < 1:
        return Volume(ml, 0.0)
    return Volume(ml, math.hypot(MOLD_SHARE * ml, SHOT_SHARE * ml / math.sqrt(shots)))


def together(volumes: Sequence[Volume]) -> Volume:
    """The sum of independent volumes."""
    return Volume(
        math.fsum(v.ml for v in volumes), math.sqrt(math.fsum(v.within**2 for v in volumes))
    )


@dataclass(frozen=True)
class Balance:
    """Base in, what came of it, and whether the two agree.

    `shots`: what the molds took, by their volumes; `gave` says how that divides into good baits,
    seconds, trim and waste (mL, by name). `other`: what is left, went into other cups or was thrown
    away. `measured`: what is left was measured; else the books' own figure stands in, and nothing
    that was miscounted could show. `bait_ml`: one bait, to say an imbalance in baits."""

    base_in: Volume
    shots: Volume
    other: Mapping[str, Volume]
    measured: bool
    gave: Mapping[str, float] = field(default_factory=dict)
    bait_ml: float | None = None

    @property
    def imbalance_ml(self) -> float:
        """Above 0: plastic is missing. Below 0: more came out than went in."""
        return self.base_in.ml - together([self.shots, *self.other.values()]).ml

    @property
    def within_ml(self) -> float:
        return together([self.base_in, self.shots, *self.other.values()]).within

    @property
    def closes(self) -> bool:
        return abs(self.imbalance_ml) <= self.within_ml

    @property
    def baits(self) -> int | None:
        """How many baits the imbalance would be; None where no bait's volume is known."""
        if not self.bait_ml:
            return None
        return round(abs(self.imbalance_ml) / self.bait_ml)

    @property
    def sentence(self) -> str:
        """The verdict in words."""
        size = f"{abs(self.imbalance_ml):.1f} mL of base, ± {self.within_ml:.1f} mL"
        if not self.measured and self.closes:
            return "What is left was not measured: the balance shows nothing yet."
        if self.closes:
            return f"It adds up: off by {size}."
        about = f" That is about {self.baits} baits." if self.baits else ""
        if self.imbalance_ml > 0:
            return (
                f"{size}, are missing.{about} Were all shots counted, and is there a leak or a "
                "cup not logged?"
            )
        return (
            f"{size}, more came out than went in.{about} Was a shot counted twice, or base added "
            "and not logged?"
        )
