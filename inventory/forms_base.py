"""What every form that posts or takes figures is made of.

Figures are read as people write them (inventory/amounts.py); what is wrong is said at the field, in
words that tell how to write it instead.
"""

import uuid
from collections.abc import Callable
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from django import forms

from inventory import amounts, measures, units
from inventory.models import Entry, Item, Lot
from inventory.services.posting import KeyReused, LedgerError
from inventory.wording import quantity_text


def new_key() -> str:
    """A one-time key for a form that is about to be shown."""
    return uuid.uuid4().hex


@dataclass(frozen=True)
class Typed:
    """An amount as understood: millionths of `unit` (a stock unit), and the words it was typed in.

    `estimated`: said in a measure of the hand, so it is only about right."""

    millionths: int
    unit: str
    said: str
    estimated: bool = False

    def __str__(self) -> str:
        """More figures than elsewhere: this is to be compared with what was meant."""
        if self.unit == "each":
            text = quantity_text(self.millionths, self.unit)
        else:
            text = amounts.show(units.from_micro(self.millionths), self.unit)
        return f"≈ {text}" if self.estimated else text

    @property
    def beside(self) -> str:
        """The other system's reading, rounded, where the stock unit was typed; else ""."""
        try:
            typed = amounts.parse(self.said, default_unit=self.unit).unit
        except amounts.AmountError:
            return ""
        if typed != self.unit:
            return ""
        return amounts.other_system(units.from_micro(self.millionths), self.unit)


class NumberField(forms.CharField):
    """A number as text → Decimal; ½ and 1 1/2 are read too.

    Refuses NaN, infinity, 1e309, comma decimals and, unless `at_least` is below zero, minus signs.
    `whole` gives an int. `places`: most decimals."""

    def __init__(
        self,
        *,
        at_least: Decimal | int = 0,
        at_most: Decimal | int | None = None,
        places: int | None = None,
        whole: bool = False,
        **kwargs,
    ) -> None:
        self.at_least, self.at_most = at_least, at_most
        self.places, self.whole = places, whole
        kwargs.setdefault("max_length", 60)
        super().__init__(**kwargs)
        self.widget.attrs.setdefault("inputmode", "numeric" if whole else "decimal")
        self.widget.attrs.setdefault("autocomplete", "off")
        self.widget.attrs.pop("maxlength", None)

    def prepare_value(self, value):
        return number_text(value) if isinstance(value, Decimal) else value

    def clean(self, value):
        text = super().clean(value)
        if not text:
            return None
        try:
            number = amounts.number(text, allow_negative=self.at_least < 0)
        except amounts.AmountError as error:
            raise forms.ValidationError(str(error)) from error
        self._check(number)
        return int(number) if self.whole else number

    def _check(self, number: Decimal) -> None:
        if number < self.at_least:
            raise forms.ValidationError(f"This must be at least {number_text(self.at_least)}.")
        if self.at_most is not None and number > self.at_most:
            raise forms.ValidationError(f"This can be at most {self.at_most:,}.")
        if self.whole and number != int(number):
            raise forms.ValidationError("Write a whole number.")
        if self.places is not None and number != round(number, self.places):
            raise forms.ValidationError(f"Write at most {self.places} decimals.")


class MoneyField(NumberField):
    """Money as text → int in the currency's minor unit (cents). A leading currency sign is allowed."""

    def __init__(self, **kwargs) -> None:
        kwargs.setdefault("at_most", 1_000_000_000)
        super().__init__(places=2, **kwargs)

    def prepare_value(self, value):
        return f"{Decimal(value) / 100:.2f}" if isinstance(value, int) else value

    def clean(self, value):
        number = super().clean(str(value or "").strip().lstrip("$€£ "))
        if number is None:
            return None
        return int((number * 100).quantize(Decimal(1), rounding=ROUND_HALF_UP))


class AmountField(forms.CharField):
    """An amount in any unit the item can convert → Typed; a bare number counts in its stock unit.

    The item's own measures (2 pinches) are read too, unless `exact` asks for what a scale or a ruler
    says. The item may be set later (`field.item = …`, also `field.lot` for a lot's own drop size).
    Without one the amount is returned as `amounts.Amount`, for `in_stock_unit` once the item is known."""

    def __init__(
        self,
        *,
        item: Item | None = None,
        lot: Lot | None = None,
        allow_zero: bool = False,
        exact: bool = False,
        **kwargs,
    ) -> None:
        self.item, self.lot = item, lot
        self.allow_zero, self.exact = allow_zero, exact
        kwargs.setdefault("max_length", 60)
        super().__init__(**kwargs)
        self.widget.attrs.setdefault("autocomplete", "off")
        self.widget.attrs.pop("maxlength", None)

    def prepare_value(self, value):
        if isinstance(value, int) and self.item:
            return f"{number_text(units.from_micro(value))} {self.item.stock_unit}"
        return value

    def clean(self, value):
        text = super().clean(value)
        if not text:
            return None
        item = self.lot.item if self.lot and not self.item else self.item
        try:
            amount = self._read(text, item)
            zero = not (amount.millionths if isinstance(amount, Typed) else amount.value)
            if zero and not self.allow_zero:
                raise amounts.AmountError("The amount must be more than zero.")
            if item is None or isinstance(amount, Typed):
                return amount
            return in_stock_unit(amount, item, self.lot)
        except (amounts.AmountError, units.UnitsError) as error:
            raise forms.ValidationError(str(error)) from error

    def _read(self, text: str, item: Item | None) -> amounts.Amount | Typed:
        try:
            return amounts.parse(text, default_unit=item.stock_unit if item else "")
        except amounts.AmountError:
            held = measures.read(text, item) if item else None
            if held is None:
                raise
        if self.exact:
            raise amounts.AmountError("That is an estimate. Weigh or measure it here.")
        return Typed(held, item.stock_unit, " ".join(text.split()), estimated=True)


def in_stock_unit(amount: amounts.Amount, item: Item, lot: Lot | None = None) -> Typed:
    """The amount in the item's stock unit; a UnitsError names the figure missing or what is too small."""
    millionths = item.to_stock(amount.value, amount.unit or item.stock_unit, lot)
    if amount.value and not millionths:
        raise units.UnitsError("This is too little to keep: less than a millionth.")
    if item.stock_unit == "each" and millionths % units.MICRO:
        raise units.UnitsError(f"{item.name} is counted: write a whole number.")
    return Typed(millionths, item.stock_unit, amount.said)


def number_text(value: Decimal | int) -> str:
    """A number as one would type it: no trailing zeros, no exponent, no grouping."""
    text = f"{Decimal(value):f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


class DayField(forms.DateField):
    """A calendar day, with the browser's own picker."""

    def __init__(self, **kwargs) -> None:
        kwargs.setdefault("widget", forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}))
        kwargs.setdefault(
            "error_messages", {"invalid": "Write the day as year-month-day: 2026-11-25."}
        )
        super().__init__(**kwargs)


class PlainForm(forms.Form):
    """A form that, shown again, says beside each amount what it understood, and can ask “yes, really?”."""

    def full_clean(self) -> None:
        super().full_clean()
        for name, value in getattr(self, "cleaned_data", {}).items():
            if isinstance(value, Typed) and name in self.fields and value.said:
                beside = f", ≈ {value.beside}" if value.beside else ""
                self[name].help_text = f"Understood: {value}{beside}."

    def question(self, text: str, *, at: str | None = None) -> bool:
        """Whether “yes, really” was ticked. If not, the form becomes invalid and asks: `text`, at the
        field named, and a box.

        Call it while cleaning, or before `post_or_errors`."""
        answered = bool(self.data.get(self.add_prefix("really")))
        self.fields["really"] = forms.BooleanField(required=False, label="Yes, really")
        if not answered:
            self.add_error(at, text)
        return answered


class PostingForm(PlainForm):
    """A form that posts an event once: it carries the one-time key."""

    key = forms.RegexField(r"^[A-Za-z0-9_-]{1,50}$", widget=forms.HiddenInput)

    def __init__(self, *args, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.initial.setdefault("key", new_key())

    def full_clean(self) -> None:
        super().full_clean()
        if self.is_bound and self._errors and "key" in self._errors:
            del self._errors["key"]
            self.add_error(None, "This form had lost its one-time key. Please send it again.")
            self.fresh_key()

    def fresh_key(self) -> None:
        """Puts a new key into the form about to be shown again."""
        self.data = self.data.copy()
        self.data[self.add_prefix("key")] = new_key()


def post_or_errors(form: PostingForm, service: Callable[..., Entry], **facts) -> Entry | None:
    """Posts under the form's key: `service(key=…, **facts)`. None when it was refused: the form then
    holds the reason, and a fresh key where its old one was spent on other content."""
    try:
        return service(key=form.cleaned_data["key"], **facts)
    except KeyReused as error:
        form.add_error(None, str(error))
        form.fresh_key()
    except LedgerError as error:
        form.add_error(None, str(error))
    return None


def save_or_errors(form: forms.Form, service: Callable[..., Any], *args, **facts) -> Any | None:
    """Calls a service that writes master data; None when it refused: its reasons are then at the
    fields they name, or at the head of the form where it has no such field."""
    try:
        return service(*args, **facts)
    except forms.ValidationError as error:
        for name, reasons in error.message_dict.items():
            form.add_error(name if name in form.fields else None, reasons)
    return None
