"""How much a lead time can take, drawn again and again from a history of use.

A history is as in demand.py. All items share one table of random numbers, so that a list of five hundred
is drawn in one go and the same history always gives the same answer.
"""

import functools
import math
from collections.abc import Callable, Sequence
from typing import Any

from inventory.demand import by_length

SEED = 20_05
#: So many lead times are drawn: a share of .95 is met within .005 (the standard error of a share).
DRAWS = 2_000
#: What the streams of random numbers are for; from PERIODS on, one for each period of a lead time.
SPANS, ORDER, NORMAL, PERIODS = range(4)


def lead_time_quantile(
    usage: Sequence[float], lead_time: float, service: float, *, lead_time_sd: float = 0
) -> float:
    """Return the amount that covers a lead time in a share `service` of resampled lead times.

    Each draw adds up as many periods of the history, picked with replacement, as the lead time has; a
    part period is one more period that often. With `lead_time_sd` the lead time is normal, cut at 0.
    The quantile is the smallest drawn amount that at least `service` of the draws do not exceed
    (inverse of the empirical distribution). The same history gives the same answer. Runs of busy periods
    are not kept together. Source: the bootstrap of Efron (1979), from memory.
    Raises ValueError for no history, a negative lead time or a service outside 0 to 1.
    """
    return _quantiles([usage], [(lead_time, lead_time_sd)], service, _as_drawn)[0]


def reorder_points(
    histories: Sequence[Sequence[float]],
    lead_times: Sequence[tuple[float, float]],
    service: float,
) -> list[float]:
    """Return the amount at which each item has to be ordered to last through its lead time, given as mean
    and spread, in a share `service` of the times.

    As `lead_time_quantile`, with two things that lumpy use brings. The use that crosses the reorder point
    takes the stock under it before anybody can order: each draw adds the excess of a renewal process, a
    random share of an amount picked by size (Feller, An Introduction to Probability Theory and Its
    Applications, vol. 2, ch. XI, from memory). And n uses do not show the largest to come, nor how often
    there really is one: each draw is stretched by a factor of its own, log-normal, by as much as the
    prediction of one more amount is wider than the spread seen (the variance of Student's t is
    (1 + 1/n)(n - 1)/(n - 3) times that), and by 1/n for how often (the variance of a Poisson rate known
    from n events; both Gelman et al., Bayesian Data Analysis, ch. 2 and 3, from memory). How well the
    promise is kept with a year of history shows tests/bench/test_buying_policy.py.
    Raises ValueError as `lead_time_quantile`.
    """
    return _quantiles(histories, lead_times, service, _as_ordered)


def _as_drawn(usage: Any, totals: Any) -> None:
    """Leaves the draws as they are."""


def _as_ordered(usage: Any, totals: Any) -> None:
    import numpy

    sizes = numpy.sort(usage, axis=1)
    totals += _excess(sizes)
    totals *= numpy.exp(_uncertain(sizes)[:, None] * _normal())


def _quantiles(
    histories: Sequence[Sequence[float]],
    lead_times: Sequence[tuple[float, float]],
    service: float,
    finish: Callable[[Any, Any], None],
) -> list[float]:
    """The quantile of each history's draws, after `finish` changed them in place."""
    import numpy

    if not 0 < service < 1:
        raise ValueError(f"service is a share between 0 and 1, not {service}")
    for mean, spread in lead_times:
        if not (0 <= mean < math.inf and 0 <= spread < math.inf):
            raise ValueError(f"a lead time cannot be {mean} ± {spread}")
    found = numpy.zeros(len(histories))
    for places, usage in by_length(histories):
        if not usage.shape[1]:
            raise ValueError("there is no history to draw from")
        for span in sorted({lead_times[place] for place in places}):
            mine = [row for row, place in enumerate(places) if lead_times[place] == span]
            totals = _lead_times(usage[mine], float(span[0]), float(span[1]))
            finish(usage[mine], totals)
            rank = math.ceil(service * DRAWS) - 1
            totals.partition(rank, axis=1)
            found[[places[row] for row in mine]] = totals[:, rank]
    return found.tolist()


def _lead_times(usage: Any, lead_time: float, lead_time_sd: float) -> Any:
    """What each row's use adds up to over DRAWS lead times."""
    import numpy

    rows, length = usage.shape
    totals = numpy.zeros((rows, DRAWS))
    for period, reached in enumerate(_reaching(lead_time, lead_time_sd)):
        totals[:, :reached] += usage.take(_picks(period, length)[:reached], axis=1)
    return totals


@functools.lru_cache(maxsize=64)
def _reaching(lead_time: float, lead_time_sd: float) -> list[int]:
    """How many of the lead times drawn have a first period, a second, and so on: the longest come first."""
    import numpy

    random = _random(SPANS)
    spans = numpy.full(DRAWS, lead_time)
    if lead_time_sd:
        spans = numpy.maximum(0, random.normal(lead_time, lead_time_sd, DRAWS))
    periods = numpy.floor(spans + random.random(DRAWS))
    return [int((periods > period).sum()) for period in range(int(periods.max()))]


@functools.lru_cache(maxsize=1024)
def _picks(period: int, length: int) -> Any:
    """Which period of a history of that length each draw picks as its so-manieth.

    Each period is picked as often as any other (the balanced bootstrap; Davison, Hinkley & Schechtman,
    1986, from memory): fewer draws are as exact. Of a history longer than the draws each draw picks
    anywhere in a stretch of its own: at even steps a use that comes every ten days might never be seen."""
    import numpy

    random = _random(PERIODS + period)
    within = random.random(DRAWS if length > DRAWS else 1)
    even = (numpy.arange(DRAWS) + within) * length / DRAWS
    return random.permutation(even.astype(numpy.intp))


def _excess(sizes: Any) -> Any:
    """How far under a reorder point the use that crosses it goes: rows of draws for rows of amounts in
    rising order.

    The distribution at x is the mean of min(amount, x) divided by the mean amount: straight between the
    amounts, so its inverse is, too. Periods without use add nothing to it."""
    import numpy

    larger = numpy.arange(sizes.shape[1], 0, -1)
    shares = numpy.cumsum(numpy.diff(sizes, axis=1, prepend=0) * larger, axis=1)
    even, order = _strata()
    found = numpy.empty((len(sizes), DRAWS))
    for row, share in enumerate(shares):
        found[row] = numpy.interp(even * share[-1], share, sizes[row])
    return found.take(order, axis=1)


def _uncertain(sizes: Any) -> Any:
    """The spread, in logarithms, of each row's factor for what its few uses do not show."""
    import numpy

    used = sizes > 0
    n = numpy.maximum(used.sum(axis=1), 2)
    logs = numpy.log(sizes, where=used, out=numpy.zeros_like(sizes))
    mean = logs.sum(axis=1) / n
    apart = numpy.where(used, logs - mean[:, None], 0)
    # (1 + 1/n)(n - 1)/(n - 3) - 1; three or fewer have no variance to predict by: as for four.
    wider = (3 * n - 1) / (n * numpy.maximum(n - 3, 1))
    return numpy.sqrt(wider * (apart**2).sum(axis=1) / (n - 1) + 1 / n)


@functools.lru_cache(maxsize=1)
def _strata() -> tuple[Any, Any]:
    """Evenly spaced shares, one for each draw, and a random order of them."""
    import numpy

    return (numpy.arange(DRAWS) + 0.5) / DRAWS, _random(ORDER).permutation(DRAWS)


@functools.lru_cache(maxsize=1)
def _normal() -> Any:
    return _random(NORMAL).standard_normal(DRAWS)


def _random(number: int) -> Any:
    """A stream of random numbers for each purpose, the same in every run."""
    import numpy

    return numpy.random.Generator(numpy.random.PCG64([SEED, number]))
