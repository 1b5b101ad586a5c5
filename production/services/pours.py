"""Beginning and ending an evening at the bench."""

from django.db import transaction
from django.utils import timezone

from production import queries
from production.models import Pour


@transaction.atomic
def start(*, by) -> Pour:
    """The open pour, or a new one that keeps today's date: only one is open at a time."""
    # Two presses at once: the second waits here and then finds the pour that the first began.
    Pour.objects.select_for_update(of=("self",)).order_by("-id").first()
    return queries.open_pour() or Pour.objects.create(
        business_date=timezone.localdate(), started_at=timezone.now(), by=by
    )


@transaction.atomic
def close(*, pour: Pour) -> Pour:
    """Ends the evening; closing it again changes nothing. What is left in cups stays on hand."""
    pour = Pour.objects.select_for_update(of=("self",)).get(pk=pour.pk)
    if pour.closed_at is None:
        pour.closed_at = timezone.now()
        pour.save(update_fields=["closed_at"])
    return pour
