"""Saying, after something was posted at the bench, what the books made of it."""

from django.contrib import messages
from django.http import HttpRequest

from inventory.models import Entry, Movement
from inventory.wording import quantity_text


def posted(request: HttpRequest, entry: Entry) -> None:
    """What was posted, and what the bench used beyond what the shelf knew of."""
    messages.success(request, f"{entry.title}.")
    for line in surprises(entry):
        messages.warning(request, line)


def surprises(entry: Entry) -> list[str]:
    """What was booked as found, and what was taken for an estimate."""
    found = entry.movements.filter(role=Movement.Role.FOUND).select_related("lot__item")
    lines = [
        f"{line.lot.item} {line.lot}: {quantity_text(line.quantity, line.lot.item.stock_unit)} "
        "more than the shelf knew of was booked as found. Count it when there is time."
        for line in found
    ]
    for line in entry.movements.filter(estimated=True).select_related("lot__item"):
        amount = quantity_text(-line.quantity, line.lot.item.stock_unit)
        lines.append(f"{line.lot.item}: “{line.said}” was kept as said and posted as ≈ {amount}.")
    return lines
