"""How an evening stands this moment: its cups in the order in which they need a hand, and whether
anything changed since another device last asked."""

import hashlib
from collections.abc import Sequence

from django.db.models import Count, Max, Sum

from inventory import units
from inventory.models import Entry
from production import chip, cup_picture, evening_story
from production.models import Batch, Heat, Pour, Shots

#: What a batch waits for; the first of these comes first on the page.
HEATING, MIX, SHOOT, SETTLE, NOTHING = range(5)
_WORDS = {
    HEATING: "heating",
    MIX: "all mixed?",
    SHOOT: "to be shot",
    SETTLE: "what is left?",
    NOTHING: "",
}


def arrange(pour: Pour, batches: Sequence[Batch]) -> list[Batch]:
    """The batches as the bench needs them: those that wait for a hand first. Each gets `step`, its
    `step_text`, and, while something stands in its cup, its `picture`."""
    shot = set(
        Shots.objects.filter(batches__in=batches, entry__reversed_by=None).values_list(
            "batches", flat=True
        )
    )
    for batch in batches:
        batch.step = NOTHING if pour.closed_at else _step(batch, batch.pk in shot)
        batch.step_text = _WORDS[batch.step]
        batch.picture = _picture(batch) if batch.in_cup else ""
    return sorted(batches, key=lambda batch: (batch.step, batch.number))


def _step(batch: Batch, shot: bool) -> int:
    if any(heat.minutes is None for heat in batch.heats.all()):
        return HEATING
    if not batch.in_cup:
        return NOTHING
    if not shot:
        return SHOOT if batch.mixed_at else MIX
    return NOTHING if batch.settled else SETTLE


def _picture(batch: Batch) -> chip.Drawing:
    held = float(units.from_micro(batch.total_left))
    most = float(batch.cup.most_ml) if batch.cup else float(units.from_micro(batch.total))
    return cup_picture.svg(held / most if most else 0.0, evening_story.color_of(batch))


def version(pour: Pour) -> str:
    """A short text that changes when anything that the evening's page shows has changed. Three
    queries, none of which grows with the ledger."""
    entries = Entry.objects.filter(reference=f"pour:{pour.pk}")
    heats = Heat.objects.filter(batch__pour=pour)
    state = [
        pour.closed_at,
        entries.aggregate(newest=Max("id")),
        heats.aggregate(newest=Max("id"), logged=Count("id"), minutes=Sum("minutes")),
        list(
            pour.batches.order_by("id").values_list(
                "id", "mixed_at", "degassed", "verdict", "settled", "lot__on_hand", "lot__form"
            )
        ),
    ]
    return hashlib.sha256(repr(state).encode()).hexdigest()[:16]
