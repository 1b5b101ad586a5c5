"""The open evening: what its adopted plan still takes from the shelf, what it should give, what is left of
its hours. Reads only."""

from collections import defaultdict

from django.utils import timezone

from inventory import units
from production import plan_shelf
from production.models import Bench, Cavity, Plan, PlannedBatch, Pour


class Tonight:
    """The open evening: what its plan still takes and gives, and whether its hours are spoken for."""

    def __init__(self) -> None:
        self.pour = Pour.objects.filter(closed_at=None).first()
        self.closed = set(
            Pour.objects.filter(
                closed_at__isnull=False, business_date__gte=timezone.localdate()
            ).values_list("business_date", flat=True)
        )
        self.planned = bool(self.pour) and Plan.objects.filter(pour=self.pour).exists()
        self.taken: dict[int, float] = defaultdict(float)
        self.fed: dict[str, float] = defaultdict(float)
        self.waiting: dict[str, list[PlannedBatch]] = defaultdict(list)
        mixed = set()
        rows = PlannedBatch.objects.filter(plan__pour=self.pour) if self.planned else ()
        for row in rows:
            piece = row.detail.get("piece", row.key)
            if row.batch_id:
                mixed.add(piece)
                continue
            self._take(row)
            self.waiting[piece].append(row)
        for piece in mixed:
            self.waiting.pop(piece, None)

    def _take(self, row: PlannedBatch) -> None:
        detail = row.detail
        if detail.get("fresh_ml"):
            self.taken[detail["grade"]] += detail["fresh_ml"]
        for dose in detail.get("doses", ()):
            self.taken[dose["item"]] += dose["quantity"] / units.MICRO
        for source in detail.get("sources", ()):
            if source["kind"] == "jar":
                self.fed[source["key"]] += source["ml"]

    def baits(self) -> dict[tuple[int, int], int]:
        """Whole good baits to expect of pieces of which nothing is mixed yet: (bait, pattern) → so many.

        A fixed number of queries, none where nothing waits."""
        shots = [
            (shots["mold"], rows[0].pattern_id, shots["shots"])
            for rows in self.waiting.values()
            for shots in rows[0].detail.get("shots", ())
        ]
        if not shots:
            return {}
        molds = {mold for mold, _, _ in shots}
        yields = plan_shelf.yields_of(molds)
        cavities: dict[int, list[Cavity]] = defaultdict(list)
        for cavity in Cavity.objects.filter(mold__in=molds):
            cavities[cavity.mold_id].append(cavity)
        found: dict[tuple[int, int], float] = defaultdict(float)
        for mold, pattern, count in shots:
            for cavity in cavities[mold]:
                found[cavity.bait_id, pattern] += count * cavity.count * yields[mold].share
        return {kind: int(good) for kind, good in found.items()}

    def minutes(self, bench: Bench) -> float:
        """What is left of the open evening; nothing where a plan already fills it."""
        if self.planned or not self.pour:
            return 0.0
        gone = (timezone.now() - self.pour.started_at).total_seconds() / 60
        return max(0.0, bench.evening_minutes - gone)
