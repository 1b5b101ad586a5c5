"""What the batches of a plan that still wait will take from the shelf."""

from collections.abc import Iterable

from inventory import units
from inventory.needs import Need
from production.models import PlannedBatch

WHAT = "planned batches"


def planned() -> Iterable[Need]:
    """Fresh plastisol and additions of waiting batches of evenings that go on; one query."""
    for detail in waiting().values_list("detail", flat=True):
        if detail.get("fresh_ml"):
            yield Need(detail["grade"], units.to_micro(f"{detail['fresh_ml']:.6f}"), WHAT)
        for dose in detail.get("doses", ()):
            yield Need(dose["item"], dose["draw"], WHAT)


def waiting():
    """Batches that are not mixed yet, of pours that are not closed."""
    return PlannedBatch.objects.filter(batch=None, plan__pour__closed_at=None)
