"""The form of a tool's service interval."""

from inventory import forms_base


class ServiceForm(forms_base.PlainForm):
    service_every_shots = forms_base.NumberField(
        label="Service after so many shots",
        whole=True,
        at_least=1,
        at_most=1_000_000,
        required=False,
        help_text="Empty: never asked for. Then it stands on Tonight and on the buying page.",
    )
