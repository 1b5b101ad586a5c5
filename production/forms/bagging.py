"""Putting loose baits into bags."""

from inventory import forms_base
from production.forms import rows
from production.models import Product


class BagForm(forms_base.PostingForm):
    """How many bags of which product."""

    product = rows.PickField()
    bags = forms_base.NumberField(whole=True, at_least=1, at_most=10_000)

    def __init__(self, *args, products: list[Product], **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.fields["product"].offer(rows.Offer({"": products}, empty="Choose a product"))
