"""What an evening's page shows: its batches, its events and what it gave."""

from dataclasses import dataclass

from django.db.models import Count, OuterRef, Prefetch, Q, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce

from inventory import allocation
from inventory.models import Entry, Lot, Movement
from production import tally
from production.models import Batch, Layer, Pour, RecipeVersion, Shots, Sorting

_STANDING = Q(entry__reversed_by=None)


def evenings() -> QuerySet:
    """All pours, newest first, each with `batch_count` and `bait_count` (good ones and seconds)."""
    # Counted for each pour that is shown, not for all of them by joining.
    standing = Batch.objects.filter(pour=OuterRef("pk"), entry__reversed_by=None)
    count = standing.order_by().values("pour").annotate(n=Count("pk")).values("n")
    found = Pour.objects.annotate(
        batch_count=Coalesce(Subquery(count), 0), bait_count=tally.baits_kept(OuterRef("pk"))
    )
    return found.order_by("-business_date", "-id")


def batches(pour: Pour) -> list[Batch]:
    """The evening's standing batches, each with `total_left` (millionths of a mL) and `in_cup`."""
    found = list(
        Batch.objects.filter(_STANDING, pour=pour)
        .select_related("pour", "lot__item", "version__recipe", "version__grade", "cup")
        .prefetch_related("version__doses__item", "heats")
        .order_by("number")
    )
    for batch in found:
        batch.total_left = total_left(batch)
        batch.in_cup = batch.lot.on_hand > 0 and batch.lot.form == Lot.Form.LIQUID
    return found


def total_left(batch: Batch) -> int:
    """Millionths of a mL of colored plastic that the batch's lot still holds."""
    if not batch.lot.made:
        return 0
    return allocation.portion(batch.lot.on_hand, batch.total, batch.lot.made)


def events(pour: Pour) -> QuerySet:
    """The evening's entries in the order in which they were posted, undone ones too."""
    return (
        Entry.objects.filter(reference=f"pour:{pour.pk}")
        .exclude(kind=Entry.Kind.REVERSAL)
        .select_related("reversed_by", "amended_by", "by", "shots", "batch")
        .order_by("id")
    )


@dataclass(frozen=True)
class Sums:
    """What an evening gave: its baits, and millionths of a mL of base as trim and thrown away."""

    baits: tally.Tally
    trim: int
    wasted: int


def sums(pour: Pour) -> Sums:
    """Sums over what stands; what was undone is not counted."""
    shots = Shots.objects.filter(_STANDING, pour=pour)
    sorted_out = Sorting.objects.filter(shots__in=shots)
    by_these = Q(entry__in=shots.values("entry")) | Q(entry__in=sorted_out.values("entry"))
    trim = Movement.objects.filter(
        by_these,
        role=Movement.Role.MADE,
        lot__form=Lot.Form.TRIM,
        entry__reversed_by=None,
    ).aggregate(total=Sum("quantity", default=0))
    standing = Entry.objects.filter(reference=f"pour:{pour.pk}", reversed_by=None)
    wasted = standing.exclude(kind=Entry.Kind.REVERSAL).aggregate(total=Sum("wasted", default=0))
    return Sums(tally.of(shots), trim["total"], wasted["total"])


def layers_with_doses() -> Prefetch:
    """Pattern layers with all that a chip is drawn from, for `prefetch_related`."""
    versions = RecipeVersion.objects.select_related("recipe").prefetch_related("doses__item")
    return Prefetch("layers", Layer.objects.prefetch_related(Prefetch("version", versions)))
