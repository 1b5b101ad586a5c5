"""Forms for who sells what."""

from typing import Any

from django import forms

from inventory import forms_base as base
from inventory.models import Item, Supplier


class SupplierForm(base.PlainForm):
    name = forms.CharField(max_length=120)
    email = forms.EmailField(required=False)
    phone = forms.CharField(max_length=40, required=False)
    lead_time_days = base.NumberField(
        label="Days until it comes", whole=True, at_most=365, initial=7
    )
    order_minimum_minor = base.MoneyField(
        label="Least order", required=False, help_text="Money: 50 or 50.00. Empty: none."
    )
    shipping_minor = base.MoneyField(
        label="Shipping", required=False, help_text="For one order. Empty: none or not known."
    )
    notes = forms.CharField(widget=forms.Textarea(attrs={"rows": 3}), required=False)

    def facts(self) -> dict[str, Any]:
        facts = dict(self.cleaned_data)
        for name in ("order_minimum_minor", "shipping_minor"):
            facts[name] = facts[name] or 0
        return facts


class PackForm(base.PlainForm):
    supplier = forms.ModelChoiceField(Supplier.objects.none(), empty_label="choose")
    name = forms.CharField(max_length=60, help_text="As you would order it: 4 fl oz bottle.")
    quantity = base.AmountField(label="Holds")
    price_minor = base.MoneyField(label="Price of one")

    def __init__(self, *args, item: Item, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.fields["supplier"].queryset = Supplier.objects.all()
        self.fields["quantity"].item = item
        self.fields["quantity"].help_text = f"In {item.stock_unit} or a unit that turns into it."

    def facts(self) -> dict[str, Any]:
        return {**self.cleaned_data, "quantity": self.cleaned_data["quantity"].millionths}
