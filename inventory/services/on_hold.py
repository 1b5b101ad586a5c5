"""Putting lots on hold, as in a recall, and letting them go again.

A lot on hold can't be bagged, reserved, sold or shipped; who had reserved some of it is told."""

from collections.abc import Iterable

from django.db import transaction
from django.utils import timezone

from inventory import signals
from inventory.models import Lot, LotHold
from inventory.services import holding
from inventory.services.posting import LedgerError, retried

LONGEST_REASON = 300


@retried
@transaction.atomic
def hold(lots: Iterable[Lot], *, reason: str, by) -> list[Lot]:
    """Puts on hold those of the lots that are not yet; which these were. Raises LedgerError without a
    reason."""
    reason = reason.strip()
    if not reason:
        raise LedgerError("Say why: whoever finds these bags on hold wants to know.")
    wanted = Lot.objects.select_for_update(of=("self",)).filter(pk__in=[lot.pk for lot in lots])
    fresh = list(wanted.filter(held=False).order_by("pk"))
    LotHold.objects.bulk_create(
        LotHold(lot=lot, reason=reason[:LONGEST_REASON], by=by) for lot in fresh
    )
    Lot.objects.filter(pk__in=[lot.pk for lot in fresh]).update(held=True)
    if lost := holding.let_go(fresh):
        signals.holds_lost.send(Lot, lost=lost)
    return fresh


@retried
@transaction.atomic
def let_go(lots: Iterable[Lot], *, by) -> list[Lot]:
    """Ends the hold on those of the lots that are on hold; which these were."""
    wanted = Lot.objects.select_for_update(of=("self",)).filter(pk__in=[lot.pk for lot in lots])
    held = list(wanted.filter(held=True).order_by("pk"))
    open_holds = LotHold.objects.filter(lot__in=held, released_at=None)
    open_holds.update(released_at=timezone.now(), released_by=by)
    Lot.objects.filter(pk__in=[lot.pk for lot in held]).update(held=False)
    return held


def said(lots: Iterable[Lot]) -> list[str]:
    """A sentence for each of the lots that is on hold: since when, and why. One query, none without any."""
    held = {lot.pk: lot for lot in lots if lot.held}
    if not held:
        return []
    holds = LotHold.objects.filter(lot__in=held, released_at=None)
    why = {hold.lot_id: hold for hold in holds}
    return [_sentence(lot, why.get(pk)) for pk, lot in held.items()]


def _sentence(lot: Lot, hold: LotHold | None) -> str:
    name = f"{lot.item}, lot {lot.number}, is on hold"
    if hold is None:
        return f"{name}."
    return f"{name} since {timezone.localtime(hold.at):%Y-%m-%d}: {hold.reason.rstrip('.')}."
