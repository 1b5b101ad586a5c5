from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0009_index_only_lines_that_correct"),
    ]

    operations = [
        migrations.AddIndex(
            model_name="lot",
            index=models.Index(
                condition=models.Q(("on_hand__gt", 0)),
                fields=["item", "received_on", "on_hand"],
                name="lots_in_stock",
            ),
        ),
        migrations.AddIndex(
            model_name="lot",
            index=models.Index(
                condition=models.Q(("count_me", True)), fields=["item"], name="lots_to_count"
            ),
        ),
    ]
