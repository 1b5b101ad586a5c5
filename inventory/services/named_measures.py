"""Keeping an item's own measures: pinch, squirt, scoop."""

import re

from django.core.exceptions import ValidationError
from django.db import transaction

from inventory import units
from inventory.models import Item, NamedMeasure

_NAME = re.compile(r"[a-z][a-z' -]*", re.IGNORECASE)


@transaction.atomic
def add(*, item: Item, name: str, quantity: int) -> NamedMeasure:
    """Keeps what one `name` of the item holds, in millionths of its stock unit.

    Raises ValidationError keyed by field: a name that can't be read behind a number, that is a unit
    already, or that the item has in one or many."""
    name = " ".join(name.split())
    if not _NAME.fullmatch(name):
        raise ValidationError({"name": "Use letters only, as one says one of them: pinch, scoop."})
    if _is_unit(name):
        raise ValidationError(
            {"name": f"“{name}” is a unit of its own already. Call it by another name: my {name}."}
        )
    item = Item.objects.select_for_update(of=("self",)).get(pk=item.pk)
    for other in item.measures.all():
        if forms_of(name) & forms_of(other.name):
            raise ValidationError(
                {"name": f"{item.name} has a {other.name} already. Remove that one first."}
            )
    measure = NamedMeasure(item=item, name=name, quantity=quantity)
    measure.full_clean()
    measure.save()
    return measure


def remove(measure: NamedMeasure) -> None:
    """Forgets a measure; what was posted in it keeps its words and its quantity."""
    measure.delete()


def forms_of(name: str) -> set[str]:
    """The ways one is said, in one and in many, as `amounts.parse` reads them."""
    one = name.casefold()
    return {one, f"{one}s", f"{one}es"}


def _is_unit(name: str) -> bool:
    try:
        units.unit(name)
    except units.UnitsError:
        # “t”, “gr” and “c” are unclear; named so, they would be unclear still.
        return len(name) < 3
    return True
