"""Putting a batch's mix right afterwards: every line as it was said, to be overwritten, and what was forgotten."""

from django import forms

from inventory import forms_base, units
from inventory.models import Item, Lot
from inventory.wording import quantity_text
from production.forms import plastic
from production.forms.bench_amounts import Said, SaidField, understand
from production.models import Batch
from production.services import batches

EXTRAS = 2


class AmendForm(forms_base.PostingForm):
    """What the mix drew, line by line. A line that stays as it was keeps its exact quantity."""

    reason = forms.CharField(
        label="What was wrong", max_length=200, help_text="Both versions stay visible."
    )

    def __init__(self, *args, batch: Batch, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.parts_before = batches.parts_of(batch.entry)
        self.items = {
            str(item.pk): item
            for item in Item.objects.current()
            .filter(kind__in=[*Item.DOSED, Item.Kind.PLASTISOL])
            .prefetch_related("measures")
        }
        for number, part in enumerate(self.parts_before):
            self._line_field(number, part)
        choices = [("", "Nothing else"), *((pk, item.name) for pk, item in self.items.items())]
        for number in range(1, EXTRAS + 1):
            self.fields[f"extra_{number}"] = forms.ChoiceField(
                label="Forgotten", choices=choices, required=False
            )
            self.fields[f"extra_amount_{number}"] = forms.CharField(
                label="How much", max_length=60, required=False
            )

    def _line_field(self, number: int, part: batches.Part) -> None:
        unit = part.item.stock_unit
        shown = _shown(part)
        label = f"{part.item} · {part.lot.number}"
        help_text = f"Booked: {'≈ ' * part.estimated}{quantity_text(part.quantity, unit)}"
        if part.item.kind == Item.Kind.LEFTOVER:
            field = plastic.PlasticField(
                lot=part.lot,
                planned=part.quantity,
                drawn=part.quantity,
                label=label,
                initial=shown,
                help_text=f"{plastic.HOW_MUCH} {help_text} of base.",
            )
            sent = str(self.data.get(f"line_{number}", "")) if self.is_bound else shown
            if sent != shown:
                field.explain(sent)
            self.fields[f"line_{number}"] = field
        else:
            self.fields[f"line_{number}"] = SaidField(
                item=self.items.get(str(part.item.pk), part.item),
                lot=part.lot,
                label=label,
                initial=shown,
                known={shown: units.from_micro(part.quantity)},
                help_text=f"{help_text}.",
            )

    @property
    def line_fields(self) -> list:
        return [self[f"line_{number}"] for number in range(len(self.parts_before))]

    @property
    def extra_rows(self) -> list[tuple]:
        return [(self[f"extra_{n}"], self[f"extra_amount_{n}"]) for n in range(1, EXTRAS + 1)]

    def clean(self) -> dict:
        cleaned = super().clean()
        parts = [
            part
            for number, before in enumerate(self.parts_before)
            if (part := _line(before, cleaned.get(f"line_{number}")))
        ]
        parts += [part for n in range(1, EXTRAS + 1) if (part := self._extra(n, cleaned))]
        base = sum(part.quantity for part in parts if part.item.kind in batches.PLASTIC)
        if not self.errors and not base:
            self.add_error(None, "A batch needs some base. To take it back whole, undo its entry.")
        cleaned["parts"] = parts
        return cleaned

    def _extra(self, number: int, cleaned: dict) -> batches.Part | None:
        pk, text = cleaned.get(f"extra_{number}"), cleaned.get(f"extra_amount_{number}")
        if not pk and not text:
            return None
        if not pk:
            self.add_error(f"extra_{number}", "What was it? Choose it from the list.")
        elif not text:
            self.add_error(f"extra_amount_{number}", "How much of it? 3 drops, a pinch.")
        else:
            item = self.items[pk]
            lot = item.lots.in_stock().first_expiring_first().first()
            try:
                said = understand(text, item, lot)
                return _part(item, said, None if said.millionths else lot)
            except forms.ValidationError as error:
                self.add_error(f"extra_amount_{number}", error)
        return None


def _shown(part: batches.Part) -> str:
    """A line as it was said; poured plastic that nobody spoke of as one reads it off a cup."""
    if part.said:
        return part.said
    if part.item.kind == Item.Kind.LEFTOVER:
        return plastic.text_of(part.lot, part.quantity)
    return quantity_text(part.quantity, part.item.stock_unit)


def _line(before: batches.Part, said: Said | None) -> batches.Part | None:
    if not said:
        return None
    return before if said.said == _shown(before) else _part(before.item, said, before.lot)


def _part(item: Item, said: Said, lot: Lot | None) -> batches.Part:
    return batches.Part(item, said.millionths, lot, said=said.said, estimated=said.guessed)
