"""What shots gave, counted by the database: results as they were logged, less what was sorted out since.

Every page that says how many baits were good, seconds or rejects asks here."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from django.db.models import OuterRef, QuerySet, Subquery, Sum
from django.db.models.expressions import Combinable
from django.db.models.functions import Coalesce

from production.models import ShotReject, ShotResult, Shots, Sorting


@dataclass
class Tally:
    """Baits out of so many cavities. `reasons` explains rejects; the rest were given none."""

    cavities: int = 0
    good: int = 0
    seconds: int = 0
    rejects: int = 0
    reasons: dict[str, int] = field(default_factory=dict)

    @property
    def yield_percent(self) -> int | None:
        """Good baits over cavities shot; None before the first shot."""
        return round(100 * self.good / self.cavities) if self.cavities else None

    @property
    def reason_rows(self) -> list[tuple[str, int]]:
        """The reasons, the most frequent first."""
        return sorted(self.reasons.items(), key=lambda row: (-row[1], row[0]))

    def add(self, **counts: int) -> None:
        for name, count in counts.items():
            setattr(self, name, getattr(self, name) + count)

    def explain(self, reason: str, count: int) -> None:
        if reason:
            self.reasons[reason] = self.reasons.get(reason, 0) + count


def by_bait(shots: QuerySet[Shots]) -> Mapping[int, Tally]:
    """A tally for each bait (by its id) that these shots gave. Three queries however many shots."""
    found: dict[int, Tally] = defaultdict(Tally)
    names = ("cavities", "good", "seconds", "rejects")
    results = ShotResult.objects.filter(shots__in=shots).order_by()
    for row in results.values("bait").annotate(**{f"all_{n}": Sum(n) for n in names}):
        found[row["bait"]].add(**{name: row[f"all_{name}"] for name in names})
    logged = ShotReject.objects.filter(result__shots__in=shots).order_by()
    for row in logged.values("result__bait", "reason").annotate(total=Sum("count")):
        found[row["result__bait"]].explain(row["reason"], row["total"])
    for row in _sorted(shots).values("bait", "fate", "reason").annotate(total=Sum("count")):
        tally, count = found[row["bait"]], row["total"]
        second = row["fate"] == Sorting.Fate.SECOND
        tally.add(good=-count, **{"seconds" if second else "rejects": count})
        if not second:
            tally.explain(row["reason"], count)
    return found


def of(shots: QuerySet[Shots]) -> Tally:
    """One tally of everything that these shots gave."""
    return total(by_bait(shots).values())


def total(tallies: Iterable[Tally]) -> Tally:
    """Several tallies as one."""
    whole = Tally()
    for tally in tallies:
        whole.add(
            cavities=tally.cavities,
            good=tally.good,
            seconds=tally.seconds,
            rejects=tally.rejects,
        )
        for reason, count in tally.reasons.items():
            whole.explain(reason, count)
    return whole


def fills_of(shots: QuerySet[Shots]) -> int:
    """How many fills these shots are together."""
    return shots.order_by().aggregate(total=Sum("count", default=0))["total"]


def baits_kept(pour: OuterRef) -> Combinable:
    """Good baits and seconds of a pour, for `annotate`; None where it has no shots."""
    standing = {"shots__pour": pour, "shots__entry__reversed_by": None}
    kept = (
        ShotResult.objects.filter(**standing)
        .order_by()
        .values("shots__pour")
        .annotate(total=Sum("good") + Sum("seconds"))
        .values("total")
    )
    rejected = (
        Sorting.objects.filter(**standing, entry__reversed_by=None, fate=Sorting.Fate.REJECT)
        .order_by()
        .values("shots__pour")
        .annotate(total=Sum("count"))
        .values("total")
    )
    return Subquery(kept) - Coalesce(Subquery(rejected), 0)


def _sorted(shots: QuerySet[Shots]) -> QuerySet[Sorting]:
    return Sorting.objects.filter(shots__in=shots, entry__reversed_by=None).order_by()
