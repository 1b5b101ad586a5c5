"""What is left of a batch: how much, and what becomes of it."""

from django import forms

from inventory import forms_base
from production.forms import plastic
from production.forms.asking import AskingForm
from production.models import Batch
from production.services import leftovers

MORE_THAN_POURED = "That's more than this batch can have left."


class _CupForm(forms_base.PlainForm):
    """How much of a batch is left, by volume or weight."""

    amount = forms.CharField(
        label="How much is left",
        max_length=60,
        help_text="Volume or weight of the colored plastic: 60 mL, 2 fl oz, 55 g.",
    )
    in_cup = forms.BooleanField(
        label="Weighed in its cup: take the empty cup's weight off", required=False
    )
    hot = forms.BooleanField(label="Read off the cup while hot", required=False)

    def __init__(self, *args, batch: Batch, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.batch = batch
        self.fields["amount"].widget.attrs["autocomplete"] = "off"
        if batch.cup is None or batch.cup.tare_g is None:
            del self.fields["in_cup"]

    def clean_amount(self):
        text = self.cleaned_data["amount"]
        return plastic.read(text) if text else None

    def clean(self) -> dict:
        cleaned = super().clean()
        if amount := cleaned.get("amount"):
            try:
                cleaned["measured"] = plastic.base_in_cup(
                    amount,
                    self.batch,
                    in_cup=bool(cleaned.get("in_cup")),
                    hot=bool(cleaned.get("hot")),
                )
            except forms.ValidationError as error:
                self.add_error("amount", error)
        return cleaned


class LeftoverForm(_CupForm, AskingForm):
    """Measured, then kept, set aside or thrown away with a reason."""

    then = forms.ChoiceField(
        label="What becomes of it",
        choices=[
            (leftovers.KEEP, "Stays in the cup"),
            (leftovers.PUCK, "Set aside as a puck"),
            (leftovers.THROW, "Thrown away"),
        ],
        initial=leftovers.KEEP,
        widget=forms.RadioSelect,
    )
    reason = forms.CharField(
        label="Why", max_length=200, required=False, help_text="Needed when it is thrown away."
    )

    def clean(self) -> dict:
        cleaned = super().clean()
        if cleaned.get("then") == leftovers.THROW and not cleaned.get("reason"):
            self.add_error("reason", "Say why it is thrown away.")
        if not self.errors:
            too_much = cleaned["measured"] > leftovers.most_left(self.batch)
            self.ask([MORE_THAN_POURED] * too_much)
        return cleaned


class BaseForm(forms_base.PlainForm):
    """The size of the batch that a leftover goes into. Sent with GET."""

    base = forms_base.AmountField(
        label="How much base the next batch has",
        required=False,
        help_text="Empty: as much as is left. 8 fl oz, 240 mL.",
    )


class NextForm(BaseForm, _CupForm):
    """What is in the cup before it becomes the next color; empty goes by the books. Sent with GET."""

    field_order = ("amount", "in_cup", "hot", "base")

    def __init__(self, *args, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.fields["amount"].required = False
        self.fields["amount"].help_text += " Empty: as the shots say."
