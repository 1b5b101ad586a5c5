"""Guessing passwords is slowed down: how many wrong ones count, and how long the wait is.

Eight wrong ones for one name from one address make it wait; so do five times as many for one name
from anywhere, or from one address for any names. A quarter of an hour after the last wrong one the
wait is over; tries meanwhile do not count. Nobody who is signed in already is sent away.
"""

from datetime import timedelta

from axes.handlers.database import AxesDatabaseHandler
from axes.helpers import get_cool_off, get_failure_limit
from axes.models import AccessAttempt
from django.db.models import QuerySet, Sum
from django.http import HttpRequest
from django.utils import timezone

#: What one wrong password counts for, in the order of AXES_LOCKOUT_PARAMETERS: of this name from this
#: address; of this name from anywhere; from this address for any name. An address is shared by the
#: people of a workshop, and a name must not be locked from afar by a few tries.
SHARES = (1, 5, 5)


class Throttle(AxesDatabaseHandler):
    def get_failures(self, request: HttpRequest, credentials: dict | None = None) -> int:
        """How many wrong passwords hold against this sign-in, each kind by its share."""
        return max(
            (tries.aggregate(sum=Sum("failures_since_start"))["sum"] or 0) // share
            for tries, share in self.shares(request, credentials)
        )

    def shares(
        self, request: HttpRequest, credentials: dict | None
    ) -> list[tuple[QuerySet[AccessAttempt], int]]:
        return list(zip(self.get_user_attempts(request, credentials), SHARES, strict=True))

    def reset_user_attempts(self, request: HttpRequest, credentials: dict | None = None) -> int:
        """Forget the wrong ones of this name from this address, and nobody else's."""
        count, _ = self.filter_user_attempts(request, credentials)[0].delete()
        return count


def wait(request: HttpRequest, credentials: dict | None) -> timedelta:
    """How long until this name may be tried again from here."""
    limit, pause = get_failure_limit(request, credentials), get_cool_off(request)
    ends = [timezone.now()]
    for tries, share in Throttle().shares(request, credentials):
        left = 0
        # From the newest back: the wait lasts until so many are too old that the rest is below the limit.
        for when, failures in tries.order_by("-attempt_time").values_list(
            "attempt_time", "failures_since_start"
        ):
            left += failures
            if left >= limit * share:
                ends.append(when + pause)
                break
    return max(ends) - timezone.now()
