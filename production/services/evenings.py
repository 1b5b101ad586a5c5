"""One rule: what happens at the bench happens in an open evening. Afterwards it is amended, not added to."""

from inventory.services.posting import LedgerError
from production.models import Pour

#: What a closed evening means for most of what is done at the bench.
NOTHING_MORE = (
    "nothing more is mixed, shot or measured in it. What was written down wrong is amended by the "
    "owner; what is left of a batch is counted on its lot's page."
)


class EveningClosed(LedgerError):
    """The evening was closed, on this device or another. `so`: what follows from it."""

    def __init__(self, pour: Pour, so: str = NOTHING_MORE) -> None:
        super().__init__(f"The evening of {pour.business_date:%d %b %Y} is closed: {so}")


def still_open(pour: Pour | int, so: str = NOTHING_MORE) -> Pour:
    """The evening as it is now, its row held until the transaction ends, so that two presses at once
    come one after the other. Raises EveningClosed."""
    pk = pour if isinstance(pour, int) else pour.pk
    evening = Pour.objects.select_for_update(of=("self",)).get(pk=pk)
    if evening.closed_at:
        raise EveningClosed(evening, so)
    return evening
