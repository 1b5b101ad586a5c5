"""Colors that customers want and nobody has poured yet."""

from datetime import date
from typing import Any

from django.core.files.base import File
from django.db import transaction
from django.utils import timezone

from inventory.services import files
from production.models import Recipe
from shop.models import ColorRequest, Customer, Order, User


@transaction.atomic
def ask(
    *,
    customer: Customer,
    note: str,
    target: str = "",
    order: Order | None = None,
    picture: File | None = None,
    asked_on: date | None = None,
    by: User | None,
) -> ColorRequest:
    """Writes a wish down, of today unless `asked_on` says another day. Raises ValidationError at `picture` for a file that is no picture."""
    return ColorRequest.objects.create(
        customer=customer,
        note=note,
        target=target,
        order=order,
        asked_on=asked_on or timezone.localdate(),
        picture=_taken_in(picture, customer, by),
    )


@transaction.atomic
def change(
    request: ColorRequest,
    *,
    note: str,
    target: str,
    order: Order | None,
    trial: Recipe | None,
    state: str,
    picture: File | None = None,
    by: User | None,
) -> ColorRequest:
    """What the wish says now, and how far it is. A new picture takes the old one's place."""
    old = request.picture
    facts: dict[str, Any] = {
        "note": note,
        "target": target,
        "order": order,
        "trial": trial,
        "state": state,
    }
    if picture:
        facts["picture"] = _taken_in(picture, request.customer, by)
    for name, value in facts.items():
        setattr(request, name, value)
    request.save(update_fields=list(facts))
    if picture and old:
        files.forget(old)
    return request


def _taken_in(picture: File | None, customer: Customer, by: User | None):
    if picture is None:
        return None
    return files.take_in_picture(picture, name=f"Color that {customer} wants", by=by)
