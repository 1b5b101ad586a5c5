"""When tools are serviced."""

from datetime import datetime

from django.db import transaction
from django.utils import timezone

from production.models import Cup, Injector, Mold
from production.services.refusals import keep

Tool = Cup | Injector | Mold


@transaction.atomic
def set_interval(tool: Tool, every_shots: int | None) -> None:
    """After so many shots the tool is due; None: never. Raises Refusal for less than one."""
    tool.service_every_shots = every_shots
    keep(tool)


@transaction.atomic
def serviced(tool: Tool, *, at: datetime | None = None) -> None:
    """It was serviced: its shots count from there."""
    tool.serviced_at = at or timezone.now()
    keep(tool)
