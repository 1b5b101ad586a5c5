"""The form that thins a colorant."""

from typing import Any

from django import forms
from django.db.models import Q

from inventory import amounts, units
from inventory import forms_base as base
from inventory.models import Item, Lot
from inventory.wording import quantity_text


class OilField(forms.ModelChoiceField):
    def label_from_instance(self, lot: Lot) -> str:
        left = quantity_text(lot.available, lot.item.stock_unit)
        return f"{lot.item.name} · {lot.number} · {left} left"


class ThinForm(base.PostingForm):
    amount = base.AmountField(
        label="How much of it", exact=True, help_text="All of it, unless you say less."
    )
    oil_lot = OilField(Lot.objects.none(), label="With", empty_label="choose an oil")
    oil = base.AmountField(label="How much oil", help_text="In mL, or a unit that turns into it.")
    ml_per_drop = base.NumberField(
        label="Its drop now (mL)",
        at_least=units.from_micro(1),
        at_most=1,
        places=6,
        required=False,
        help_text="Thinned drops differ. Empty: the item's, until you measure one.",
    )

    def __init__(self, *args, lot: Lot, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.fields["amount"].item, self.fields["amount"].lot = lot.item, lot
        self.initial.setdefault("amount", lot.available or None)
        # The oil that was sent stays a choice: a second press may find its bottle empty.
        sent = str(self.data.get("oil_lot", ""))
        sent = int(sent) if sent.isascii() and sent.isdigit() and len(sent) < 18 else 0
        oils = Lot.objects.filter(item__kind=Item.Kind.ADDITIVE, item__stock_unit="mL")
        oils = oils.filter(Q(on_hand__gt=0) | Q(pk=sent))
        self.fields["oil_lot"].queryset = oils.select_related("item").order_by("item__name", "id")

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        oil, oil_lot = data.get("oil"), data.get("oil_lot")
        if oil and oil_lot:
            try:
                data["oil"] = base.in_stock_unit(oil, oil_lot.item, oil_lot)
            except (amounts.AmountError, units.UnitsError) as error:
                self.add_error("oil", str(error))
        return data
