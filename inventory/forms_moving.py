"""Forms for goods that change their place, or leave without being sold."""

from typing import Any

from django import forms

from inventory import at_place, units
from inventory import forms_base as base
from inventory.models import Item, Lot, Place
from inventory.services import giving, moving
from inventory.services.posting import LedgerError
from inventory.wording import quantity_text


def places_but(place_id: int | None):
    """Places to move to from there."""
    return Place.objects.exclude(pk=place_id)


def _typed(item: Item, millionths: int) -> int | str:
    """What a field starts with: a bare number of what is counted, else the amount with its unit."""
    return str(millionths // units.MICRO) if item.stock_unit == "each" else millionths


class PlaceField(forms.ModelChoiceField):
    """A place with its kind, so that nobody sends bags to a stall by mistake."""

    def label_from_instance(self, place: Place) -> str:
        return f"{place.name} ({place.get_kind_display()})"


class MoveLotForm(base.PostingForm):
    """A part of one lot, or the whole of what is free."""

    quantity = base.AmountField(label="How much")
    place = PlaceField(Place.objects.none(), label="To")
    note = forms.CharField(max_length=200, required=False)

    def __init__(self, *args, lot: Lot, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.lot = lot
        self.fields["quantity"].lot = lot
        self.fields["quantity"].item = lot.item
        self.initial.setdefault("quantity", _typed(lot.item, lot.available))
        self.fields["place"].queryset = places_but(lot.place_id)

    def facts(self) -> dict[str, Any]:
        data = self.cleaned_data
        return {
            "parts": [moving.Part(self.lot, data["quantity"].millionths)],
            "place": data["place"],
            "note": data["note"],
        }


class HeapsForm(base.PostingForm):
    """How much of each item goes along: a field for each, the oldest lots first."""

    def __init__(self, *args, heaps: list[at_place.Heap], **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.heaps = heaps
        for heap in heaps:
            field = base.AmountField(item=heap.item, label=heap.item.name, required=False)
            if heap.item.stock_unit == "each":
                field.widget.attrs["inputmode"] = "numeric"
            self.fields[self.name(heap.item)] = field

    def take_all(self) -> None:
        """Starts with all that is free."""
        for heap in self.heaps:
            self.initial.setdefault(self.name(heap.item), _typed(heap.item, heap.free))

    @staticmethod
    def name(item: Item) -> str:
        return f"item-{item.pk}"

    @property
    def rows(self) -> list[tuple[at_place.Heap, forms.BoundField]]:
        return [(heap, self[self.name(heap.item)]) for heap in self.heaps]

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        self.parts: list[moving.Part] = []
        for heap in self.heaps:
            name = self.name(heap.item)
            if typed := data.get(name):
                try:
                    self.parts += moving.parts_of(heap.item, typed.millionths, heap.lots)
                except LedgerError as error:
                    # The field's own label says of which item.
                    self.add_error(name, str(error).removeprefix(f"{heap.item.name}: "))
        if not self.errors and not self.parts:
            raise forms.ValidationError("Nothing was chosen. Write how much of what goes along.")
        return data

    def refuse(self, refused: moving.MoveRefused) -> None:
        """Puts the reasons of the ledger at the items they are about."""
        item_of = {lot.pk: heap.item for heap in self.heaps for lot in heap.lots}
        for pk, reason in refused.reasons.items():
            self.add_error(self.name(item_of[pk]), reason)


def move_or_errors(form: HeapsForm, **facts) -> bool:
    """Moves what the form says under its key; when it is refused the form says why, at each item."""

    def post(**posted):
        try:
            return moving.move(parts=form.parts, **posted)
        except moving.MoveRefused as refused:
            form.refuse(refused)
            raise LedgerError("Nothing was moved yet. Look at the amounts below.") from refused

    return base.post_or_errors(form, post, **facts) is not None


class GiveForm(base.PostingForm):
    """Some of an item that left without being sold, out of its lots in their order."""

    kind = forms.ChoiceField(
        label="What happened to it", choices=list(giving.KINDS.items()), widget=forms.RadioSelect
    )
    quantity = base.AmountField(label="How much")
    reason = forms.CharField(
        label="To whom, or what for",
        max_length=200,
        help_text="A prize for the club, a sample for a shop, a test in the pond.",
    )

    def __init__(self, *args, item: Item, lots: list[Lot], **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.item, self.lots = item, lots
        field = self.fields["quantity"]
        field.item = item
        if len(lots) == 1:
            field.lot = lots[0]
        if item.stock_unit == "each":
            self.initial.setdefault("quantity", "1")

    @property
    def free(self) -> str:
        return quantity_text(sum(lot.available for lot in self.lots), self.item.stock_unit)

    def clean_quantity(self) -> base.Typed:
        typed = self.cleaned_data["quantity"]
        try:
            self.parts = moving.parts_of(self.item, typed.millionths, self.lots)
        except LedgerError as error:
            raise forms.ValidationError(str(error).removeprefix(f"{self.item.name}: ")) from error
        return typed

    def facts(self) -> dict[str, Any]:
        data = self.cleaned_data
        return {
            "parts": self.parts,
            "kind": data["kind"],
            "reason": data["reason"],
            "said": data["quantity"].said,
        }
