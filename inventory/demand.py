"""How an item is used up: its class of demand.

A history is the amount used in each period (a day, as the ledger gives it), oldest first, with zeros
for periods without use, from the first period in which the item could have been used.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

# Syntetos, Boylan & Croston (2005), J. Oper. Res. Soc. 56:495-503.
ADI_CUT_OFF = 1.32
CV2_CUT_OFF = 0.49

# Our own choice, no source: below these a figure would say more about luck than about use.
LEAST_PERIODS = 12
LEAST_DEMANDS = 3
LEAD_TIMES_SEEN = 2


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
    return classify_each([usage])[0]


def classify_each(histories: Sequence[Sequence[float]]) -> list[History]:
    """Return `classify_demand` of each history: a thousand take little longer than one."""
    found: dict[int, History] = {}
    for places, usage in by_length(histories):
        found |= zip(places, _classified(usage), strict=True)
    return [found[place] for place in range(len(histories))]


def as_arrays(histories: Sequence[Sequence[float]]) -> list[Any]:
    """The histories in the form in which they are reckoned with: worth doing once for several readings."""
    import numpy

    return [numpy.asarray(usage, dtype=float) for usage in histories]


def by_length(histories: Sequence[Sequence[float]]) -> Iterator[tuple[list[int], Any]]:
    """The histories of one length together: their places among all, and an array with one row
    for each.

    Raises ValueError for an amount that is negative, infinite or no number."""
    import numpy

    places: dict[int, list[int]] = {}
    for place, usage in enumerate(histories):
        places.setdefault(len(usage), []).append(place)
    for same in places.values():
        usage = numpy.stack(as_arrays([histories[place] for place in same]))
        wrong = ~((usage >= 0) & (usage < math.inf))
        if wrong.any():
            raise ValueError(f"{usage[wrong][0]} cannot have been used in a period")
        yield same, usage


def _classified(usage: Any) -> Iterator[History]:
    """The class of each row, all of them of one length."""
    import numpy

    periods = usage.shape[1]
    demands = (usage > 0).sum(axis=1)
    # Shares of the largest amount, so that no square runs out of range.
    largest = usage.max(axis=1, initial=0)
    shares = usage / numpy.where(demands, largest, 1)[:, None]
    totals, used = shares.sum(axis=1), numpy.maximum(demands, 1)
    sizes = numpy.where(demands, totals / used, 1)
    apart = numpy.where(shares > 0, shares - sizes[:, None], 0)
    cv2 = (apart**2).sum(axis=1) / used / sizes**2
    means = totals / max(periods, 1)
    spreads = numpy.sqrt(((shares - means[:, None]) ** 2).sum(axis=1) / max(periods - 1, 1))
    rows = zip(demands, means * largest, spreads * largest, cv2, strict=True)
    for count, mean, spread, squared in rows:
        sd = float(spread) if periods > 1 else None
        if count:
            adi, squared = periods / int(count), float(squared)
            kind = _KINDS[adi < ADI_CUT_OFF, squared < CV2_CUT_OFF]
            yield History(kind, periods, int(count), float(mean), sd, adi, squared)
        else:
            yield History(DemandClass.NONE, periods, 0, 0.0, sd, None, None)


#: Whether it is used often and by even amounts → class.
_KINDS = {
    (True, True): DemandClass.SMOOTH,
    (False, True): DemandClass.INTERMITTENT,
    (True, False): DemandClass.ERRATIC,
    (False, False): DemandClass.LUMPY,
}
