"""An evening's plan against what was poured."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import Sum

from production.models import Batch, Plan, PlannedBatch, Shots, Sorting


@dataclass(frozen=True)
class Row:
    """One planned batch: its base (millionths of a mL), shots and good baits, planned and real.

    `batch` None: it was not mixed."""

    planned: PlannedBatch
    batch: Batch | None
    shots: int
    good: int
    real_shots: int
    real_good: int


def rows(plan: Plan) -> list[Row]:
    """Every batch of the plan in order; none before the first is mixed. Four queries.

    Good baits of a laminate's batches are the same baits: each of its layers shows them."""
    planned = list(
        plan.batches.select_related(
            "batch__lot", "batch__entry__reversed_by", "version__recipe", "pattern"
        )
    )
    mixed = {row.pk: row.batch for row in planned if _standing(row.batch)}
    if not mixed:
        return []
    shots, good = _poured([batch.pk for batch in mixed.values()])
    return [
        Row(
            row,
            mixed.get(row.pk),
            _sum(row.detail, "shots"),
            _sum(row.detail, "good"),
            shots.get(row.batch_id, 0),
            good.get(row.batch_id, 0),
        )
        for row in planned
    ]


def to_shoot(batch: Batch) -> Mapping[str, Any] | None:
    """The first of the plan's molds that was not shot of this batch yet, with its shots; None: no plan, or
    all were. At most two queries."""
    planned = PlannedBatch.objects.filter(batch=batch).first()
    if planned is None:
        return None
    shot = set(
        Shots.objects.filter(batches=batch, entry__reversed_by=None).values_list("mold", flat=True)
    )
    return next((ahead for ahead in planned.detail["shots"] if ahead["mold"] not in shot), None)


def _standing(batch: Batch | None) -> bool:
    return batch is not None and getattr(batch.entry, "reversed_by", None) is None


def _sum(detail: Mapping[str, Any], name: str) -> int:
    return sum(shot[name] for shot in detail["shots"])


def _poured(batches: list[int]) -> tuple[dict[int, int], dict[int, int]]:
    """Shots, and good baits less those sorted out since, by batch."""
    standing = Shots.objects.filter(entry__reversed_by=None, batches__in=batches).order_by()
    shots = dict(standing.values_list("batches").annotate(total=Sum("count")))
    good = dict(standing.values_list("batches").annotate(total=Sum("results__good")))
    sorted_out = Sorting.objects.filter(
        shots__batches__in=batches, entry__reversed_by=None, shots__entry__reversed_by=None
    ).order_by()
    for batch, count in sorted_out.values_list("shots__batches").annotate(total=Sum("count")):
        good[batch] = good.get(batch, 0) - count
    return shots, good
