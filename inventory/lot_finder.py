"""Lots by the code on their label: ours, or the one a supplier wrote."""

from collections.abc import Sequence

from django.db.models import F, Q, Value
from django.db.models.functions import Replace, Upper

from inventory import lot_codes
from inventory.models import Lot

#: So many are offered; a supplier's lot number may stand on many bottles.
MOST = 50


def by_code(text: str) -> Sequence[Lot]:
    """The lots whose label says this, those on hand first; moved parts of a lot carry its code too.

    As written; else with look-alike letters set right; else by the supplier's own number."""
    pk = lot_codes.lot_of_address(text)
    if pk is not None:
        return _found(Q(pk=pk))
    as_typed = text.strip()
    meant = lot_codes.reading(text)
    for code in dict.fromkeys(filter(None, (as_typed, as_typed.upper(), meant))):
        if found := _found(Q(number=code) | Q(number__startswith=f"{code}{Lot.MOVED}")):
            return found
    folded = lot_codes.folded(text)
    return _found(Q(folded=folded) | Q(folded_theirs=folded), folding=True) if folded else []


def _found(which: Q, folding: bool = False) -> list[Lot]:
    lots = Lot.objects.select_related("item", "place")
    if folding:
        lots = lots.annotate(folded=_folded("number"), folded_theirs=_folded("supplier_lot"))
    return list(lots.filter(which).order_by(F("on_hand").desc(), "pk")[:MOST])


def _folded(name: str):
    """The column as `lot_codes.folded` writes it, for the dashes and spaces that are typed."""
    without_spaces = Replace(F(name), Value(" "), Value(""))
    return Upper(Replace(without_spaces, Value("-"), Value("")))
