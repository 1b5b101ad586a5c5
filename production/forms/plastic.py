"""Poured plastic in a form: what a cup holds, and how much of a leftover, trim or puck goes in."""

import re

from django import forms

from inventory import allocation, amounts, units
from inventory.models import Lot, Movement
from production import cup_reading
from production.forms.bench_amounts import MOST, Said, says_a_measure
from production.models import Batch, Bench
from production.services import batches

_ALL = re.compile(r"(all|everything|the (rest|lot)|rest)( of it)?", re.IGNORECASE)


def read(text: str) -> amounts.Amount:
    """A volume or a weight; a bare number is mL. Raises forms.ValidationError."""
    try:
        amount = amounts.parse(text, default_unit="mL")
    except amounts.AmountError as error:
        raise forms.ValidationError(str(error)) from error
    if units.kind(amount.unit) == "count" or amount.unit == "drop":
        raise forms.ValidationError("Say a volume or a weight: 60 mL, 55 g.")
    return amount


def base_in_cup(amount: amounts.Amount, batch: Batch, *, in_cup: bool, hot: bool) -> int:
    """Millionths of a mL of base in the colored plastic that was read or weighed.

    Raises forms.ValidationError that says how to mend the figure."""
    try:
        millilitres = cup_reading.cold_ml(
            amount,
            density_g_per_ml=batch.lot.item.density_g_per_ml,
            tare_g=batch.cup.tare_g if in_cup and batch.cup else None,
            hot_factor=Bench.ours().hot_factor if hot else None,
        )
    except units.UnitsError as error:
        raise forms.ValidationError(str(error)) from error
    _refuse_too_much(millilitres)
    return allocation.portion(units.to_micro(millilitres), batch.lot.made, batch.total)


def understand(text: str, lot: Lot, key: str = "") -> Said:
    """How much of a lot of poured plastic goes in: mL of the colored plastic, g, or “all of it”.

    `key`: the form's, so that the same press twice means the same “all”. Raises ValidationError."""
    said = " ".join(text.split())
    if _ALL.fullmatch(said):
        return Said(_whole(lot, key), said)
    try:
        amount = amounts.parse(said, default_unit="mL")
        millilitres = cup_reading.cold_ml(amount, density_g_per_ml=lot.item.density_g_per_ml)
    except (amounts.AmountError, units.UnitsError) as error:
        if says_a_measure(said):
            return Said(0, said, guessed=True)
        raise forms.ValidationError(f"{error} Or write: all of it.") from error
    _refuse_too_much(millilitres)
    return Said(batches.base_in(lot, units.to_micro(millilitres)), said)


def _whole(lot: Lot, key: str) -> int:
    drawn = Movement.objects.filter(entry__key=key, lot=lot, role=Movement.Role.DRAWN).first()
    return -drawn.quantity if drawn else lot.on_hand


def _refuse_too_much(millilitres) -> None:
    if millilitres > MOST:
        raise forms.ValidationError("That is more than 100 L. Check the point and the zeros.")
