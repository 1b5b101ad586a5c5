"""The entries of shots: the shots themselves, the parts that lay in their cavities, and what uses them."""

from django.db.models import QuerySet

from inventory import queries
from inventory.models import Entry
from production.models import Shots


def parts(shots: Shots) -> QuerySet[Entry]:
    """Standing entries of the hooks and rattles in these shots' cavities: of the same key, numbered."""
    return queries.standing().filter(key__startswith=f"{shots.entry.key}#")


def users(shots: Shots) -> list[Entry]:
    """What must be undone before these shots can be: the newest first.

    Their own parts go with them; the parts of later shots stand for those shots."""
    own = set(parts(shots).values_list("pk", flat=True))
    found = [entry for entry in queries.users_of(shots.entry) if entry.pk not in own]
    heads = {entry.key.rpartition("#")[0] for entry in found}
    later = {e.key: e for e in queries.standing().filter(key__in=heads, shots__isnull=False)}
    return list({e.pk: e for e in (later.get(e.key.rpartition("#")[0], e) for e in found)}.values())
