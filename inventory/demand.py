"""How an item is used up: its class of demand, and how much a lead time can take.

A history is the amount used in each period (a day, as the ledger gives it), oldest first, with zeros
for periods without use, from the first period in which the item could have been used.
"""

import functools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

# Syntetos, Boylan & Croston (2005), J. Oper. Res. Soc. 56:495-503.
ADI_CUT_OFF = 1.32
CV2_CUT_OFF = 0.49

# Our own choice, no source: below these a figure would say more about luck than about use.
LEAST_PERIODS = 12
LEAST_DEMANDS = 3
LEAD_TIMES_SEEN = 2

SEED = 20_05
DRAWS = 10_000


class DemandClass(StrEnum):
    NONE = "no use yet"
    SMOOTH = "smooth"
    INTERMITTENT = "intermittent"
    ERRATIC = "erratic"
    LUMPY = "lumpy"


@dataclass(frozen=True)
class History:
    """What a history says. `adi` and `cv2` are None while nothing was used; `sd` with one period.

    `mean` and `sd` are per period, zeros included, `sd` with n - 1.
    """

    kind: DemandClass
    periods: int
    demands: int
    mean: float
    sd: float | None
    adi: float | None
    cv2: float | None

    @property
    def too_short(self) -> bool:
        """Too few periods or uses to trust: buy by hand until there are more."""
        return self.periods < LEAST_PERIODS or self.demands < LEAST_DEMANDS

    def too_short_for(self, lead_time: float) -> bool:
        """Also too short when it has not seen a few lead times."""
        return self.too_short or self.periods < LEAD_TIMES_SEEN * lead_time


def classify_demand(usage: Sequence[float]) -> History:
    """Return the class of demand of a history, with the figures behind it.

    ADI, the average interval between uses, is periods ÷ periods with use (others take the mean interval
    counted from the start, or the mean gap). CV² is that of the amounts used, zeros left out, with the
    population variance (others divide by n - 1). A value on a cut-off is in the upper class: intermittent
    or lumpy from 1.32, erratic or lumpy from 0.49. One use has CV² 0. Raises ValueError for a negative
    or infinite amount. Source: Syntetos, Boylan & Croston (2005).
    """
    _check(usage)
    sizes = [amount for amount in usage if amount > 0]
    mean = math.fsum(usage) / len(usage) if usage else 0.0
    sd = _spread(sizes, len(usage), mean) if len(usage) > 1 else None
    if not sizes:
        return History(DemandClass.NONE, len(usage), 0, mean, sd, None, None)
    adi = len(usage) / len(sizes)
    cv2 = _squared_cv(sizes)
    often, steady = adi < ADI_CUT_OFF, cv2 < CV2_CUT_OFF
    kind = {
        (True, True): DemandClass.SMOOTH,
        (False, True): DemandClass.INTERMITTENT,
        (True, False): DemandClass.ERRATIC,
        (False, False): DemandClass.LUMPY,
    }[often, steady]
    return History(kind, len(usage), len(sizes), mean, sd, adi, cv2)


def lead_time_quantile(
    usage: Sequence[float],
    lead_time: float,
    service: float,
    *,
    lead_time_sd: float = 0,
    draws: int = DRAWS,
    seed: int = SEED,
) -> float:
    """Return the amount that covers a lead time in a share `service` of resampled lead times.

    Each draw adds up as many periods of the history, picked with replacement, as the lead time has; a
    part period is one more period that often. With `lead_time_sd` the lead time is normal, cut at 0.
    The quantile is the smallest drawn amount that at least `service` of the draws do not exceed
    (inverse of the empirical distribution). The same history and seed give the same answer. Runs of
    busy periods are not kept together. Source: the bootstrap of Efron (1979), from memory.
    Raises ValueError for no history, a negative lead time or a service outside 0 to 1.
    """
    import numpy

    _check(usage)
    if not usage:
        raise ValueError("there is no history to draw from")
    if not 0 < service < 1:
        raise ValueError(f"service is a share between 0 and 1, not {service}")
    if not (0 <= lead_time < math.inf and 0 <= lead_time_sd < math.inf):
        raise ValueError(f"a lead time cannot be {lead_time} ± {lead_time_sd}")
    amounts = numpy.append(numpy.asarray(usage, dtype=float), 0.0)
    totals = numpy.zeros(draws)
    for picked in _picks(len(usage), float(lead_time), float(lead_time_sd), draws, seed):
        totals += amounts.take(picked)
    return float(numpy.quantile(totals, service, method="inverted_cdf"))


@functools.lru_cache(maxsize=8)
def _picks(length: int, lead_time: float, lead_time_sd: float, draws: int, seed: int) -> list:
    """For each period of the lead times drawn, which period of a history of that length is taken; its
    length where a draw has no such period. The same for every item with such a history."""
    import numpy

    random = numpy.random.Generator(numpy.random.PCG64(seed))
    spans = numpy.full(draws, lead_time)
    if lead_time_sd:
        spans = numpy.maximum(0, random.normal(lead_time, lead_time_sd, draws))
    periods = numpy.floor(spans + random.random(draws))
    picks = []
    for period in range(int(periods.max())):
        drawn = random.integers(length, size=draws)
        picks.append(numpy.where(period < periods, drawn, length).astype(numpy.int32))
    return picks


def _spread(sizes: Sequence[float], periods: int, mean: float) -> float:
    """The standard deviation with n - 1 of a history whose other periods had no use.

    `statistics.stdev` goes by fractions and takes far longer; so does `pvariance` below."""
    largest = max(sizes, default=1.0)
    apart = math.fsum([((size - mean) / largest) ** 2 for size in sizes])
    apart += (periods - len(sizes)) * (mean / largest) ** 2
    return largest * math.sqrt(apart / (periods - 1))


def _squared_cv(sizes: Sequence[float]) -> float:
    largest = max(sizes)
    shares = [size / largest for size in sizes]
    mean = math.fsum(shares) / len(shares)
    return math.fsum([(share - mean) ** 2 for share in shares]) / len(shares) / mean**2


def _check(usage: Sequence[float]) -> None:
    # Not a number, and the infinite, make the sum neither above nor below anything finite.
    if not usage or (min(usage) >= 0 and sum(usage) < math.inf):
        return
    for amount in usage:
        if not 0 <= amount < math.inf:
            raise ValueError(f"{amount} cannot have been used in a period")
