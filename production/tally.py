"""What shots gave, counted by the database: results as they were logged, less what was sorted out since.

Every page that says how many baits were good, seconds or rejects asks here."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
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

    @property
    def unexplained(self) -> int:
        """Rejects that nobody gave a reason for."""
        return max(0, self.rejects - sum(self.reasons.values()))

    def add(self, **counts: int) -> None:
        for name, count in counts.items():
            setattr(self, name, getattr(self, name) + count)

    def explain(self, reason: str, count: int) -> None:
        if reason:
            self.reasons[reason] = self.reasons.get(reason, 0) + count


def by_bait(shots: QuerySet[Shots]) -> Mapping[int, Tally]:
    """A tally for each bait (by its id) that these shots gave. Three queries however many shots."""
    found = _by(shots, lambda of_bait, _shots: [of_bait])
    return defaultdict(Tally, {bait: tally for (bait,), tally in found.items()})


def by_mold_and_bait(shots: QuerySet[Shots]) -> Mapping[tuple[int, int], Tally]:
    """A tally for each mold and bait (their ids). Three queries however many shots."""
    return _by(shots, lambda of_bait, of_shots: [f"{of_shots}mold", of_bait])


def by_shots(shots: QuerySet[Shots]) -> Mapping[tuple[int, int], Tally]:
    """A tally for each row of shots and bait (their ids). Three queries however many shots."""
    return _by(shots, lambda of_bait, of_shots: [of_shots.removesuffix("__"), of_bait])


def _by(shots: QuerySet[Shots], keys: Callable[[str, str], list[str]]) -> Mapping[tuple, Tally]:
    """Tallies by what `keys` names, given the way to a row's bait and to its shots."""
    found: dict[tuple, Tally] = defaultdict(Tally)
    names = ("cavities", "good", "seconds", "rejects")
    results = ShotResult.objects.filter(shots__in=shots).order_by()
    own = keys("bait", "shots__")
    for row in results.values(*own).annotate(**{f"all_{n}": Sum(n) for n in names}):
        found[_key(row, own)].add(**{name: row[f"all_{name}"] for name in names})
    logged = ShotReject.objects.filter(result__shots__in=shots).order_by()
    own = keys("result__bait", "result__shots__")
    for row in logged.values(*own, "reason").annotate(total=Sum("count")):
        found[_key(row, own)].explain(row["reason"], row["total"])
    own = keys("bait", "shots__")
    for row in _sorted(shots).values(*own, "fate", "reason").annotate(total=Sum("count")):
        tally, count = found[_key(row, own)], row["total"]
        second = row["fate"] == Sorting.Fate.SECOND
        tally.add(good=-count, **{"seconds" if second else "rejects": count})
        if not second:
            tally.explain(row["reason"], count)
    return found


def _key(row: dict, names: list[str]) -> tuple:
    return tuple(row[name] for name in names)


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
