"""How many shots a tool has seen since it was serviced, and what is due."""

from collections.abc import Iterable
from datetime import UTC, datetime

from django.db.models import F, OuterRef, QuerySet, Subquery, Sum, Value
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
    """The tools of a kind with `worn_shots`, those that stand and were made since the last service, and
    `all_shots`. Of a laminate, each cup whose batch went in counts."""
    model, path = TOOLS[kind]
    standing = Shots.objects.filter(**{path: OuterRef("pk")}, entry__reversed_by=None)
    since = Coalesce(OuterRef("serviced_at"), Value(_NEVER))
    return model.objects.annotate(
        worn_shots=_sum(standing.filter(entry__happened_at__gt=since), path),
        all_shots=_sum(standing, path),
    )


def _sum(shots: QuerySet[Shots], path: str) -> Coalesce:
    return Coalesce(Subquery(shots.order_by().values(path).annotate(n=Sum("count")).values("n")), 0)


def due() -> Iterable[Due]:
    """Tools in use that reached their interval: one query for each kind."""
    for kind in TOOLS:
        tools = with_shots(kind).filter(archived=False, worn_shots__gte=F("service_every_shots"))
        for tool in tools:
            yield Due(
                str(tool),
                reverse("production:service", args=[kind, tool.pk]),
                reverse("production:serviced", args=[kind, tool.pk]),
                tool.worn_shots,
                tool.service_every_shots,
            )
