"""Repeating what was poured last: the same recipe, base and mold, filled in and ready to be sent."""

from collections.abc import Sequence

from django.urls import reverse
from django.utils.http import urlencode

from inventory import forms_base, units
from production.models import Batch, Pattern, Pour, Shots


def address(pour: Pour, batches: Sequence[Batch]) -> str:
    """The mix page filled in like the newest batch of a recipe; "" where there is none."""
    last = max((b for b in batches if b.version), key=lambda batch: batch.number, default=None)
    if last is None:
        return ""
    standing = {b.cup_id for b in batches if b.in_cup}
    return like(last, cup=last.cup_id not in standing)


def like(batch: Batch, *, cup: bool = False) -> str:
    """The mix page of its evening filled in like this batch; `cup`: its cup is free again."""
    if batch.version is None:
        return ""
    base = forms_base.number_text(units.from_micro(batch.lot.made))
    asked = {"color": batch.version_id, "base": f"{base} mL"}
    shots = last_shots(batch)
    if shots:
        asked |= {"mold_1": shots.mold_id, "shots_1": shots.count}
    if cup and batch.cup_id:
        asked["cup"] = batch.cup_id
    return f"{reverse('production:batch_mix', args=[batch.pour_id])}?{urlencode(asked)}"


def last_shots(batch: Batch) -> Shots | None:
    """The newest standing shots of a batch alone, else those of its recipe; None before any."""
    alone = Shots.objects.filter(entry__reversed_by=None).order_by("-id")
    return alone.filter(batches=batch).first() or (
        alone.filter(
            batches__version__recipe=batch.version.recipe_id,
            pattern__layers__share=1_000_000,
        ).first()
        if batch.version
        else None
    )


def solid_of(batch: Batch) -> Pattern | None:
    """The pattern that this batch alone makes; None where there is none, or several."""
    if batch.version is None:
        return None
    found = Pattern.objects.filter(
        archived=False,
        layers__share=1_000_000,
        layers__version__recipe=batch.version.recipe_id,
    )
    found = list(found.distinct()[:2])
    return found[0] if len(found) == 1 else None
