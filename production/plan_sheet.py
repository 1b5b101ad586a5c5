"""A plan in the words of the pour sheet: what waits to be mixed, before it is."""

from collections.abc import Iterable, Mapping
from typing import Any

from django.db.models import QuerySet

from production import pattern_chip, plan_page, pour_sheet
from production.models import Plan, PlannedBatch, RecipeVersion


def whole(plan: Plan) -> tuple[pour_sheet.Batch, ...]:
    """All of a plan, in the order of pouring."""
    shots = {piece["key"]: piece["shots"] for piece in plan.outcome["pieces"]}
    return batches([batch | {"shots": shots[batch["piece"]]} for batch in plan.outcome["batches"]])


def waiting(rows: Iterable[PlannedBatch]) -> tuple[pour_sheet.Batch, ...]:
    """What an evening's plan still has in store."""
    return batches([row.detail for row in rows])


def batches(details: list[Mapping[str, Any]]) -> tuple[pour_sheet.Batch, ...]:
    versions = _versions({detail["version"] for detail in details})
    return tuple(_batch(detail, versions) for detail in details)


def _short(source: Mapping[str, Any]) -> str:
    """A source in as few words as tell it apart: paper is narrow."""
    if source["kind"] == "rest":
        return f"of batch {source['batch']}"
    return source["name"].replace(",", "")


def _versions(pks: set[int]) -> Mapping[int, RecipeVersion]:
    found: QuerySet = RecipeVersion.objects.prefetch_related("doses__item")
    return found.in_bulk(pks)


def _batch(detail: Mapping[str, Any], versions: Mapping[int, RecipeVersion]) -> pour_sheet.Batch:
    facts = plan_page.weighed(detail)
    # What is kept was mostly set solid: it is weighed.
    parts = [
        pour_sheet.Dose(_short(source), source["weight"] or source["amount"])
        for source in facts["sources"]
    ]
    if facts["fresh"]:
        parts.append(pour_sheet.Dose(facts["grade_name"], facts["fresh"]))
    doses = [pour_sheet.Dose(dose["name"], dose["text"]) for dose in facts["doses"] if dose["text"]]
    return pour_sheet.Batch(
        recipe=f"{facts['number']}. {facts['name']}",
        base=facts["base"],
        cup=facts["cup_words"],
        chip=pattern_chip.version_color(versions.get(facts["version"])),
        doses=(*parts, *doses),
        moldings=tuple(pour_sheet.Molding(shot["name"], shot["shots"]) for shot in facts["shots"]),
        note=_note(facts),
    )


def _note(facts: Mapping[str, Any]) -> str:
    """What hands must know beside the doses: melts, and what is mixed to go on."""
    notes = [f"melt {facts['melts']}"] if facts["melts"] > 1 else []
    if facts["extra_ml"]:
        onward = " and ".join(str(number) for number in facts["extra_for"])
        notes.append(f"keep {facts['extra_total_ml']:.0f} mL for batch {onward}")
    return ", ".join(notes)
