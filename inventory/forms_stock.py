"""Forms that move stock: receiving, counting, throwing away, undoing."""

from datetime import date
from typing import Any

from django import forms
from django.utils import timezone

from inventory import forms_base as base
from inventory import units
from inventory.models import Item, Lot, Pack, Place, Supplier
from inventory.services import receiving

#: Millionths of the currency unit in one cent.
CENT = units.MICRO // 100
#: The largest price that a money field takes, in cents.
MOST_PAID = 1_000_000_000 * 100


class ReceiveForm(base.PostingForm):
    """One lot that came in. Either so many packs, or an amount."""

    pack = forms.ModelChoiceField(
        Pack.objects.none(), required=False, empty_label="no pack: an amount"
    )
    packs = base.NumberField(
        label="Number of packs", whole=True, at_least=1, at_most=10_000, required=False
    )
    amount = base.AmountField(
        required=False, help_text="If it came in no pack: 1 qt, 12 fl oz, 250 g."
    )
    paid = base.MoneyField(
        label="Price paid, in all",
        required=False,
        help_text="Empty: the packs' listed price. With no pack the cost stays unknown.",
    )
    supplier = forms.ModelChoiceField(
        Supplier.objects.none(), required=False, empty_label="the pack's, or none"
    )
    supplier_lot = forms.CharField(
        label="Supplier's lot", max_length=60, required=False, help_text="As printed on the label."
    )
    expires_on = base.DayField(label="Expires", required=False)
    place = forms.ModelChoiceField(
        Place.objects.none(), required=False, empty_label="the item's usual place"
    )
    received_on = base.DayField(label="Received", required=False, help_text="Empty: today.")
    note = forms.CharField(max_length=300, required=False)

    def __init__(self, *args, item: Item, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.item = item
        packs = item.packs.select_related("supplier")
        if packs:
            self.fields["pack"].queryset = packs
        else:
            del self.fields["pack"], self.fields["packs"]
            self.fields["amount"].required = True
            self.fields["paid"].help_text = "Empty: the cost stays unknown."
        self.fields["amount"].item = item
        self.fields["supplier"].queryset = Supplier.objects.all()
        self.fields["place"].queryset = Place.objects.all()
        if proposed := receiving.proposed_expiry(item, timezone.localdate()):
            self.initial.setdefault("expires_on", proposed)
            self.fields[
                "expires_on"
            ].help_text = f"Proposed: it keeps for {item.shelf_life_days} days. The label rules."

    def clean_received_on(self):
        day = self.cleaned_data["received_on"]
        if day and day > timezone.localdate():
            raise forms.ValidationError("Goods can't be received in the future. Mend the day.")
        return day

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        pack, packs, amount = data.get("pack"), data.get("packs"), data.get("amount")
        if self.errors or "pack" not in self.fields:
            return data
        if pack and amount:
            self.add_error("amount", "Give packs or an amount, not both.")
        elif pack and not packs:
            self.add_error("packs", "How many packs came?")
        elif packs and not pack:
            self.add_error("pack", "Choose the pack, or give an amount instead.")
        elif not pack and not amount:
            self.add_error("amount", "Say how much came: packs or an amount.")
        elif pack and pack.quantity * packs > units.LARGEST * units.MICRO:
            self.add_error("packs", "That is more than can be kept. Check the number.")
        elif pack and data.get("paid") is None and pack.price_minor * packs > MOST_PAID:
            self.add_error("packs", "That would cost more than can be kept. Check the number.")
        return data

    def arrival(self) -> receiving.Arrival:
        data = self.cleaned_data
        pack, packs, amount = data.get("pack"), data.get("packs"), data["amount"]
        paid = data["paid"]
        if paid is None and pack:
            paid = pack.price_minor * packs
        return receiving.Arrival(
            item=self.item,
            quantity=pack.quantity * packs if pack else amount.millionths,
            cost=None if paid is None else paid * CENT,
            supplier=data["supplier"] or (pack.supplier if pack else None),
            supplier_lot=data["supplier_lot"],
            expires_on=self._expiry(data["expires_on"], data["received_on"]),
            place=data["place"],
            said=f"{packs} × {pack.name}"[:60] if pack else amount.said,
            estimated=not pack and amount.estimated,
        )

    def _expiry(self, typed: date | None, received_on: date | None) -> date | None:
        """A proposal that was left as it stood moves along with the day of receipt."""
        if received_on and typed and typed == self.initial.get("expires_on"):
            return receiving.proposed_expiry(self.item, received_on)
        return typed


class UndoForm(base.PostingForm):
    note = forms.CharField(label="Why", max_length=200, required=False)


def measure(lot: Lot) -> str:
    """The unit a lot counts in; poured plastic counts the base it holds, additions left out."""
    return "mL of base" if lot.item.kind == Item.Kind.LEFTOVER else lot.item.stock_unit
