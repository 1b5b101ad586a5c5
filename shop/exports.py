"""Everything the house keeps, as sheets, to take along."""

from django.apps import apps

from inventory import exports as shelf
from inventory.exchange.writing import Sheet
from inventory.exports import TableSheet, money, sheet
from production import exports as bench
from shop.models import (
    ColorRequest,
    Customer,
    Invoice,
    ListPrice,
    Order,
    OrderLine,
    Payment,
    PriceList,
    ProductAlias,
    Return,
    Shipment,
    User,
)

#: What tables without a sheet of their own are called by: their columns as they are kept.
REST = "raw "


def sheets() -> list[Sheet]:
    """Every table, each read row by row as it is written."""
    found = [*shelf.sheets(), *bench.sheets(), *_front()]
    covered = {each.model for each in found if isinstance(each, TableSheet)}
    return [*found, *_rest(covered)]


def _rest(covered: set) -> list[Sheet]:
    """Tables that nobody gave a sheet, so that everything is there, whatever is added."""
    rest = []
    for app in ("inventory", "production", "shop"):
        for model in apps.get_app_config(app).get_models():
            if model not in covered:
                names = [field.attname for field in model._meta.concrete_fields]
                rows = model._base_manager.order_by("pk")
                name = REST + str(model._meta.verbose_name_plural)
                rest.append(sheet(name, ", ".join(names), rows, *(_field(each) for each in names)))
    return rest


def _field(name: str):
    return lambda row: getattr(row, name)


def _front() -> list[Sheet]:
    return [
        # Without what a person signs in by.
        sheet(
            "people",
            "id, username, first name, last name, role, active",
            User.objects.order_by("id"),
            *("id", "username", "first_name", "last_name", "role", "is_active"),
        ),
        sheet(
            "customers",
            "id, name, email, phone, address, notes, price list",
            Customer.objects.select_related("price_list").order_by("id"),
            *("id", "name", "email", "phone", "address", "notes", "price_list__name"),
        ),
        sheet(
            "price lists",
            "id, name, percent off",
            PriceList.objects.order_by("id"),
            *("id", "name", "percent_off"),
        ),
        sheet(
            "list prices",
            "price list, product, price",
            ListPrice.objects.select_related("price_list", "product__item").order_by("id"),
            *("price_list__name", "product__item__name", lambda row: money(row.price_minor)),
        ),
        sheet(
            "orders",
            "id, customer, ordered on, due on, status, ship to, discount percent, shipping, source, "
            "source reference, look at, notes",
            Order.objects.select_related("customer").order_by("id"),
            *("id", "customer__name", "ordered_on", "due_on", "status", "ship_to"),
            *("discount_percent", lambda row: money(row.shipping_minor), "source"),
            *("source_reference", "look_at", "notes"),
        ),
        sheet(
            "order lines",
            "order id, product, bags, price, discount percent, shipped, came back, not coming",
            OrderLine.objects.select_related("product__item").order_by("id"),
            *("order_id", "product__item__name", "bags", lambda row: money(row.price_minor)),
            *("discount_percent", "shipped", "credited", "dropped"),
        ),
        sheet(
            "shipments",
            "id, order id, entry id, shipped at, title, ship to, carrier, tracking number, weight g",
            Shipment.objects.select_related("entry").order_by("id"),
            *("id", "order_id", "entry_id", "entry__happened_at", "entry__title"),
            *("ship_to", "carrier", "tracking", "weight_g"),
        ),
        sheet(
            "returns",
            "shipment id, entry id, came back at, title, fate, others sent, reason",
            Return.objects.select_related("entry").order_by("id"),
            *("shipment_id", "entry_id", "entry__happened_at", "entry__title"),
            *("fate", "replace", "reason"),
        ),
        sheet(
            "invoices",
            "number, order id, issued on",
            Invoice.objects.order_by("id"),
            *("number", "order_id", "issued_on"),
        ),
        sheet(
            "payments",
            "order id, kind, paid on, amount, how, by",
            Payment.objects.select_related("by").order_by("id"),
            *("order_id", "kind", "paid_on", lambda row: money(row.amount_minor), "how"),
            "by__username",
        ),
        sheet(
            "colors wanted",
            "id, customer, order id, asked on, note, target, trial recipe, state",
            ColorRequest.objects.select_related("customer", "trial").order_by("id"),
            *("id", "customer__name", "order_id", "asked_on", "note", "target", "trial__name"),
            "state",
        ),
        sheet(
            "products' other names",
            "text, product",
            ProductAlias.objects.select_related("product__item").order_by("id"),
            *("text", "product__item__name"),
        ),
    ]
