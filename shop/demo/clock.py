"""The demo's own time: while it is told, the services' clock stands in the evening being told.

Not every service takes the time that something happened, and records also note when they were made.
The told time is seen by the telling thread alone: others, asking meanwhile, get the real one.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import UTC, date, datetime, time, timedelta, tzinfo

from django.utils import timezone

_told: ContextVar[datetime | None] = ContextVar("told", default=None)


class Clock:
    """Set to an hour of a day in the shop's time zone, then moved on by minutes."""

    def __init__(self, zone: tzinfo) -> None:
        self._zone = zone

    def at(self, day: date, hour: int) -> None:
        _told.set(datetime.combine(day, time(hour), self._zone).astimezone(UTC))

    def tick(self, minutes: int) -> None:
        _told.set(timezone.now() + timedelta(minutes=minutes))


@contextmanager
def telling(zone: tzinfo) -> Iterator[Clock]:
    """The clock of a telling; before it is set, and again afterwards, the real time holds."""
    real = timezone.now
    timezone.now = lambda: _told.get() or real()
    before = _told.set(None)
    try:
        with timezone.override(zone):
            yield Clock(zone)
    finally:
        _told.reset(before)
        timezone.now = real
