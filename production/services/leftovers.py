"""What is left of a batch after its shots: measured, then kept, set aside or thrown away."""

from datetime import datetime

from django.db.models import Sum

from inventory.models import Entry, Lot, Movement
from inventory.services import ledger
from inventory.services.posting import Key, posting
from inventory.wording import quantity_text
from production.models import Batch, Pour
from production.services import evenings

#: What can become of it: kept liquid in its cup, set aside as a puck, thrown away.
KEEP, PUCK, THROW = Batch.Settled.KEPT, Batch.Settled.PUCK, Batch.Settled.THROWN


def most_left(batch: Batch) -> int:
    """Millionths of a mL of base that can be left at most: what was poured in, less what went on into
    other batches or was thrown away. Shots are not taken off: a mold may take less than it should."""
    gone = Movement.objects.filter(
        lot=batch.lot_id,
        role=Movement.Role.DRAWN,
        entry__kind__in=[Entry.Kind.BATCH, Entry.Kind.ADDITION, Entry.Kind.WASTE],
        entry__reversed_by=None,
    ).aggregate(total=Sum("quantity", default=0))
    return batch.lot.made + gone["total"]


@posting
def settle(
    key: Key,
    *,
    batch: Batch,
    measured: int,
    then: str,
    reason: str = "",
    look_at: str = "",
    happened_at: datetime | None = None,
    by,
) -> Entry:
    """Sets what the batch's lot holds to `measured` (millionths of a mL of base), then keeps it in
    the cup, sets it aside as a puck or throws it away with a reason: one transaction.

    However late it gets, its entries keep the date on which the batch's evening began. Raises
    EveningClosed: from then on its lot is counted like any other."""
    evenings.still_open(batch.pour)
    return put_away(
        key,
        batch=batch,
        measured=measured,
        then=then,
        reason=reason,
        look_at=look_at,
        happened_at=happened_at,
        by=by,
    )


def put_away(
    key: Key,
    *,
    batch: Batch,
    measured: int | None,
    then: str,
    reason: str = "",
    look_at: str = "",
    happened_at: datetime | None = None,
    by,
) -> Entry | None:
    """What `settle` does, inside another posting's transaction. `measured` None goes by the books:
    nothing is counted then, and what is kept or set aside has no entry."""
    entry = None
    if measured is not None:
        entry = count_left(
            key,
            batch=batch,
            measured=measured,
            pour=batch.pour,
            more=", set aside as a puck" * (then == PUCK),
            look_at=look_at,
            note=reason if then != THROW else "",
            happened_at=happened_at,
            by=by,
        )
    thrown = batch.lot.on_hand if measured is None else measured
    if then == THROW and thrown:
        when, mark = (entry.happened_at, "") if entry else (happened_at, look_at)
        entry = ledger.post(key, thrown_event(batch, thrown, when, reason, mark), by=by)
    form = Lot.Form.PUCK if then == PUCK else Lot.Form.LIQUID
    Lot.objects.filter(pk=batch.lot_id).update(form=form)
    Batch.objects.filter(pk=batch.pk).update(settled=then)
    return entry


def count_left(
    key: Key,
    *,
    batch: Batch,
    measured: int,
    pour: Pour,
    more: str = "",
    look_at: str = "",
    note: str = "",
    happened_at: datetime | None = None,
    by,
) -> Entry:
    """Sets what the batch's lot holds, inside another posting's transaction, on `pour`'s evening."""
    lot = Lot.objects.select_for_update(of=("self",)).select_related("item").get(pk=batch.lot_id)
    event = left_event(batch, measured, pour, more, look_at, note, happened_at)
    return ledger.adjust(key, event, lot, measured - lot.on_hand, by=by)


def left_event(
    batch: Batch,
    measured: int,
    pour: Pour,
    more: str,
    look_at: str,
    note: str,
    happened_at: datetime | None,
) -> ledger.Event:
    """So much was left of a batch; `more`: what becomes of it, in words."""
    return ledger.Event(
        kind=Entry.Kind.COUNT,
        title=f"Left of {batch}: {quantity_text(measured, 'mL')} of base{more}",
        happened_at=happened_at,
        business_date=pour.business_date,
        reference=f"pour:{pour.pk}",
        look_at=look_at,
        note=note,
    )


def thrown_event(
    batch: Batch, thrown: int, happened_at: datetime | None, reason: str, look_at: str
) -> ledger.Event:
    """So much of a batch is thrown away."""
    return ledger.Event(
        kind=Entry.Kind.WASTE,
        title=f"Thrown away: {quantity_text(thrown, 'mL')} of base of {batch}",
        happened_at=happened_at,
        business_date=batch.pour.business_date,
        note=reason,
        reference=f"pour:{batch.pour_id}",
        look_at=look_at,
        draws=[ledger.Draw(batch.lot, thrown)],
        wasted=thrown,
    )
