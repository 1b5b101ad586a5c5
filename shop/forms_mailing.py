"""Printing the mailing label of a parcel."""

from django import forms

from inventory import forms_base
from production import label_sheets, label_stock
from production.models import Printer


class MailingForm(forms_base.PlainForm):
    address = forms.CharField(
        label="To", max_length=400, widget=forms.Textarea(attrs={"rows": 5}), strip=True
    )
    stock = forms.ChoiceField(label="Sheet or roll")
    start = forms_base.NumberField(
        label="First free place on the sheet", whole=True, at_least=1, at_most=1000, initial=1
    )
    printer = forms.ModelChoiceField(
        Printer.objects.all(), required=False, empty_label="any: prints where it should"
    )

    def __init__(self, *args, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.fields["stock"].choices = label_sheets.grouped()
        self.initial.setdefault("stock", "roll-102x152")
        if not Printer.objects.exists():
            del self.fields["printer"]

    def clean(self) -> dict:
        typed = super().clean()
        if typed.get("stock"):
            try:
                typed["sheet"] = label_sheets.find(typed["stock"])
            except label_stock.LabelError as error:
                self.add_error("stock", str(error))
        return typed
