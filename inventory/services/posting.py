"""One event, one transaction, once: the guard every posting service stands behind."""

import dataclasses
import hashlib
import json
from collections.abc import Callable
from datetime import date, datetime
from decimal import Decimal
from functools import wraps
from typing import Any

from django.db import IntegrityError, OperationalError, connection, models, transaction

from inventory.models import Entry


class LedgerError(Exception):
    """A posting was refused; the text says why and how to mend it, in plain words."""


class KeyReused(LedgerError):
    """The same one-time key came back with other content."""


#: PostgreSQL's code for "two transactions waited for each other, and this one gave way".
_DEADLOCK = "40P01"
_TRIES = 5


def retried(write: Callable) -> Callable:
    """Tries a whole transaction again when the database ended it so that another could go on.

    A loss locks a lot and then tells the order that held it; whoever comes from the order may meet it half
    way."""

    @wraps(write)
    def again(*args: Any, **facts: Any) -> Any:
        for turn in range(1, _TRIES + 1):
            try:
                return write(*args, **facts)
            except OperationalError as error:
                code = getattr(error.__cause__, "sqlstate", "")
                if code != _DEADLOCK or connection.in_atomic_block or turn == _TRIES:
                    raise

    return again


class Key:
    """The one-time key of an event; a second entry of the same event gets `key#2`, and so on."""

    def __init__(self, text: str, digest: str) -> None:
        self.text, self.digest, self._count = text, digest, 0

    def next(self) -> str:
        self._count += 1
        return self.text if self._count == 1 else f"{self.text}#{self._count}"


def posting(service: Callable[..., Entry]) -> Callable[..., Entry]:
    """Makes `service(key, **facts)` a transaction that posts once for each key.

    The same key with the same facts returns the entry it made the first time; with other facts it
    raises KeyReused. `by` is no part of the facts: a second press may come after a new sign-in."""

    @retried
    @wraps(service)
    def once(*, key: str, by: Any = None, **facts: Any) -> Entry:
        digest = digest_of(service.__name__, facts)
        if first := _posted(key, digest):
            return first
        try:
            with transaction.atomic():
                return service(Key(key, digest), by=by, **facts)
        except IntegrityError:
            # Two presses at once: the other one won the key.
            if first := _posted(key, digest):
                return first
            raise

    return once


def _posted(key: str, digest: str) -> Entry | None:
    entry = Entry.objects.filter(key=key).first()
    if entry and entry.digest != digest:
        raise KeyReused(
            "This form was already posted with other numbers. Nothing was added now: "
            "open the first entry, or send again to post this as a new one."
        )
    return entry


def digest_of(name: str, facts: dict[str, Any]) -> str:
    """What the facts of a service's posting come to; the same again for the same facts."""
    text = json.dumps([name, facts], sort_keys=True, default=_plain)
    return hashlib.sha256(text.encode()).hexdigest()


def _plain(value: Any) -> Any:
    if isinstance(value, models.Model):
        return f"{value._meta.label}:{value.pk}"
    if dataclasses.is_dataclass(value):
        return {f.name: getattr(value, f.name) for f in dataclasses.fields(value)}
    if isinstance(value, Decimal | date | datetime):
        return str(value)
    raise TypeError(f"{value!r} can't be part of a posting's content")
