"""Plans kept before they named cups, larger batches and each grade's melts get what their pages ask for."""

from django.db import migrations

BATCH = {"extra_ml": 0.0, "extra_total_ml": 0.0, "extra_for": [], "cup": 0}
OUTCOME = {"melts": [], "melts_together": 0, "larger_saves": 0.0, "few_cups": 0, "no_seat": ""}


def batch_of(kept: dict, most_melts: int) -> dict:
    going_on = kept.get("cup_of", 0)
    words = f"the cup of batch {going_on}" if going_on else "a clean cup"
    told = {
        "cup_name": f"Cup {chr(ord('A') + kept.get('cup_row', 0))}",
        "cup_words": words,
        "most_melts": most_melts,
    }
    return BATCH | told | kept


def fill(apps, schema_editor) -> None:
    most_of = {}
    for plan in apps.get_model("production", "Plan").objects.iterator():
        outcome = plan.outcome
        most_of[plan.pk] = most = outcome.get("max_melts", 5)
        if outcome and "cup_words" not in outcome["batches"][0]:
            batches = [batch_of(batch, most) for batch in outcome["batches"]]
            plan.outcome = OUTCOME | outcome | {"batches": batches}
            plan.save(update_fields=["outcome"])
    for row in apps.get_model("production", "PlannedBatch").objects.iterator():
        if "cup_words" not in row.detail:
            row.detail = batch_of(row.detail, most_of[row.plan_id])
            row.save(update_fields=["detail"])


class Migration(migrations.Migration):
    dependencies = [("production", "0007_front_of_the_package")]

    operations = [migrations.RunPython(fill, migrations.RunPython.noop, elidable=True)]
