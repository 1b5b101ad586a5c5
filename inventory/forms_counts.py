"""The form of a count: one line for each lot, in which one types what one sees."""

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from django import forms
from django.utils import timezone
from django.utils.dateparse import parse_datetime

from inventory import amounts, counting, forms_stock, queries, reasons, sighting, units
from inventory import forms_base as base
from inventory.models import Lot
from inventory.services import counts

#: The choice that keeps the figure of the books, where the eye reads no finer.
AGREES = "agrees"


class SightForm(base.PlainForm):
    """What was seen of one lot. An empty line is valid: the lot was not counted."""

    use_required_attribute = False

    counted = forms.CharField(label="What you see", max_length=80, required=False)
    pack = forms.ChoiceField(label="Part of which pack?", required=False)
    reason = forms.ChoiceField(label="Why it differs", required=False)
    words = forms.CharField(label="In your own words", max_length=200, required=False)
    #: What the last look made of it: other figures need another look.
    seen = forms.CharField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args, subject: counting.Subject, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.subject, self.lot = subject, subject.lot
        self.sight: sighting.Sight | None = None
        self.which: list[sighting.Pack] = []
        self.fields["pack"].choices = [
            ("", "choose a pack"),
            *((pack.key, pack.name) for pack in subject.packs),
        ]
        self.fields["reason"].choices = [(AGREES, ""), *reasons.COUNTED]
        field = self.fields["counted"]
        field.widget.attrs["autocomplete"] = "off"
        field.widget.attrs.pop("maxlength", None)
        field.help_text = _example(subject)

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        text = data.get("counted", "")
        if not text or "pack" not in data:
            return data
        try:
            self.sight = sighting.read(
                text,
                stock_unit=self.lot.item.stock_unit,
                facts=counting.facts(self.lot),
                packs=self.subject.packs,
                chosen=data["pack"] or self.subject.likely,
            )
            data["counted"] = base.Typed(self._millionths(), self.lot.item.stock_unit, text)
        except sighting.WhichPack as question:
            self.which = list(question.packs)
            self.add_error("pack", str(question))
        except (amounts.AmountError, units.UnitsError) as error:
            self.add_error("counted", self._mend(str(error)))
        if data.get("reason") == reasons.OTHER and not data.get("words") and self.difference:
            self.add_error("words", "Say what it was.")
        return data

    def _millionths(self) -> int:
        seen = self.sight.quantity
        if self.lot.item.stock_unit != "each":
            return units.to_micro(seen)
        if self.sight.rough:
            seen = seen.to_integral_value()
        elif seen % 1:
            raise amounts.AmountError(f"{self.lot.item.name} is counted: write a whole number.")
        return units.to_micro(seen)

    def _mend(self, text: str) -> str:
        if self.lot.strength != 1 and "density" in text:
            return "This bottle is thinned, so its weight tells no volume. Say mL, or ½ bottle."
        return text

    def full_clean(self) -> None:
        super().full_clean()
        if self.is_bound and self.millionths is not None:
            self["counted"].help_text = f"Understood: {self.understood}."
            self.fields["reason"].choices = self._reasons()
        if self.asks_pack and not self["pack"].data:
            self.data = self.data.copy()
            self.data[self.add_prefix("pack")] = self.sight.pack.key if self.sight else ""

    def _reasons(self) -> list[tuple[str, str]]:
        if not self.close:
            return list(reasons.COUNTED)
        return [(AGREES, "no difference: the eye reads no finer"), *reasons.COUNTED]

    @property
    def millionths(self) -> int | None:
        """What was understood; None where nothing was typed or it was not understood."""
        typed = self.cleaned_data.get("counted")
        return typed.millionths if isinstance(typed, base.Typed) else None

    @property
    def understood(self) -> str:
        of = f", as part of {self.sight.pack.name}" if self.sight.pack else ""
        return f"{self.cleaned_data['counted']}{of}"

    @property
    def difference(self) -> int | None:
        """Seen less books, in millionths."""
        return None if self.millionths is None else self.millionths - self.subject.books

    @property
    def close(self) -> bool:
        """Whether the difference is finer than the eye reads a level."""
        return bool(self.difference) and abs(self.difference) <= units.to_micro(self.sight.rough)

    @property
    def asks_pack(self) -> bool:
        """Whether the pack it is a part of could be another size."""
        if self.which or "pack" in self.errors:
            return True
        sizes = {pack.quantity for pack in self.subject.packs}
        return bool(self.sight and self.sight.pack and len(sizes) > 1)

    @property
    def looked_at(self) -> bool:
        """Whether the figure is the one that was shown at the last look."""
        return self.cleaned_data.get("seen") == str(self.millionths)

    def outcome(self) -> counts.Seen:
        """What `counts.count_round` takes, of a line in which something was understood."""
        data = self.cleaned_data
        agrees = data["reason"] == AGREES
        note = reasons.note("" if agrees else data["reason"], data["words"])
        if not self.difference or (agrees and self.close):
            note = ""
        if self.sight.pack:
            note = f"{note} (seen: {data['counted'].said})".strip()
        return counts.Seen(self.lot, None if agrees and self.close else self.millionths, note)


class RoundForm(base.PostingForm):
    """A round: its lots, and the one moment as of which they were counted."""

    counted_at = forms.DateTimeField(
        label="Counted at",
        required=False,
        widget=forms.DateTimeInput(format="%Y-%m-%dT%H:%M", attrs={"type": "datetime-local"}),
        help_text="Empty: now. What was used after this time still counts.",
        error_messages={"invalid": "Write day and time: 2026-11-25 19:30."},
    )
    #: When the figures were looked over: the “now” that an empty time means.
    now = forms.CharField(widget=forms.HiddenInput, required=False)

    def __init__(
        self,
        data: Mapping[str, Any] | None,
        *,
        lots: Iterable[Lot],
        typed: Mapping[str, Any] | None = None,
    ) -> None:
        """`typed`: what was typed so far, to be shown again without judging it."""
        start = (
            {name: typed[name] for name in ("key", "counted_at") if typed.get(name)}
            if typed
            else {}
        )
        super().__init__(data, initial=start)
        self.rows = [
            SightForm(data, prefix=f"lot-{one.lot.pk}", subject=one, initial=_row(one, typed))
            for one in counting.subjects(lots)
        ]

    def clean_counted_at(self) -> datetime | None:
        when = self.cleaned_data["counted_at"]
        if when and when > timezone.now():
            raise forms.ValidationError(
                "A count can't lie in the future. Mend the time it was counted."
            )
        return when

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        self.when = data.get("counted_at") or self._looked_over()
        self._set_books()
        # Every line is read, so that all that is wrong shows at once.
        valid = [row.is_valid() for row in self.rows]
        if all(valid) and not self.filled:
            self.add_error(None, "Nothing was counted yet. Write what you see of at least one lot.")
        return data

    def _looked_over(self) -> datetime:
        try:
            when = parse_datetime(self.cleaned_data.get("now", ""))
        except ValueError:
            when = None
        now = timezone.now()
        return when if when and timezone.is_aware(when) and when <= now else now

    def _set_books(self) -> None:
        books = queries.on_hand_then([row.lot for row in self.rows], self.when)
        for row in self.rows:
            row.subject.books = books[row.lot.pk]

    def is_valid(self) -> bool:
        return super().is_valid() and not self.has_row_errors

    @property
    def has_row_errors(self) -> bool:
        return self.is_bound and any(row.errors for row in self.rows)

    @property
    def filled(self) -> list[SightForm]:
        return [row for row in self.rows if row.is_bound and row.millionths is not None]

    @property
    def looked_over(self) -> bool:
        """Whether every figure is the one that was last shown."""
        return all(row.looked_at for row in self.filled)

    def remember(self) -> None:
        """Puts what was understood into the form about to be shown."""
        self.data = self.data.copy()
        self.data["now"] = self.when.isoformat()
        for row in self.rows:
            row.data = row.data.copy()
            row.data[row.add_prefix("seen")] = str(row.millionths)

    def mark(self, refused: Mapping[int, str]) -> None:
        """Puts a refusal beside each lot that it is about."""
        for row in self.rows:
            if text := refused.get(row.lot.pk):
                row.add_error(None, text)

    def facts(self) -> dict[str, Any]:
        """What `counts.count_round` takes."""
        return {"seen": [row.outcome() for row in self.filled], "counted_at": self.when}


class WasteForm(base.PostingForm):
    amount = base.AmountField(label="Thrown away")
    reason = forms.ChoiceField(
        label="Why", choices=reasons.WASTED, error_messages={"required": "Choose why."}
    )
    words = forms.CharField(label="In your own words", max_length=200, required=False)

    def __init__(self, *args, lot: Lot, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.lot = lot
        self.fields["amount"].item, self.fields["amount"].lot = lot.item, lot
        unit = forms_stock.measure(lot)
        self.fields["amount"].help_text = f"In {unit} or a unit that turns into it."

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if data.get("reason") == reasons.OTHER and not data.get("words"):
            self.add_error("words", "Say what it was.")
        return data

    def facts(self) -> dict[str, Any]:
        """What `counts.waste` takes."""
        data = self.cleaned_data
        return {
            "quantity": data["amount"].millionths,
            "said": data["amount"].said,
            "estimated": data["amount"].estimated,
            "reason": reasons.note(data["reason"], data["words"]),
        }


def _row(subject: counting.Subject, typed: Mapping[str, Any] | None) -> dict[str, Any]:
    names = ("counted", "pack", "reason", "words")
    prefix = f"lot-{subject.lot.pk}-"
    return {name: typed.get(prefix + name, "") for name in names} if typed else {}


def _example(subject: counting.Subject) -> str:
    unit = forms_stock.measure(subject.lot)
    if unit == "each":
        return "How many, or ½ pack." if subject.packs else "How many."
    nouns = sorted(noun for pack in subject.packs for noun in pack.nouns)
    return f"¾ {nouns[0]}, or in {unit}." if nouns else f"In {unit}, or a unit that turns into it."
