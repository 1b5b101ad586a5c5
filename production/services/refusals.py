"""Why a recipe, mold or product was not kept, and at which field or row of the form."""

from django.core.exceptions import ValidationError
from django.db import models

from inventory.services.posting import LedgerError


class Refusal(LedgerError):
    """Nothing was kept. `field` names the fact at fault; `row` (from 0) the line of a list."""

    def __init__(self, text: str, *, field: str = "", row: int | None = None) -> None:
        super().__init__(text)
        self.field, self.row = field, row


def keep(thing: models.Model, *, row: int | None = None) -> None:
    """Saves a row after its model's own checks; raises Refusal in the words of the first that fails."""
    try:
        thing.full_clean()
    except ValidationError as error:
        field, messages = next(iter(error.message_dict.items()))
        named = field if field in {f.name for f in thing._meta.get_fields()} else ""
        label = thing._meta.get_field(named).verbose_name if named else ""
        text = f"{label[:1].upper()}{label[1:]}: {messages[0]}" if label else messages[0]
        raise Refusal(text, field=named, row=row) from error
    thing.save()


def refuse_taken_name(
    things: models.QuerySet, name: str, what: str, *, lookup: str = "name"
) -> None:
    """Raises Refusal when one of `things` already has that name, in any case."""
    if not name:
        raise Refusal(f"Give the {what} a name.", field="name")
    if things.filter(**{f"{lookup}__iexact": name}).exists():
        article = "an" if what[0] in "aeiou" else "a"
        raise Refusal(f"There is already {article} {what} called {name}.", field="name")
