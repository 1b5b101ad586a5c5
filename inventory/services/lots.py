"""Opening a new lot and numbering it."""

import re
from datetime import date

from django.db import IntegrityError, transaction

from inventory.models import Item, Lot, LotNumber
from inventory.services.posting import LedgerError

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


def next_number(letters: str, day: date) -> str:
    """The next number of that day under these letters: B261125-02. Call inside a transaction."""
    prefix = f"{letters}{day:%y%m%d}"
    return f"{prefix}-{count_on(prefix):02d}"


def count_on(prefix: str) -> int:
    """The next number under a prefix. Call inside a transaction: others wait for its end, and what it
    fails to keep is given out again."""
    LotNumber.objects.get_or_create(prefix=prefix)
    counter = LotNumber.objects.select_for_update().get(prefix=prefix)
    counter.last += 1
    counter.save(update_fields=["last"])
    return counter.last


def open_lot(item: Item, form: str, day: date, *, letter: str = "", **facts) -> Lot:
    """A new, empty lot with the next number of its day: B261125-02. Call inside a transaction."""
    number = next_number(letter or LETTERS[form], day)
    return Lot.objects.create(item=item, form=form, received_on=day, number=number, **facts)


def open_named_lot(item: Item, number: str, day: date, **facts) -> Lot:
    """A new, empty lot with a number that someone else gave it: written on the bottle, or by this
    house before it moved. Raises LedgerError when it is taken. Call inside a transaction."""
    try:
        with transaction.atomic():
            lot = Lot.objects.create(item=item, number=number, received_on=day, **facts)
    except IntegrityError as error:
        raise LedgerError(
            f"There is already a lot {number}. Give this one another number."
        ) from error
    if ours := re.fullmatch(
        r"(?P<prefix>[A-Z]{1,3}[0-9]{6})-(?P<count>[0-9]{1,6})", number, re.ASCII
    ):
        # Numbers of our own pattern are given out by counting on: this one must not come again.
        LotNumber.objects.get_or_create(prefix=ours["prefix"])
        counter = LotNumber.objects.select_for_update().get(prefix=ours["prefix"])
        counter.last = max(counter.last, int(ours["count"]))
        counter.save(update_fields=["last"])
    return lot
