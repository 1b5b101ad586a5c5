"""Forms of the buying list and of purchase orders."""

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from django import forms
from django.forms import BoundField
from django.utils import timezone

from inventory import buying_list, outlook, price_breaks
from inventory import forms_base as base
from inventory.forms_stock import CENT, MOST_PAID
from inventory.models import PurchaseLine, PurchaseOrder
from inventory.services import purchasing, receiving
from inventory.templatetags import shelf
from inventory.wording import quantity_text

MOST_PACKS = price_breaks.MOST_PACKS


class SettingsForm(base.PlainForm):
    """What the list counts with; empty fields count as the usual ones."""

    weeks = base.NumberField(
        label="Weeks bought at once",
        at_least=Decimal("0.5"),
        at_most=52,
        places=1,
        required=False,
        initial=Decimal(outlook.WEEKS),
        help_text="Beyond what a delivery takes to come.",
    )
    service = base.NumberField(
        label="Lasts through so many deliveries of a hundred",
        at_least=50,
        at_most=Decimal("99.9"),
        places=1,
        required=False,
        initial=Decimal(95),
        help_text="95: one time in twenty it runs out before the delivery comes.",
    )

    def settings(self) -> buying_list.Settings:
        data = getattr(self, "cleaned_data", {})
        return buying_list.Settings(
            float(data.get("weeks") or outlook.WEEKS),
            float(data["service"]) / 100 if data.get("service") else outlook.SERVICE,
        )


class BasketForm(base.PostingForm):
    """How many of each pack to order from one supplier. The page's suppliers are sent together."""

    def __init__(self, data=None, *args, basket: buying_list.Basket, **kwargs) -> None:
        kwargs.setdefault("auto_id", f"basket-{basket.supplier.pk}-%s")
        if data is not None:
            # What came onto the list since the page was shown stands as the list has it.
            data = data.copy()
            for row in basket.all_rows:
                data.setdefault(row.name, str(row.count))
        super().__init__(data, *args, **kwargs)
        self.basket = basket
        self.note_name = f"notes-{basket.supplier.pk}"
        self.fields[self.note_name] = forms.CharField(
            label="Note on the order", max_length=300, required=False, help_text="For the supplier."
        )
        for row in basket.all_rows:
            self.fields[row.name] = base.NumberField(
                label=f"Packs of {row.item.name}, {row.pack.name}",
                whole=True,
                at_most=MOST_PACKS,
                required=False,
                initial=row.count,
            )
            self.fields[row.name].widget.attrs.update(
                {"aria-label": self.fields[row.name].label, "size": 4}
            )

    @property
    def note(self) -> str:
        return self.cleaned_data[self.note_name]

    def note_field(self) -> BoundField:
        return self[self.note_name]

    def take_counts(self) -> None:
        """The rows of the basket get the numbers that were typed."""
        for row in self.basket.all_rows:
            row.count = self.cleaned_data.get(row.name) or 0

    def set(self, counts: dict[str, int]) -> None:
        """Other numbers in place of some that were typed."""
        self.data = self.data.copy()
        for name, count in counts.items():
            self.data[name] = str(count)
        self.full_clean()
        self.take_counts()

    def rows(self) -> list[tuple[buying_list.Row, BoundField]]:
        return [(row, self[row.name]) for row in self.basket.rows]

    def waiting(self) -> list[tuple[buying_list.Row, BoundField]]:
        return [(row, self[row.name]) for row in self.basket.waiting]

    def ask(self, currency: str) -> bool:
        """Asks what an order may be doubted for; whether it can be made as it stands."""
        basket = self.basket
        if not any(row.count for row in basket.all_rows):
            self.add_error(None, "Nothing is on this order. Give at least one pack a number.")
            return False
        for row in basket.all_rows:
            if 0 < row.count < row.pack.least:
                self.add_error(
                    row.name, f"{basket.supplier} sells at least {row.pack.least} at once."
                )
        if self.errors:
            return False
        if basket.under_minimum_minor:
            missing = shelf.price(basket.under_minimum_minor, currency)
            return self.question(
                f"This is {missing} under {basket.supplier}'s least order. Order it all the same?"
            )
        return True

    def wanted(self) -> list[purchasing.Wanted]:
        return [
            purchasing.Wanted(row.pack, row.count, row.each_minor)
            for row in self.basket.all_rows
            if row.count
        ]


class ExpectedForm(base.PlainForm):
    """When an order is expected, and a note on it."""

    expected_on = base.DayField(label="Expected")
    notes = forms.CharField(
        label="Note", widget=forms.Textarea(attrs={"rows": 2}), required=False, max_length=2000
    )

    def __init__(self, *args, order: PurchaseOrder, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.order = order

    def clean_expected_on(self):
        day = self.cleaned_data["expected_on"]
        if day < self.order.ordered_on:
            raise forms.ValidationError("It can't come before it was ordered. Mend the day.")
        return day


@dataclass(frozen=True)
class Group:
    """A line of the order with the fields of what came on it."""

    line: PurchaseLine
    fields: list[BoundField]


class ReceivePurchaseForm(base.PostingForm):
    """What came on an order: for each line that waits, packs or an amount, lot, day, price."""

    received_on = base.DayField(label="Received", required=False, help_text="Empty: today.")
    note = forms.CharField(max_length=300, required=False)

    def __init__(self, *args, order: PurchaseOrder, lines: list[PurchaseLine], **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.order, self.lines = order, lines
        for line in lines:
            for name, field in self._fields_of(line).items():
                self.fields[f"{line.pk}-{name}"] = field

    def _fields_of(self, line: PurchaseLine) -> dict[str, forms.Field]:
        left = max(0, line.quantity - line.received)
        whole = left // line.pack_quantity if left % line.pack_quantity == 0 else None
        fields: dict[str, forms.Field] = {
            "packs": base.NumberField(
                label="Packs that came",
                whole=True,
                at_most=MOST_PACKS,
                required=False,
                initial=whole or None,
                help_text="Empty: none of it came yet.",
            ),
            "amount": base.AmountField(
                item=line.item,
                label="or an amount",
                required=False,
                help_text="Where it came in another size.",
            ),
            "lot": forms.CharField(
                label="Supplier's lot",
                max_length=60,
                required=False,
                help_text="As printed on the label.",
            ),
            "expires_on": base.DayField(label="Expires", required=False),
            "paid": base.MoneyField(
                label="Price paid, in all",
                required=False,
                help_text=f"Empty: as ordered, {shelf.price(line.price_minor)} a pack.",
            ),
        }
        if proposed := receiving.proposed_expiry(line.item, timezone.localdate()):
            fields["expires_on"].initial = proposed
            fields[
                "expires_on"
            ].help_text = (
                f"Proposed: it keeps for {line.item.shelf_life_days} days. The label rules."
            )
        if line.pack_id:
            fields["keep"] = forms.BooleanField(
                label="Keep this price with the pack", required=False
            )
        return fields

    def groups(self) -> list[Group]:
        return [
            Group(
                line,
                [self[name] for name in self.fields if name.startswith(f"{line.pk}-")],
            )
            for line in self.lines
        ]

    def heads(self) -> list[BoundField]:
        return [self["received_on"], self["note"]]

    def clean_received_on(self):
        day = self.cleaned_data["received_on"] or timezone.localdate()
        if day > timezone.localdate():
            raise forms.ValidationError("Goods can't be received in the future. Mend the day.")
        if day < self.order.ordered_on:
            raise forms.ValidationError(
                f"It was ordered on {self.order.ordered_on:%Y-%m-%d}: it can't have come before that."
            )
        return day

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        came = [line for line in self.lines if self._check(line, data)]
        if not self.errors and not came:
            self.add_error(None, "Nothing came? Write how many packs of something.")
        if not self.errors:
            self._ask_about_more(came)
        return data

    def _check(self, line: PurchaseLine, data: dict[str, Any]) -> bool:
        """Whether something came on a line; says what is wrong with it."""
        packs, amount = data.get(f"{line.pk}-packs"), data.get(f"{line.pk}-amount")
        if packs and amount:
            # The number of packs stands there from the start: an amount is what somebody typed.
            if packs != self.fields[f"{line.pk}-packs"].initial:
                self.add_error(f"{line.pk}-amount", "Give packs or an amount, not both.")
            data[f"{line.pk}-packs"] = None
        elif packs and packs * max(line.price_minor, 1) > MOST_PAID:
            self.add_error(
                f"{line.pk}-packs", "That would cost more than can be kept. Check the number."
            )
        return bool(packs or amount)

    def _ask_about_more(self, came: list[PurchaseLine]) -> None:
        for line in came:
            more = line.received + self._quantity(line) - line.quantity
            if more > 0:
                unit = line.item.stock_unit
                self.question(
                    f"That is {quantity_text(more, unit)} more than the "
                    f"{quantity_text(line.quantity, unit)} ordered. Did so much come?",
                    at=f"{line.pk}-amount"
                    if self.cleaned_data.get(f"{line.pk}-amount")
                    else f"{line.pk}-packs",
                )

    def _quantity(self, line: PurchaseLine) -> int:
        packs, amount = self._came(line, "packs"), self._came(line, "amount")
        return packs * line.pack_quantity if packs else amount.millionths if amount else 0

    def _came(self, line: PurchaseLine, name: str) -> Any:
        return self.cleaned_data.get(f"{line.pk}-{name}")

    def delivered(self) -> list[purchasing.Delivery]:
        found = []
        for line in self.lines:
            if quantity := self._quantity(line):
                found.append(self._delivery(line, quantity))
        return found

    def _delivery(self, line: PurchaseLine, quantity: int) -> purchasing.Delivery:
        packs, amount = self._came(line, "packs"), self._came(line, "amount")
        ordered = Decimal(line.price_minor * quantity) / line.pack_quantity
        paid = self._came(line, "paid")
        if paid is None:
            paid = int(ordered.quantize(Decimal(1), ROUND_HALF_UP))
        each = Decimal(paid) * line.pack_quantity / quantity
        return purchasing.Delivery(
            line,
            receiving.Arrival(
                item=line.item,
                quantity=quantity,
                cost=paid * CENT,
                supplier_lot=self._came(line, "lot"),
                expires_on=self._came(line, "expires_on"),
                said=f"{packs} × {line.pack_name}"[:60] if packs else amount.said,
                estimated=not packs and amount.estimated,
            ),
            int(each.quantize(Decimal(1), ROUND_HALF_UP)) if self._came(line, "keep") else None,
        )
