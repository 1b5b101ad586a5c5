"""Putting loose baits into bags."""

from django.utils import timezone

from inventory import forms_base
from production.forms import rows
from production.forms.asking import AskingForm
from production.models import Product
from production.services import bagging


class BagForm(AskingForm):
    """How many bags of which product; baits that still cure are asked about."""

    product = rows.PickField()
    bags = forms_base.NumberField(whole=True, at_least=1, at_most=10_000)

    def __init__(self, *args, products: list[Product], **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.fields["product"].offer(rows.Offer({"": products}, empty="Choose a product"))

    def clean(self):
        typed = super().clean()
        if typed.get("product") and typed.get("bags") and not self.errors:
            self.ask(bagging.doubts(typed["product"], typed["bags"], timezone.now()))
        return typed
