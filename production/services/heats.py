"""Warmings of a batch: minutes and peak temperature. A reheat is logged and never counted as a melt."""

from datetime import datetime
from decimal import ROUND_HALF_UP, Decimal

from django.db import IntegrityError, transaction
from django.utils import timezone

from inventory.services.posting import KeyReused
from production.models import Batch, Heat
from production.services import evenings

_TENTH = Decimal("0.1")
#: Longer than this on the timer and somebody forgot to stop it.
MOST_MINUTES = Decimal(600)


def warm(
    *,
    key: str,
    batch: Batch,
    minutes: Decimal | None = None,
    peak_c: Decimal | None = None,
    note: str = "",
    look_at: str = "",
    started_at: datetime | None = None,
    by,
) -> Heat:
    """Logs a warming; without minutes its timer runs until `stop`. One timer runs for a batch.

    The same key returns the first one; with other figures it raises KeyReused. Raises LedgerError
    once the evening is closed."""
    facts = {"minutes": minutes, "peak_c": peak_c, "note": note}
    if first := _logged(key, batch, facts):
        return first
    try:
        with transaction.atomic():
            _for_change(batch)
            running = None if minutes else running_heat(batch)
            return running or Heat.objects.create(
                key=key,
                batch=batch,
                started_at=started_at or timezone.now(),
                look_at=look_at[:300],
                by=by,
                **facts,
            )
    except IntegrityError:
        # Two presses at once: the other one won the key.
        if first := _logged(key, batch, facts):
            return first
        raise


@transaction.atomic
def stop(
    *,
    heat: Heat,
    minutes: Decimal | None = None,
    peak_c: Decimal | None = None,
    note: str = "",
    look_at: str = "",
    at: datetime | None = None,
) -> Heat:
    """Stops a running timer: `minutes` as said, else since it was started. Stopped before: nothing changes."""
    heat = Heat.objects.select_for_update(of=("self",)).select_related("batch").get(pk=heat.pk)
    _for_change(heat.batch)
    if heat.minutes is not None:
        return heat
    if minutes is None:
        seconds = ((at or timezone.now()) - heat.started_at).total_seconds()
        minutes = Decimal(seconds / 60).quantize(_TENTH, ROUND_HALF_UP)
    heat.minutes = min(max(minutes, _TENTH), MOST_MINUTES)
    heat.peak_c, heat.note, heat.look_at = peak_c, note, look_at[:300]
    heat.save(update_fields=["minutes", "peak_c", "note", "look_at"])
    return heat


@transaction.atomic
def mend(
    *, heat: Heat, minutes: Decimal | None, peak_c: Decimal | None, note: str, look_at: str = ""
) -> Heat:
    """Corrects what was logged, until the evening is closed."""
    _for_change(heat.batch)
    heat.minutes, heat.peak_c, heat.note, heat.look_at = minutes, peak_c, note, look_at[:300]
    heat.save(update_fields=["minutes", "peak_c", "note", "look_at"])
    return heat


@transaction.atomic
def drop(*, heat: Heat) -> None:
    """Takes away a warming that never was, until the evening is closed."""
    _for_change(heat.batch)
    Heat.objects.filter(pk=heat.pk).delete()


def running_heat(batch: Batch) -> Heat | None:
    """The warming whose timer runs."""
    return Heat.objects.filter(batch=batch, minutes=None).order_by("-id").first()


def _logged(key: str, batch: Batch, facts: dict) -> Heat | None:
    first = Heat.objects.filter(key=key).first()
    if first is None:
        return None
    # The press that started a timer said no figures; the timer's stop may have filled them since.
    said = {name: value for name, value in facts.items() if value not in (None, "")}
    if first.batch_id != batch.pk or any(getattr(first, n) != v for n, v in said.items()):
        raise KeyReused(
            "This form was already posted with other numbers. Nothing was added now: "
            "send again to log it as another warming."
        )
    return first


def _for_change(batch: Batch) -> None:
    evenings.still_open(batch.pour_id, "its warmings stay as logged.")
