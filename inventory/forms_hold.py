"""Why lots are put on hold."""

from django import forms

from inventory.forms_base import PlainForm
from inventory.services.on_hold import LONGEST_REASON


class HoldForm(PlainForm):
    reason = forms.CharField(
        label="Why",
        max_length=LONGEST_REASON,
        help_text="Whoever finds it on hold reads this.",
        error_messages={"required": "Say why: whoever finds it on hold wants to know."},
    )
