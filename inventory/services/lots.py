"""Opening a new lot and numbering it."""

from datetime import date

from inventory.models import Item, Lot, LotNumber

#: What a lot number starts with: R received, B batch, T trim, L loose baits, P packed bags; a service
#: may give its own letter.
LETTERS = {
    Lot.Form.PACK: "R",
    Lot.Form.LIQUID: "B",
    Lot.Form.PUCK: "B",
    Lot.Form.TRIM: "T",
    Lot.Form.LOOSE: "L",
    Lot.Form.BAG: "P",
}


def open_lot(item: Item, form: str, day: date, *, letter: str = "", **facts) -> Lot:
    """A new, empty lot with the next number of its day: B261125-02. Call inside a transaction."""
    prefix = f"{letter or LETTERS[form]}{day:%y%m%d}"
    LotNumber.objects.get_or_create(prefix=prefix)
    counter = LotNumber.objects.select_for_update().get(prefix=prefix)
    counter.last += 1
    counter.save(update_fields=["last"])
    number = f"{prefix}-{counter.last:02d}"
    return Lot.objects.create(item=item, form=form, received_on=day, number=number, **facts)
