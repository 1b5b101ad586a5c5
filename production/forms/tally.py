"""Forms of the live count: what is counted, and one press of a button."""

from django import forms

from inventory import forms_base
from production import doubts
from production.forms.shots import ShotPlanForm, first_full, layer_shares, pours
from production.models import Bait, Batch, Mold, RejectReason

SHOT, REJECT, SECOND = "shot", "reject", "second"
#: The buttons that take the last press of another back.
UNSHOT, UNREJECT, UNSECOND = "unshot", "unreject", "unsecond"
LAYERS = 3


class TallyPlanForm(ShotPlanForm):
    """Which mold in which pattern, from the page's batch and, for a laminate, others beside it."""

    def __init__(self, *args, batch: Batch, batches: list[Batch], **kwargs) -> None:
        super().__init__(*args, batches=batches, **kwargs)
        self.batch, self.evening = batch, batches
        for position in range(1, LAYERS + 1):
            self.fields[f"batch_{position}"] = forms.TypedChoiceField(
                choices=[(str(b.pk), str(b)) for b in batches],
                coerce={str(b.pk): b for b in batches}.__getitem__,
                empty_value=None,
                required=False,
            )

    def clean(self) -> dict:
        cleaned = super().clean()
        self.doubt = ""
        if not self.errors:
            pattern = cleaned["pattern"]
            self.doubt = " ".join(doubts.barrels(self.injector, pattern, pattern.layers.count()))
            if self.doubt:
                # The answer stays in the page's address, for every press.
                self.question(f"{self.doubt} Yes, really?", at="injector")
        return cleaned

    def chosen_batches(self) -> list[Batch]:
        """One for each layer: as asked, else the page's own where its recipe goes, else the first
        cup of that recipe. Call it on a valid form."""
        found, own = [], self.batch
        layers = list(self.cleaned_data["pattern"].layers.all())
        home = next((layer for layer in layers if pours(own, layer)), layers[0])
        for layer in layers:
            fitting = [batch for batch in self.evening if pours(batch, layer)]
            asked = self.cleaned_data.get(f"batch_{layer.position}")
            found.append(asked or (own if layer == home else first_full(fitting or self.evening)))
        return found

    def shares(self) -> list[int]:
        """Millionths, one for each layer: by the injector's bores, else the pattern's."""
        return layer_shares(self.cleaned_data["pattern"].layers.all(), self.injector)


class PressForm(forms_base.PostingForm):
    """One press. Each carries a key of its own: sent twice it counts once, pressed twice it counts two."""

    do = forms.ChoiceField(
        choices=[(name, name) for name in (SHOT, REJECT, SECOND, UNSHOT, UNREJECT, UNSECOND)]
    )
    reason = forms.ChoiceField(choices=[("", ""), *RejectReason.choices], required=False)

    def __init__(self, *args, mold: Mold, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        baits = Bait.objects.filter(cavities__mold=mold)
        self.fields["bait"] = forms.ModelChoiceField(baits, required=False)

    def clean(self) -> dict:
        cleaned = super().clean()
        whole_shot = cleaned.get("do") in (SHOT, UNSHOT)
        if not self.errors and not whole_shot and not cleaned.get("bait"):
            self.add_error(None, "Which bait? Press its own button.")
        return cleaned
