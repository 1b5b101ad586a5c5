"""The form for money that came for an order, or went back."""

from django import forms
from django.utils import timezone

from inventory.forms_base import DayField, MoneyField, PostingForm
from inventory.templatetags.shelf import price
from shop import money
from shop.models import Payment

Kind = Payment.Kind


class PaymentForm(PostingForm):
    kind = forms.ChoiceField(
        label="What it is",
        choices=[
            (Kind.PAYMENT, "Payment"),
            (Kind.DEPOSIT, "Deposit, before anything is sent"),
            (Kind.REFUND, "Refund: money that went back"),
        ],
        initial=Kind.PAYMENT,
        widget=forms.RadioSelect,
    )
    amount = MoneyField(label="How much")
    paid_on = DayField(label="When", initial=timezone.localdate)
    how = forms.CharField(
        label="How it was paid",
        max_length=40,
        required=False,
        help_text="Cash, card, check, transfer …",
    )

    def __init__(self, *args, total: money.Total, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.total = total

    def clean(self) -> dict:
        typed = super().clean()
        amount, kind = typed.get("amount"), typed.get("kind")
        over = (amount or 0) - max(0, self.total.due_minor)
        if amount and kind and kind != Kind.REFUND and over > 0 and not self._sent_before():
            self.question(f"This is {price(over)} more than is due. Is that meant?", at="amount")
        return typed

    def _sent_before(self) -> bool:
        """A second press of the same form: the service answers it with what is written down already."""
        return Payment.objects.filter(key=self.data.get("key", "")).exists()
