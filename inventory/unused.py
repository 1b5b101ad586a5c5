"""What will be left of lots when they expire, drawn in the order of the shelf: first expiring first."""

from collections.abc import Sequence
from datetime import date


def at_expiry(lots: Sequence[tuple[float, date | None]], rate: float, today: date) -> list[float]:
    """How much of each lot (quantity, day it expires) is left on its day at `rate` a day.

    In the order given, which is the order of drawing; a lot without a day leaves nothing. What an earlier
    lot leaves unused is thrown away then and delays nobody."""
    left = []
    busy = 0.0  # days until the lots before are drawn
    for quantity, expires_on in lots:
        if expires_on is None:
            left.append(0.0)
            continue
        days = max(0, (expires_on - today).days)
        usable = max(0.0, days - busy) * rate
        taken = min(quantity, usable)
        left.append(quantity - taken)
        busy += taken / rate if rate else 0.0
    return left
