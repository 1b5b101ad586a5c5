"""The told moment for the services that can't be given one yet: receiving goods and undoing an entry.

It is seen by the telling thread alone: others, asking meanwhile, get the real one.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import datetime

from django.utils import timezone

_told: ContextVar[datetime | None] = ContextVar("told", default=None)


@contextmanager
def standing_at(moment: datetime) -> Iterator[None]:
    """Inside, this thread's present is `moment`; before and afterwards it is the real one."""
    real = timezone.now
    timezone.now = lambda: _told.get() or real()
    before = _told.set(moment)
    try:
        yield
    finally:
        _told.reset(before)
        timezone.now = real
