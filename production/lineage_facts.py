"""What the bench knows of the lots in a family: a batch with its heats, and data sheets of what went in."""

from collections.abc import Iterable

from django.db.models import Count, Max
from django.urls import reverse

from inventory.lineage import Fact
from inventory.models import ItemFile, Lot
from production.models import Batch, Heat, Shots


def told(lots: Iterable[int]) -> list[Fact]:
    """Seven queries: batches with their evening and recipe, their heats, whose trim it is, and data sheets of items from outside."""
    lots = list(lots)
    heats = {
        row["batch"]: row
        for row in Heat.objects.filter(batch__lot__in=lots)
        .order_by()
        .values("batch")
        .annotate(times=Count("pk"), peak=Max("peak_c"))
    }
    batches = Batch.objects.filter(lot__in=lots).prefetch_related("pour", "version__recipe")
    facts = [_batch(batch, heats.get(batch.pk)) for batch in batches]
    facts += _trim(lots)
    sheets = ItemFile.objects.filter(
        kind=ItemFile.Kind.DATA_SHEET, item__lots__in=lots, item__lots__form=Lot.Form.PACK
    )
    for lot, item, file in sheets.values_list("item__lots", "item__name", "file"):
        url = reverse("inventory:file", args=[file])
        facts.append(Fact(lot, f"data sheet of {item}", url))
    return facts


def _batch(batch: Batch, heats: dict | None) -> Fact:
    text = f"{batch}, {batch.pour.business_date:%Y-%m-%d}"
    if heats:
        times = "warmed once" if heats["times"] == 1 else f"warmed {heats['times']} times"
        peak = f", up to {heats['peak'].normalize():f} °C" if heats["peak"] is not None else ""
        text += f"; {times}{peak}"
    url = reverse("production:batch", args=[batch.pour_id, batch.pk])
    return Fact(batch.lot_id, text, url, str(batch.version.recipe) if batch.version else "")


def _trim(lots: list[int]) -> list[Fact]:
    shots = Shots.objects.filter(trim_lot__in=lots).order_by("trim_lot").distinct()
    return [
        Fact(
            lot,
            f"trim of {pattern}, {day:%Y-%m-%d}",
            reverse("production:pour", args=[pour]),
            f"trim of {pattern}",
        )
        for lot, pattern, pour, day in shots.values_list(
            "trim_lot", "pattern__name", "pour", "pour__business_date"
        )
    ]
