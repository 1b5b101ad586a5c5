"""What measured cups say of a mold's volume: read from the books for production/mold_correction.py."""

from collections import defaultdict

from django.db.models import Count, F, Sum

from inventory import units
from inventory.models import Entry, Movement
from production import mold_correction
from production.models import Batch, Mold, Shots

#: How many of the last pours speak: a mold wears, and a scale gets mended.
LATEST = 12


def proposal(mold: Mold) -> mold_correction.Correction | None:
    """What the mold's last measured pours propose; None while they have nothing to say."""
    return mold_correction.propose(float(mold.shot_ml), measured(mold))


def measured(mold: Mold) -> list[mold_correction.Measured]:
    """The last batches shot into this mold alone, unmixed with another, whose rest was measured.

    Base that was found to cover a draw counts for nothing: what went in and what was left decide."""
    batches = _shot_here_alone(mold)
    counts = dict(
        Shots.objects.filter(batches__in=batches, entry__reversed_by=None)
        .order_by()
        .values_list("batches")
        .annotate(total=Sum("count"))
    )
    lines = defaultdict(list)
    for line in (
        Movement.objects.filter(lot__batch__in=[batch.pk for batch in batches])
        .annotate(batch_id=F("lot__batch"))
        .values(
            "batch_id", "role", "quantity", "entry__kind", "entry__reversed_by", "entry__reverses"
        )
        .order_by("pk")
    ):
        lines[line["batch_id"]].append(line)
    found = []
    for batch in batches:
        one = _measured(batch, counts.get(batch.pk, 0), lines[batch.pk])
        if one:
            found.append(one)
    return found


def _shot_here_alone(mold: Mold) -> list[Batch]:
    laminates = Shots.batches.through.objects.filter(
        shots__in=Shots.objects.annotate(cups=Count("batches")).filter(cups__gt=1).values("pk")
    )
    found = (
        Batch.objects.filter(shots__mold=mold, shots__entry__reversed_by=None)
        .exclude(pk__in=laminates.values("batch"))
        .exclude(pk__in=Shots.batches.through.objects.exclude(shots__mold=mold).values("batch"))
        .filter(entry__reversed_by=None, settled__gt="", total__gt=0)
        .select_related("lot")
        .distinct()
        .order_by("-pk")
    )
    return list(found[:LATEST])


def _measured(batch: Batch, shots: int, lines: list[dict]) -> mold_correction.Measured | None:
    """One batch, if its rest was measured after its last shot and no longer than that."""
    stand = [i for i, row in enumerate(lines) if _stands(row)]
    last = max((i for i in stand if lines[i]["role"] == Movement.Role.COUNTED), default=None)
    if last is None or not shots:
        return None
    if any(lines[i]["entry__kind"] == Entry.Kind.SHOTS for i in stand if i > last):
        return None
    before = [lines[i] for i in stand if i <= last]
    made = sum(row["quantity"] for row in before if row["role"] == Movement.Role.MADE)
    drawn = [row for row in before if row["role"] == Movement.Role.DRAWN]
    other = -sum(row["quantity"] for row in drawn if row["entry__kind"] != Entry.Kind.SHOTS)
    return mold_correction.Measured(
        base_in=_ml(made),
        left=_ml(sum(row["quantity"] for row in lines[: last + 1])),
        other=_ml(other),
        shots=shots,
        base_share=batch.lot.made / batch.total,
    )


def _stands(row: dict) -> bool:
    return row["entry__reversed_by"] is None and row["entry__reverses"] is None


def _ml(millionths: int) -> float:
    return float(units.from_micro(millionths))
