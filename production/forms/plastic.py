"""Poured plastic in a form: what a cup holds, and how much of a leftover, trim or puck goes in."""

import re

from django import forms

from inventory import allocation, amounts, units
from inventory.models import Lot, Movement
from inventory.wording import quantity_text
from production import cup_reading
from production.forms.bench_amounts import MOST, Said, says_a_measure
from production.models import Batch, Bench
from production.services import batches

#: What a person may write wherever poured plastic goes in.
HOW_MUCH = "Of the colored plastic: mL as the cup shows them, a weight, or: all of it."

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


def understand(text: str, lot: Lot, key: str = "", *, drawn: int = 0) -> Said:
    """How much of a lot of poured plastic goes in: mL of the colored plastic, g, or “all of it”.

    `key`: the form's, so that the same press twice means the same “all”. `drawn`: millionths that are
    put back before they are taken again. Raises ValidationError."""
    said = " ".join(text.split())
    if _ALL.fullmatch(said):
        return Said(_whole(lot, key) + drawn, said)
    try:
        amount = amounts.parse(said, default_unit="mL")
        millilitres = cup_reading.cold_ml(amount, density_g_per_ml=lot.item.density_g_per_ml)
    except (amounts.AmountError, units.UnitsError) as error:
        if says_a_measure(said):
            return Said(0, said, guessed=True)
        raise forms.ValidationError(f"{error} Or write: all of it.") from error
    _refuse_too_much(millilitres)
    return Said(batches.base_in(lot, units.to_micro(millilitres)), said)


def text_of(lot: Lot, base: int) -> str:
    """So much base out of a lot, as one reads the colored plastic off the cup; it can be typed back."""
    return quantity_text(batches.plastic_of(lot, base), "mL").replace(",", "")


def understood(said: Said | None) -> str:
    """What words about poured plastic were taken for, in base; "" where there is nothing to say."""
    if said is None:
        return ""
    return f"Understood: {'≈ ' * said.guessed}{quantity_text(said.millionths, 'mL')} of base."


class PlasticField(forms.CharField):
    """How much of one lot of poured plastic goes in → `Said` in base, or None when left empty.

    `planned`: millionths of a mL of base. They are filled in as colored plastic, their text means just
    them, and they stand in, marked ≈, for words without a figure. `drawn`: what an entry that is being
    amended took of the lot, which “all of it” takes again."""

    def __init__(
        self, *, lot: Lot, planned: int = 0, drawn: int = 0, key: str = "", **kwargs
    ) -> None:
        self.lot, self.planned, self.drawn, self.key = lot, planned, drawn, key
        kwargs.setdefault("initial", text_of(lot, planned))
        kwargs.setdefault("help_text", HOW_MUCH)
        super().__init__(max_length=60, required=False, **kwargs)
        self.widget.attrs.setdefault("autocomplete", "off")
        self.widget.attrs.pop("maxlength", None)

    def explain(self, text: str) -> None:
        """Says in the hint what the text on the page is taken for."""
        try:
            told = understood(self.read(text))
        except forms.ValidationError:
            return
        self.help_text = f"{self.help_text} {told}".strip()

    def clean(self, value):
        return self.read(super().clean(value))

    def read(self, text: str) -> Said | None:
        """Raises forms.ValidationError."""
        text = " ".join(text.split())
        if not text:
            return None
        if text == self.initial:
            return Said(self.planned, text)
        said = understand(text, self.lot, self.key, drawn=self.drawn)
        return Said(self.planned, said.said, guessed=True) if said.guessed else said


def _whole(lot: Lot, key: str) -> int:
    drawn = Movement.objects.filter(entry__key=key, lot=lot, role=Movement.Role.DRAWN).first()
    return -drawn.quantity if drawn else lot.on_hand


def _refuse_too_much(millilitres) -> None:
    if millilitres > MOST:
        raise forms.ValidationError("That is more than 100 L. Check the point and the zeros.")
