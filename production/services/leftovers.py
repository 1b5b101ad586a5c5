"""What is left of a batch after its shots: measured, then kept, set aside or thrown away."""

from inventory.models import Entry, Lot
from inventory.services import ledger
from inventory.services.posting import Key, posting
from inventory.wording import quantity_text
from production.models import Batch

#: What can become of it: kept liquid in its cup, set aside as a puck, thrown away.
KEEP, PUCK, THROW = "keep", "puck", "throw"


@posting
def settle(
    key: Key, *, batch: Batch, measured: int, then: str, reason: str = "", look_at: str = "", by
) -> Entry:
    """Sets what the batch's lot holds to `measured` (millionths of a mL of base), then keeps it in
    the cup, sets it aside as a puck or throws it away with a reason: one transaction."""
    lot = Lot.objects.select_for_update(of=("self",)).select_related("item").get(pk=batch.lot_id)
    amount = quantity_text(measured, lot.item.stock_unit)
    event = ledger.Event(
        kind=Entry.Kind.COUNT,
        title=f"Left of {batch}: {amount} of base{', set aside as a puck' * (then == PUCK)}",
        business_date=batch.pour.business_date,
        reference=f"pour:{batch.pour_id}",
        look_at=look_at,
        note=reason if then != THROW else "",
    )
    entry = ledger.adjust(key, event, lot, measured - lot.on_hand, by=by)
    if then == THROW and measured:
        thrown = ledger.Event(
            kind=Entry.Kind.WASTE,
            title=f"Thrown away: {amount} of base of {batch}",
            business_date=batch.pour.business_date,
            note=reason,
            reference=f"pour:{batch.pour_id}",
            draws=[ledger.Draw(lot, measured)],
            wasted=measured,
        )
        entry = ledger.post(key, thrown, by=by)
    form = Lot.Form.PUCK if then == PUCK else Lot.Form.LIQUID
    Lot.objects.filter(pk=lot.pk).update(form=form)
    return entry
