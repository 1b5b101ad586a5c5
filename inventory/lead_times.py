"""What deliveries say about how long a supplier takes."""

import statistics
from collections.abc import Sequence
from dataclasses import dataclass

#: With fewer deliveries a figure would say more about luck; our own choice, no source.
LEAST_SEEN = 3


@dataclass(frozen=True)
class Seen:
    """Days from order to delivery: the median, the spread (n - 1), the shortest, the longest, how many."""

    days: int
    sd: float
    least: int
    most: int
    count: int


def seen(days: Sequence[int]) -> Seen | None:
    """What these deliveries say, None with fewer than LEAST_SEEN. Half a day of a median counts up."""
    if len(days) < LEAST_SEEN:
        return None
    median = int(statistics.median(days) + 0.5)
    return Seen(median, statistics.stdev(days), min(days), max(days), len(days))
