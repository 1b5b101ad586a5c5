"""Beginning and ending an evening at the bench."""

from datetime import datetime

from django.db import transaction
from django.utils import timezone

from production import queries
from production.models import Pour


@transaction.atomic
def start(*, at: datetime | None = None, by) -> Pour:
    """The open pour, or a new one begun `at` that moment (now): only one is open at a time.

    It keeps the date on which it began, in the shop's time zone."""
    # Two presses at once: the second waits here and then finds the pour that the first began.
    Pour.objects.select_for_update(of=("self",)).order_by("-id").first()
    began = at or timezone.now()
    return queries.open_pour() or Pour.objects.create(
        business_date=timezone.localdate(began), started_at=began, by=by
    )


@transaction.atomic
def close(*, pour: Pour, at: datetime | None = None) -> Pour:
    """Ends the evening `at` that moment (now); closing it again changes nothing. What is left in cups stays on hand."""
    pour = Pour.objects.select_for_update(of=("self",)).get(pk=pour.pk)
    if pour.closed_at is None:
        pour.closed_at = at or timezone.now()
        pour.save(update_fields=["closed_at"])
    return pour
