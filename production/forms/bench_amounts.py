"""An amount as the bench says it: kept in its own words even when it can't be converted (rule 7)."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from django import forms

from inventory import amounts, forms_base, measures, units
from inventory.models import Item, Lot
from inventory.wording import quantity_text

#: What one posting may hold of one thing, in its stock unit: more is a slip of the finger.
MOST = Decimal(100_000)
#: A dropper bottle's drop where nobody has measured it (common practice, no source).
USUAL_DROP_ML = Decimal("0.05")
_NUMBER_FIRST = re.compile(r"(?P<number>[^a-z#µ]*)(?P<words>[a-z].*)", re.IGNORECASE)


@dataclass(frozen=True)
class Said:
    """What was typed, and the millionths of the stock unit it was taken for. `guessed` is ≈: an
    estimate, or zero when there is no figure at all to go by."""

    millionths: int
    said: str
    guessed: bool = False


def understand(
    text: str, item: Item, lot: Lot | None = None, known: Mapping[str, Decimal] | None = None
) -> Said:
    """What `text` says of the item. `known` maps texts offered by the page to stock units.

    Raises forms.ValidationError only for what is no amount at all: NaN, 1e309, a minus, a comma."""
    said = " ".join(text.split())
    if known and said in known:
        return Said(units.to_micro(known[said]), said)
    parts = [_part(part, item, lot) for part in said.split(" + ")]
    return Said(sum(p.millionths for p in parts), said, any(p.guessed for p in parts))


def _part(text: str, item: Item, lot: Lot | None) -> Said:
    """One of the measures in “1 tsp + 2 × ¼ tsp”."""
    times, _, said = text.rpartition("×")
    if times:
        one = _part(said.strip(), item, lot)
        return Said(_whole(times) * one.millionths, text, one.guessed)
    try:
        amount = amounts.parse(text, default_unit=item.stock_unit)
    except amounts.AmountError as error:
        if (held := _held(text, item)) is not None:
            return Said(held, text, guessed=True)
        if says_a_measure(text):
            return Said(0, text, guessed=True)
        raise forms.ValidationError(str(error)) from error
    return _in_stock(amount, item, lot)


def _held(text: str, item: Item) -> int | None:
    """Millionths, when it is said in one of the item's own measures."""
    try:
        held = measures.read(text, item)
    except units.UnitsError as error:
        raise forms.ValidationError(str(error)) from error
    if held is not None and held > units.to_micro(MOST):
        raise forms.ValidationError(_too_much(units.from_micro(held), item))
    return held


def _too_much(quantity: Decimal, item: Item) -> str:
    return f"That is {amounts.show(quantity, item.stock_unit)}. Check the point and the zeros."


def _whole(text: str) -> int:
    if not re.fullmatch("[0-9]{1,3}", text.strip()):
        raise forms.ValidationError("Write how many times as a whole number: 2 × ¼ tsp.")
    return int(text)


def _in_stock(amount: amounts.Amount, item: Item, lot: Lot | None) -> Said:
    facts, guessed = item.facts(lot), False
    if amount.unit == "drop" and facts["ml_per_drop"] is None:
        facts["ml_per_drop"], guessed = USUAL_DROP_ML, True
    try:
        quantity = units.convert(amount.value, amount.unit, item.stock_unit, **facts)
    except units.UnitsError:
        return Said(0, amount.said, guessed=bool(amount.value))
    if quantity > MOST:
        raise forms.ValidationError(_too_much(quantity, item))
    if item.stock_unit == "each" and quantity % 1:
        raise forms.ValidationError(f"{item.name} is counted: write a whole number.")
    return Said(units.to_micro(quantity), amount.said, guessed)


def says_a_measure(said: str) -> bool:
    """Whether it reads as a number (or none) and a measure of somebody's own: 2 pinches, a squirt."""
    parts = _NUMBER_FIRST.fullmatch(said)
    if not parts or re.fullmatch(r"(nan|inf|infinity)", parts["words"], re.IGNORECASE):
        return False
    if re.match(r"e[-+]?[0-9]", parts["words"], re.IGNORECASE):
        return False
    number = parts["number"].strip()
    if not number:
        return True
    try:
        amounts.number(number)
    except amounts.AmountError:
        return False
    return True


class SaidField(forms.CharField):
    """Text → `Said`, or None when left empty.

    `estimate`: millionths that stand in, marked ≈, for words without any figure to go by."""

    def __init__(
        self,
        *,
        item: Item,
        lot: Lot | None = None,
        known: Mapping[str, Decimal] | None = None,
        estimate: int = 0,
        **kwargs,
    ) -> None:
        self.item, self.lot, self.known, self.estimate = item, lot, known, estimate
        super().__init__(max_length=60, required=kwargs.pop("required", False), **kwargs)
        self.widget.attrs.setdefault("autocomplete", "off")
        self.widget.attrs.pop("maxlength", None)

    def clean(self, value):
        text = super().clean(value)
        if not text:
            return None
        said = understand(text, self.item, self.lot, self.known)
        if said.guessed and not said.millionths:
            return Said(self.estimate, said.said, guessed=True)
        return said


class LotField(forms.TypedChoiceField):
    """A choice of lots → the lot; empty (None) draws the first expiring first."""

    def __init__(self, lots, *, empty_label: str = "First expiring first", label_of=None, **kwargs):
        kept = {str(lot.pk): lot for lot in lots}
        say = label_of or lot_text
        super().__init__(
            choices=[("", empty_label), *((pk, say(lot)) for pk, lot in kept.items())],
            coerce=kept.__getitem__,
            empty_value=None,
            required=kwargs.pop("required", False),
            **kwargs,
        )


def lot_text(lot: Lot) -> str:
    """A lot as a choice: its number and what is left in it."""
    left = quantity_text(lot.on_hand, lot.item.stock_unit)
    thinned = "" if lot.strength == 1 else f" · strength {forms_base.number_text(lot.strength)}"
    held = " · on hold" if lot.held else ""
    return f"{lot.number} · {left} left{thinned}{held}"
