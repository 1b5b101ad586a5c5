from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("inventory", "0007_what_came_back")]

    operations = [
        migrations.AddIndex(
            model_name="lot",
            index=models.Index(fields=["item", "received_on"], name="lot_arrivals"),
        )
    ]
