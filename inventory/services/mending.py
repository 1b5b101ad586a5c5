"""Mending what was written down about a lot that came from outside (rule 9)."""

from datetime import date

from django.db import transaction

from inventory.models import Entry, Lot, Movement, Place, Supplier
from inventory.services import ledger
from inventory.services.amending import FROM_OUTSIDE
from inventory.services.posting import Key, posting


def receipt_of(lot: Lot) -> Movement | None:
    """The line by which a lot came in, as it stands; None for what the bench made."""
    lines = lot.movements.filter(
        role=Movement.Role.MADE,
        revalues=None,
        entry__kind__in=FROM_OUTSIDE,
        entry__reversed_by=None,
    )
    return lines.select_related("entry").order_by("-pk").first()


@transaction.atomic
def describe(
    *,
    lot: Lot,
    supplier: Supplier | None,
    supplier_lot: str,
    expires_on: date | None,
    place: Place | None,
) -> None:
    """Mends the facts beside a lot that move no stock and no money."""
    Lot.objects.filter(pk=lot.pk).update(
        supplier=supplier, supplier_lot=supplier_lot, expires_on=expires_on, place=place
    )


@posting
def amend_receipt(
    key: Key, *, lot: Lot, quantity: int, cost: int | None, said: str = "", note: str = "", by
) -> Entry:
    """Posts the receipt of a lot again with other figures (millionths), in place of the first.

    What came with it stays as it was. Cost of all that was made from the lot is derived again."""
    old = receipt_of(lot).entry
    makes = [
        ledger.Make(lot, quantity, base=line.base and quantity, cost=cost, said=said)
        if line.lot_id == lot.pk
        else ledger.Make(line.lot, line.quantity, base=line.base, cost=line.cost, said=line.said)
        for line in old.movements.filter(revalues=None).select_related("lot__item").order_by("pk")
    ]
    event = ledger.Event(
        kind=old.kind,
        title=old.title,
        happened_at=old.happened_at,
        business_date=old.business_date,
        note=note,
        reference=old.reference,
        makes=makes,
    )
    return ledger.post(key, event, by=by, amends=old)
