"""How much is wanted, and how often the bench is lit: a spring peak, colors that rise and fall."""

import math
from datetime import date
from random import Random

#: Share of a year's demand by month: the open water of spring, a smaller fall (invented).
MONTHS = (0.7, 1.1, 1.7, 2.0, 1.6, 1.1, 0.8, 0.8, 0.9, 0.7, 0.4, 0.4)
#: Weekdays on which the bench is lit, Monday first: three evenings, and a fourth before the season.
EVENINGS, BUSY_EVENINGS, BUSY = (0, 2, 4), (0, 2, 3, 5), (2, 3, 4)


def pours_on(day: date, random: Random) -> bool:
    """Whether the bench is lit on this evening; now and then something comes between."""
    lit = BUSY_EVENINGS if day.month in BUSY else EVENINGS
    return day.weekday() in lit and random.random() > 0.1


def season(day: date) -> float:
    """Demand of this day over that of a usual one: the months' figures, joined by straight lines."""
    along = day.month - 1 + (day.day - 1) / 31
    month, part = int(along), along % 1
    return MONTHS[month] * (1 - part) + MONTHS[(month + 1) % 12] * part


def favor(years: float, *, rises: float, peak: float, lasts: float) -> float:
    """How much a color is asked for `years` after the shop opened, from 0 to 1.

    rises: when it appears; peak: when it sells best; lasts: the years in which it then loses half."""
    if years < rises:
        return 0.0
    if years < peak:
        return 0.2 + 0.8 * (years - rises) / (peak - rises)
    return 0.5 ** ((years - peak) / lasts)


def how_many(mean: float, random: Random) -> int:
    """A whole number around `mean`, by Poisson's law (D. Knuth, The Art of Computer Programming 2)."""
    limit, product, count = math.exp(-min(mean, 500)), random.random(), 0
    while product > limit:
        product *= random.random()
        count += 1
    return count
