"""Beginning and ending an evening at the bench."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.utils import timezone

from inventory.services.posting import Key
from production import queries
from production.models import Batch, Pour
from production.services import leftovers


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


@dataclass(frozen=True)
class Settling:
    """What becomes of one cup: `measured` millionths of a mL of base, None goes by the books."""

    batch: Batch
    then: str
    measured: int | None = None
    reason: str = ""
    look_at: str = ""


@transaction.atomic
def close(
    *,
    pour: Pour,
    key: str = "",
    cups: Sequence[Settling] = (),
    purged: bool = False,
    seals_checked: bool = False,
    molds_dry: bool = False,
    note: str | None = None,
    at: datetime | None = None,
    by=None,
) -> Pour:
    """Ends the evening `at` that moment (now), with what becomes of every cup, in one transaction.

    Closing it again changes nothing. What is not said of a cup stays in it. `key` is needed where
    `cups` are given: each cup's entries get a key of their own made from it."""
    pour = Pour.objects.select_for_update(of=("self",)).get(pk=pour.pk)
    if pour.closed_at is not None:
        return pour
    for cup in cups:
        leftovers.put_away(
            Key(f"{key}#cup{cup.batch.pk}", "closing"),
            batch=cup.batch,
            measured=cup.measured,
            then=cup.then,
            reason=cup.reason,
            look_at=cup.look_at,
            happened_at=at,
            by=by,
        )
    pour.closed_at = at or timezone.now()
    pour.purged, pour.seals_checked, pour.molds_dry = purged, seals_checked, molds_dry
    if note is not None:
        pour.note = note
    pour.save(update_fields=["closed_at", "purged", "seals_checked", "molds_dry", "note"])
    return pour
