"""The forms of a parcel: what goes into it, where it goes, and what comes back of it."""

import re
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django import forms
from django.forms import BoundField
from django.http import QueryDict
from django.utils import timezone

from inventory import units
from inventory.forms_base import AmountField, MoneyField, NumberField, PlainForm, PostingForm
from inventory.models import Lot
from shop import addresses, ready
from shop.models import Order, OrderLine, Return, Shipment
from shop.parcels import Parcel, Sent
from shop.ready import Ready, Stock
from shop.services import shipping
from shop.services.returns import Refund

MOST_BAGS = 100_000
#: A heavier parcel is a slip of the pen: what a carrier takes is far below it.
MOST_GRAMS = 500_000
POUNDS_AND_OUNCES = re.compile(
    r"(?P<lb>\d{1,4})\s*lbs?\.?,?\s+(?P<oz>\d{1,4}(\.\d{1,4})?)\s*oz\.?", re.IGNORECASE | re.ASCII
)


class WeightField(AmountField):
    """A weight in any unit of mass, or pounds and ounces → whole grams; a bare number needs its unit."""

    def clean(self, value) -> int | None:
        if both := POUNDS_AND_OUNCES.fullmatch(str(value or "").strip()):
            # 1 lb is 16 oz: NIST Handbook 44, Appendix C.
            value = f"{16 * int(both['lb']) + Decimal(both['oz'])} oz"
        amount = super().clean(value)
        if amount is None:
            return None
        if not amount.unit:
            raise forms.ValidationError("Write the unit too: 430 g, 1.2 kg, 15 oz, 2.5 lb.")
        try:
            grams = units.convert(amount.value, amount.unit, "g")
        except units.UnitsError as error:
            raise forms.ValidationError("Write a weight: 430 g, 1.2 kg, 15 oz, 2.5 lb.") from error
        if not 1 <= round(grams) <= MOST_GRAMS:
            raise forms.ValidationError("A parcel weighs between 1 g and 500 kg.")
        return round(grams)

    def prepare_value(self, value):
        return f"{value} g" if isinstance(value, int) else value


class FactsMixin(forms.Form):
    """Where a parcel goes and with whom."""

    ship_to = forms.CharField(
        label="Ship to",
        required=False,
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 4, "autocomplete": "off"}),
        help_text="Without the customer's name: the packing slip puts it first.",
    )
    carrier = forms.CharField(required=False, max_length=60)
    tracking = forms.CharField(label="Tracking number", required=False, max_length=80)
    weight_g = WeightField(
        label="Weight on the scale",
        required=False,
        help_text="Of the packed parcel: 15 oz, 430 g. Empty: reckoned from what is in it.",
    )


class ParcelForm(FactsMixin, PlainForm):
    """The facts beside a parcel that left; a tracking number often comes later."""


@dataclass(frozen=True)
class LineFields:
    """One line of the order in the form: how many bags go, and (where there is a choice) of which lots."""

    line: OrderLine
    stock: Stock
    bags: BoundField
    lots: list[tuple[Ready, BoundField]]


class ShipForm(FactsMixin, PostingForm):
    """How many bags of each line go into the parcel; prefilled with what stands ready."""

    field_order = ["key"]

    def __init__(
        self, *args, lines: list[OrderLine], stock: dict[int, Stock], today: date, **kwargs
    ) -> None:
        super().__init__(*args, **kwargs)
        self.lines, self.stock, self.today = lines, stock, today
        for line in lines:
            there = stock[line.product.item_id]
            self.fields[f"bags-{line.pk}"] = NumberField(
                label=f"Bags of {line.product}",
                whole=True,
                at_most=MOST_BAGS,
                required=False,
                initial=min(line.remaining, there.ready),
            )
            for one in there.lots if len(there.lots) > 1 else ():
                self.fields[f"lot-{line.pk}-{one.lot.pk}"] = NumberField(
                    label=f"Of lot {one.lot.printed}", whole=True, at_most=MOST_BAGS, required=False
                )

    def by_line(self) -> list[LineFields]:
        return [
            LineFields(
                line,
                self.stock[line.product.item_id],
                self[f"bags-{line.pk}"],
                [
                    (one, self[name])
                    for one in self.stock[line.product.item_id].lots
                    if (name := f"lot-{line.pk}-{one.lot.pk}") in self.fields
                ],
            )
            for line in self.lines
        ]

    def facts(self) -> list[BoundField]:
        return [self[name] for name in ("ship_to", "carrier", "tracking", "weight_g")]

    def clean(self) -> dict:
        typed = super().clean()
        self.packed = [self._packed(line, typed) for line in self.lines]
        for one in self.packed:
            if short := shipping.short_of(one, self.stock[one.line.product.item_id]):
                self.add_error(f"bags-{one.line.pk}", f"{short}.")
        if not self.errors:
            doubts = [*shipping.more_than_ordered(self.packed), *self._expired()]
            typed["look_at"] = " ".join(doubts)
            if doubts and not self.question(f"{typed['look_at']} Yes, really?"):
                typed["look_at"] = ""
        return typed

    def _packed(self, line: OrderLine, typed: dict) -> shipping.Packed:
        lots = [
            (one.lot, count)
            for one in self.stock[line.product.item_id].lots
            if (count := typed.get(f"lot-{line.pk}-{one.lot.pk}"))
        ]
        bags, name = typed.get(f"bags-{line.pk}") or 0, f"bags-{line.pk}"
        of_lots = sum(count for _, count in lots)
        if lots and of_lots != bags and name not in self.errors:
            self.add_error(name, f"By lot you wrote {of_lots} bags, here {bags}. Make them agree.")
        return shipping.Packed(line, bags, tuple(lots))

    def _expired(self) -> list[str]:
        """A question for each lot past its date that bags would come from."""
        found = []
        for one in self.packed:
            left = one.bags
            going: list[tuple[Lot, int]] = list(one.of)
            for there in () if one.of else self.stock[one.line.product.item_id].lots:
                going.append((there.lot, min(left, there.bags)))
                left -= going[-1][1]
            found += [
                f"{bags} of {one.line.product} would come from lot {lot.printed}, which expired on "
                f"{lot.expires_on:%Y-%m-%d}."
                for lot, bags in going
                if bags and lot.expires_on and lot.expires_on < self.today
            ]
        return found


class ReturnForm(PostingForm):
    """What came back of a parcel, what becomes of it, and what the customer gets instead."""

    fate = forms.ChoiceField(
        label="The bags go",
        choices=Return.Fate,
        initial=Return.Fate.STOCK,
        widget=forms.RadioSelect,
    )
    instead = forms.ChoiceField(
        label="For the customer",
        choices=[
            ("credit", "They need not pay for these bags"),
            ("replace", "Others are sent in their place"),
        ],
        initial="credit",
        widget=forms.RadioSelect,
    )
    reason = forms.CharField(max_length=200, required=False)
    refund = MoneyField(
        label="Money paid back now",
        required=False,
        help_text="Empty: none. It is written down with the order's payments.",
    )
    how = forms.CharField(label="How it was paid back", max_length=40, required=False)

    def __init__(self, *args, parcel: Parcel, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.sent = [one for one in parcel.sent if one.out > 0]
        codes = [one.lot.printed for one in self.sent]
        for one in self.sent:
            # Parts of one lot that lay at two places: each by its own number.
            code = one.lot.printed if codes.count(one.lot.printed) == 1 else one.lot.number
            self.fields[f"bags-{one.line}"] = NumberField(
                label=f"{one.product}, lot {code}",
                whole=True,
                at_most=one.out,
                required=False,
                help_text=f"{one.out} went out and did not come back.",
            )

    def by_lot(self) -> list[tuple[Sent, BoundField]]:
        return [(one, self[f"bags-{one.line}"]) for one in self.sent]

    def rest(self) -> list[BoundField]:
        return [self[name] for name in ("fate", "instead", "reason", "refund", "how")]

    def clean(self) -> dict:
        typed = super().clean()
        self.bags = {one.line: typed.get(f"bags-{one.line}") or 0 for one in self.sent}
        if not any(self.bags.values()) and not self.errors:
            self.add_error(None, "Write how many bags came back, of at least one lot.")
        if typed.get("refund") and typed.get("instead") == "replace":
            self.question("Others are sent and money goes back as well. Yes, really?", at="refund")
        if typed.get("how") and not typed.get("refund") and "refund" not in self.errors:
            self.add_error("refund", "How much was paid back?")
        return typed

    def facts(self) -> dict:
        """What `returns.take_back` is told."""
        typed = self.cleaned_data
        return {
            "bags": self.bags,
            "fate": typed["fate"],
            "replace": typed["instead"] == "replace",
            "reason": typed["reason"],
            "refund": Refund(typed["refund"], typed["how"]) if typed["refund"] else None,
        }


def ship_form(order: Order, posted: QueryDict | None = None) -> ShipForm:
    """The form for all lines that are still to come. Four queries."""
    lines = [line for line in order.lines.select_related("product__item") if line.remaining]
    stock = ready.of(order.pk, {line.product.item_id for line in lines})
    last = Shipment.objects.filter(order=order).order_by("-id").first()
    initial = {"ship_to": addresses.of(order), "carrier": last.carrier if last else ""}
    return ShipForm(posted, lines=lines, stock=stock, today=timezone.localdate(), initial=initial)
