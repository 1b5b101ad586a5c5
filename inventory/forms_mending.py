"""The form that mends what was written down when a lot came in."""

from typing import Any

from django import forms

from inventory import forms_base as base
from inventory import units
from inventory.forms_stock import CENT
from inventory.models import Lot, Movement, Place, Supplier


class MendReceiptForm(base.PostingForm):
    """What came, what it cost and where it lies, as it should have been written."""

    amount = base.AmountField(label="How much came")
    paid = base.MoneyField(
        label="Price paid, in all", required=False, help_text="Empty: the cost is unknown."
    )
    supplier = forms.ModelChoiceField(Supplier.objects.none(), required=False, empty_label="none")
    supplier_lot = forms.CharField(label="Supplier's lot", max_length=60, required=False)
    expires_on = base.DayField(label="Expires", required=False)
    place = forms.ModelChoiceField(Place.objects.none(), required=False, empty_label="none")
    note = forms.CharField(label="Why", max_length=200, required=False)

    FACTS = ("supplier", "supplier_lot", "expires_on", "place")

    def __init__(self, *args, lot: Lot, receipt: Movement, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.lot, self.receipt = lot, receipt
        amount = self.fields["amount"]
        amount.item, amount.lot = lot.item, lot
        self.fields["supplier"].queryset = Supplier.objects.all()
        self.fields["place"].queryset = Place.objects.all()
        self.initial |= {name: getattr(lot, name) for name in self.FACTS}
        self.initial |= {"amount": receipt.quantity, "paid": self._paid()}

    def _paid(self) -> int | None:
        cost = self.receipt.cost
        return None if cost is None else round(cost / CENT)

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        amount = data.get("amount")
        if amount and amount.millionths > 10 * self.receipt.quantity:
            known = base.Typed(self.receipt.quantity, self.lot.item.stock_unit, "")
            self.question(f"{amount} came? {known} is written down.", at="amount")
        if amount and amount.millionths > units.LARGEST * units.MICRO:
            self.add_error("amount", "That is more than can be kept. Check the number.")
        return data

    def moves(self) -> bool:
        """Whether the figures differ, so that the receipt has to be amended."""
        data = self.cleaned_data
        return data["amount"].millionths != self.receipt.quantity or data["paid"] != self._paid()

    def figures(self) -> dict[str, Any]:
        data = self.cleaned_data
        # A price that was not touched keeps its fractions of a cent.
        same = data["paid"] == self._paid()
        cost = None if data["paid"] is None else data["paid"] * CENT
        return {
            "quantity": data["amount"].millionths,
            "cost": self.receipt.cost if same else cost,
            "said": data["amount"].said,
            "note": data["note"],
        }

    def facts(self) -> dict[str, Any]:
        return {name: self.cleaned_data[name] for name in self.FACTS}
