from collections import Counter

from django.db import migrations, models

MICRO = 1_000_000


def follow_the_ledger(apps, schema_editor):
    """Each line's bags that left by shipments that stand, and the state that follows from them."""
    Movement = apps.get_model("inventory", "Movement")
    OrderLine = apps.get_model("shop", "OrderLine")
    Order = apps.get_model("shop", "Order")
    left = Counter()
    lines = Movement.objects.filter(
        entry__shipment__isnull=False, entry__reversed_by=None, role="drawn", revalues=None
    )
    for order, item, quantity in lines.values_list(
        "entry__shipment__order", "lot__item", "quantity"
    ):
        left[order, item] -= quantity
    changed = []
    for line in OrderLine.objects.select_related("product"):
        shipped = left[line.order_id, line.product.item_id] // MICRO
        if line.shipped != shipped:
            line.shipped = shipped
            changed.append(line)
    OrderLine.objects.bulk_update(changed, ["shipped"], batch_size=500)
    waiting = OrderLine.objects.filter(shipped__lt=models.F("bags")).values("order")
    empty = Order.objects.filter(lines=None).values("pk")
    gone = Order.objects.filter(shipments__entry__reversed_by=None, shipments__isnull=False)
    gone = set(gone.values_list("pk", flat=True))
    still = Order.objects.filter(pk__in=waiting) | Order.objects.filter(pk__in=empty)
    still = set(still.values_list("pk", flat=True))
    changed = []
    for order in Order.objects.all():
        if order.status == "cancelled" and order.pk not in gone:
            continue
        status = "open" if order.pk in still else "shipped"
        if order.status != status:
            order.status = status
            changed.append(order)
    Order.objects.bulk_update(changed, ["status"], batch_size=500)


class Migration(migrations.Migration):
    dependencies = [("shop", "0002_orders_sales_and_papers")]

    operations = [
        migrations.AddField(
            model_name="orderline",
            name="credited",
            field=models.PositiveIntegerField(default=0),
        ),
        migrations.AddField(
            model_name="orderline",
            name="dropped",
            field=models.PositiveIntegerField(default=0),
        ),
        migrations.AddField(
            model_name="return",
            name="replace",
            field=models.BooleanField(default=False),
        ),
        migrations.RunPython(follow_the_ledger, migrations.RunPython.noop),
    ]
