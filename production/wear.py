"""How many shots a tool has seen since it was serviced, and what is due."""

from collections.abc import Iterable
from datetime import UTC, datetime

from django.db.models import OuterRef, QuerySet, Subquery, Sum, Value
from django.db.models.functions import Coalesce
from django.urls import reverse

from inventory.servicing import Due
from production.models import Cup, Injector, Mold, Shots

#: Tools by the word in their address, with how shots name them.
TOOLS: dict[str, tuple[type[Cup] | type[Injector] | type[Mold], str]] = {
    "mold": (Mold, "mold"),
    "injector": (Injector, "injector"),
    "cup": (Cup, "batches__cup"),
}
_NEVER = datetime(1970, 1, 1, tzinfo=UTC)


def with_shots(kind: str) -> QuerySet:
    """The tools of a kind with `worn_shots` and `all_shots`, which reads the shots of all years."""
    _, path = TOOLS[kind]
    return with_wear(kind).annotate(all_shots=_sum(_standing(path), path))


def with_wear(kind: str) -> QuerySet:
    """The tools of a kind with `worn_shots`, those that stand and were made since the last service. Of a
    laminate, each cup whose batch went in counts."""
    model, path = TOOLS[kind]
    since = Coalesce(OuterRef("serviced_at"), Value(_NEVER))
    return model.objects.annotate(
        worn_shots=_sum(_standing(path).filter(entry__happened_at__gt=since), path)
    )


def _standing(path: str) -> QuerySet[Shots]:
    return Shots.objects.filter(**{path: OuterRef("pk")}, entry__reversed_by=None)


def _sum(shots: QuerySet[Shots], path: str) -> Coalesce:
    return Coalesce(Subquery(shots.order_by().values(path).annotate(n=Sum("count")).values("n")), 0)


def due() -> Iterable[Due]:
    """Tools in use that reached their interval: one query for each kind. Of a tool without an interval no
    shot is read."""
    for kind in TOOLS:
        for tool in with_wear(kind).filter(archived=False, service_every_shots__isnull=False):
            # Compared here: asked by the database, it would count the shots once more.
            if tool.worn_shots < tool.service_every_shots:
                continue
            yield Due(
                str(tool),
                reverse("production:service", args=[kind, tool.pk]),
                reverse("production:serviced", args=[kind, tool.pk]),
                tool.worn_shots,
                tool.service_every_shots,
            )
