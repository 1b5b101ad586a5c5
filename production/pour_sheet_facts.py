"""An evening's batches in the words of the pour sheet."""

from django.utils import timezone

from inventory.models import Item, Movement
from inventory.wording import quantity_text
from production import evening_story, plan_page, plan_sheet, pour_record, pour_sheet
from production.models import Batch, Plan, Pour, Shots


def sheet(pour: Pour, shop) -> pour_sheet.PourSheet:
    """The sheet of an evening as it stands. `shop` gives its name and its units."""
    batches = pour_record.batches(pour)
    lines: dict[int, list[Movement]] = {}
    drawn = Movement.objects.filter(
        entry__in=[batch.entry_id for batch in batches], role=Movement.Role.DRAWN
    )
    for line in drawn.select_related("lot__item"):
        lines.setdefault(line.entry_id, []).append(line)
    moldings: dict[int, list[pour_sheet.Molding]] = {}
    shots = Shots.objects.filter(pour=pour, entry__reversed_by=None).select_related("mold")
    for shot in shots.prefetch_related("batches"):
        for batch in shot.batches.all():
            moldings.setdefault(batch.pk, []).append(pour_sheet.Molding(str(shot.mold), shot.count))
    return pour_sheet.PourSheet(
        shop=shop.name if shop else "",
        date=f"{pour.business_date:%A, %B} {pour.business_date.day}, {pour.business_date.year}",
        batches=tuple(
            _batch(batch, lines.get(batch.entry_id, []), moldings.get(batch.pk, []))
            for batch in batches
        )
        + _waiting(pour),
        paper=paper_of(shop),
        notes=pour.note,
    )


def of_plan(plan: Plan, shop) -> pour_sheet.PourSheet:
    """The sheet of an evening that is only planned, with today's date until it is poured."""
    day = plan.pour.business_date if plan.pour else timezone.localdate()
    return pour_sheet.PourSheet(
        shop=shop.name if shop else "",
        date=f"{day:%A, %B} {day.day}, {day.year}",
        batches=plan_sheet.whole(plan),
        paper=paper_of(shop),
    )


def _waiting(pour: Pour) -> tuple[pour_sheet.Batch, ...]:
    """What the evening's plan still has in store; nothing once the evening is closed."""
    plan = Plan.objects.filter(pour=pour).first()
    return plan_sheet.waiting(plan_page.waiting(plan)) if plan and not pour.closed_at else ()


def paper_of(shop) -> str:
    """The paper that a shop prints on; letter where nobody said."""
    return "a4" if shop and shop.units == "metric" else "letter"


def _batch(batch: Batch, lines: list[Movement], moldings) -> pour_sheet.Batch:
    leftovers = [line.lot for line in lines if line.lot.item.kind == Item.Kind.LEFTOVER]
    return pour_sheet.Batch(
        recipe=str(batch),
        base=quantity_text(batch.lot.made, "mL"),
        cup=str(batch.cup or ""),
        chip=evening_story.color_of(batch),
        doses=tuple(_dose(line) for line in lines if line.lot.item.kind in Item.DOSED),
        moldings=tuple(moldings),
        note="goes on from " + ", ".join(lot.number for lot in leftovers) if leftovers else "",
    )


def _dose(line: Movement) -> pour_sheet.Dose:
    measure = line.said or quantity_text(-line.quantity, line.lot.item.stock_unit)
    return pour_sheet.Dose(line.lot.item.name, f"≈ {measure}" if line.estimated else measure)
