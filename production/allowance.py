"""What an evening must give beyond what is wanted: likely rejects, and what stays in cup and injector.

Both are learned from what was poured before, and both say what they rest on.
"""

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

#: How sure one wants to be that enough comes out good: three times in four (our own choice).
SURE = 0.75
#: A mold that was never shot counts as if ten baits had been looked at, nine of them good (common
#: practice, no source); a few hundred cavities make that disappear.
FIRST_GOOD, FIRST_BAD = 9, 1
#: So many leftovers measured after planned shots tell more than the figure under Setup.
ENOUGH_HEELS = 3


@dataclass(frozen=True)
class Yield:
    """The share of a mold's cavities that comes out good, with `SURE`; `seen` cavities tell it."""

    share: float
    good: int = 0
    seen: int = 0

    @property
    def more_percent(self) -> int:
        """So many per cent more shots than if every bait came out good, rounded up."""
        return math.ceil(100 * (1 / self.share - 1) - 1e-9)

    @property
    def least_percent(self) -> int:
        return math.floor(100 * self.share + 1e-9)


@dataclass(frozen=True)
class Heel:
    """mL of the whole mix that stay in cup and injector; `measured` leftovers tell it (0: nobody
    measured enough of them, the figure is the owner's)."""

    ml: float
    measured: int = 0


def good_share(good: int, seen: int) -> Yield:
    """The lower quartile of the good share after `good` of `seen` cavities.

    The quantile of the Beta distribution that a binomial count leaves of its share, exactly (NIST
    Digital Library of Mathematical Functions, 8.17: the inverse of the regularized incomplete beta
    function). Raises ValueError when more is good than was seen."""
    from scipy import special

    if not 0 <= good <= seen:
        raise ValueError(f"{good} good of {seen} cavities cannot be")
    bad = seen - good
    share = float(special.betaincinv(good + FIRST_GOOD, bad + FIRST_BAD, 1 - SURE))
    return Yield(share, good, seen)


def heel(measured_ml: Sequence[float], otherwise_ml: float) -> Heel:
    """The median of what was measured after planned shots, once there is enough of it.

    One cup that was filled too full, or emptied by a mold larger than said, does not move it."""
    if len(measured_ml) < ENOUGH_HEELS:
        return Heel(otherwise_ml)
    return Heel(max(0.0, statistics.median(measured_ml)), len(measured_ml))
