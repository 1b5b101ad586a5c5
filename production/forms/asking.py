"""A bench form that doubts: each doubt is a question, answered once with “yes, really” (rule 3)."""

from collections.abc import Iterable

from inventory import forms_base
from inventory.models import Entry


class AskingForm(forms_base.PostingForm):
    """Gathers doubts while cleaning; what was answered stays on the entry as `look_at`."""

    def ask(self, doubts: Iterable[str]) -> None:
        """Asks about all of them at once. The same press again is not asked a second time: what it
        posted changed the very figures that the doubts go by."""
        cleaned = self.cleaned_data
        if posted := Entry.objects.filter(key=cleaned.get("key", "")).first():
            cleaned["look_at"] = posted.look_at
            return
        text = " ".join(doubts)
        cleaned["look_at"] = text if text and self.question(f"{text} Yes, really?") else ""
