"""The front of house: the shop itself, who works in it, customers and orders."""

import zoneinfo
from decimal import Decimal

from django.contrib.auth.models import AbstractUser
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models

from inventory.models import Entry, Place, StoredFile, hex_color
from production.models import Product, Recipe


def known_time_zone(name: str) -> None:
    if name not in zoneinfo.available_timezones():
        raise ValidationError("Choose a time zone from the list, such as America/Chicago.")


class User(AbstractUser):
    class Role(models.TextChoices):
        OWNER = "owner", "owner"
        HELPER = "helper", "helper"

    role = models.CharField(max_length=8, choices=Role, default=Role.HELPER)

    @property
    def is_owner(self) -> bool:
        return self.role == self.Role.OWNER


class Shop(models.Model):
    """The one shop of this database (its primary key is always 1)."""

    class Units(models.TextChoices):
        US = "us", "US customary"
        METRIC = "metric", "metric"

    name = models.CharField(max_length=80)
    town = models.CharField("town and state", max_length=120, blank=True)
    units = models.CharField(max_length=8, choices=Units, default=Units.US)
    currency = models.CharField(
        max_length=3,
        default="USD",
        validators=[
            RegexValidator(r"^[A-Z]{3}$", "Three capital letters, as in USD or EUR (ISO 4217).")
        ],
    )
    time_zone = models.CharField(max_length=60, default="UTC", validators=[known_time_zone])
    demo = models.BooleanField(default=False)
    # What labels and papers say about the shop.
    address = models.TextField("address", max_length=400, blank=True)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    #: Where phones in the house reach this server; QR codes on lids and shelf labels carry it.
    server_address = models.URLField("address of this server", blank=True)
    #: A page for customers; only if it is set do bags carry a QR code.
    public_address = models.URLField("address for customers", blank=True)
    logo = models.ForeignKey(
        StoredFile, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    invoice_note = models.TextField("below every invoice", max_length=600, blank=True)

    class Meta:
        constraints = [models.CheckConstraint(condition=models.Q(id=1), name="one_shop")]

    def __str__(self) -> str:
        return self.name


def percent(label: str, **options) -> models.DecimalField:
    return models.DecimalField(
        label,
        max_digits=5,
        decimal_places=2,
        default=0,
        validators=[MinValueValidator(Decimal(0)), MaxValueValidator(Decimal(100))],
        **options,
    )


class PriceList(models.Model):
    """Prices for some customers or a place: so much off the product's own price, save where named."""

    name = models.CharField(max_length=60, unique=True)
    percent_off = percent("per cent off")

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class ListPrice(models.Model):
    """One product's price in a list, in place of the list's per cent off."""

    price_list = models.ForeignKey(PriceList, on_delete=models.CASCADE, related_name="prices")
    product = models.ForeignKey(Product, on_delete=models.CASCADE, related_name="list_prices")
    price_minor = models.PositiveBigIntegerField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["price_list", "product"], name="list_price_once")
        ]


class Customer(models.Model):
    name = models.CharField(max_length=120, unique=True)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    address = models.TextField(blank=True)
    notes = models.TextField(blank=True)
    #: Null: the products' own prices.
    price_list = models.ForeignKey(
        PriceList, null=True, blank=True, on_delete=models.SET_NULL, related_name="customers"
    )

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Order(models.Model):
    class Status(models.TextChoices):
        OPEN = "open", "open"
        SHIPPED = "shipped", "shipped"
        CANCELLED = "cancelled", "cancelled"

    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="orders")
    ordered_on = models.DateField()
    due_on = models.DateField(null=True, blank=True)
    status = models.CharField(max_length=10, choices=Status, default=Status.OPEN, db_index=True)
    notes = models.TextField(blank=True)
    #: Where it goes; empty: the customer's address.
    ship_to = models.TextField(max_length=400, blank=True)
    #: Off the whole order, after the lines' own discounts.
    discount_percent = percent("discount (%)")
    #: What the customer pays for shipping.
    shipping_minor = models.PositiveBigIntegerField(default=0)
    #: Where it was placed and its number there: "web shop", "1042". Empty: typed in here.
    source = models.CharField(max_length=60, blank=True)
    source_reference = models.CharField(max_length=60, blank=True)
    #: Why someone should look at it: a hold was lost, say.
    look_at = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["-ordered_on", "-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["source", "source_reference"],
                condition=~models.Q(source_reference=""),
                name="order_taken_over_once",
            )
        ]

    def __str__(self) -> str:
        return f"Order {self.pk} for {self.customer}"


class OrderLine(models.Model):
    order = models.ForeignKey(Order, on_delete=models.CASCADE, related_name="lines")
    product = models.ForeignKey(Product, on_delete=models.PROTECT, related_name="order_lines")
    bags = models.PositiveIntegerField(validators=[MinValueValidator(1)])
    price_minor = models.PositiveBigIntegerField()
    discount_percent = percent("discount (%)")
    # The next two follow from the ledger: services/shipped.py.
    #: Bags that have left for it and not come back.
    shipped = models.PositiveIntegerField(default=0)
    #: Bags that came back and are not sent again: the customer need not pay for them.
    credited = models.PositiveIntegerField(default=0)
    #: Bags that will not come: the order was closed without them.
    dropped = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["order", "product"], name="product_once_per_order")
        ]

    @property
    def billed(self) -> int:
        """Bags that the customer pays for."""
        return max(0, self.bags - self.dropped - self.credited)

    @property
    def remaining(self) -> int:
        """Bags still to be sent."""
        return max(0, self.billed - self.shipped)


class Shipment(models.Model):
    """What left the house for an order; its entry names the lots."""

    order = models.ForeignKey(Order, on_delete=models.PROTECT, related_name="shipments")
    entry = models.OneToOneField(Entry, on_delete=models.PROTECT, related_name="shipment")
    ship_to = models.TextField(max_length=400, blank=True)
    carrier = models.CharField(max_length=60, blank=True)
    tracking = models.CharField("tracking number", max_length=80, blank=True)
    #: Null: something in it has no known weight.
    weight_g = models.PositiveIntegerField(null=True, blank=True)


class Invoice(models.Model):
    """The number and day under which an order was billed; never given twice."""

    order = models.OneToOneField(Order, on_delete=models.PROTECT, related_name="invoice")
    number = models.CharField(max_length=20, unique=True)
    issued_on = models.DateField()


class Payment(models.Model):
    """Money that came for an order, or went back (negative)."""

    class Kind(models.TextChoices):
        DEPOSIT = "deposit", "deposit"
        PAYMENT = "payment", "payment"
        REFUND = "refund", "refund"

    order = models.ForeignKey(Order, on_delete=models.PROTECT, related_name="payments")
    #: The one-time key of the form that made it.
    key = models.CharField(max_length=60, unique=True, editable=False)
    kind = models.CharField(max_length=8, choices=Kind, default=Kind.PAYMENT)
    paid_on = models.DateField()
    amount_minor = models.BigIntegerField()
    how = models.CharField("how it was paid", max_length=40, blank=True)
    by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["paid_on", "id"]


class Return(models.Model):
    """Bags that came back from a customer: into stock again, or thrown away."""

    class Fate(models.TextChoices):
        STOCK = "stock", "back to the shelf"
        WASTE = "waste", "thrown away"

    shipment = models.ForeignKey(Shipment, on_delete=models.PROTECT, related_name="returns")
    entry = models.OneToOneField(Entry, on_delete=models.PROTECT, related_name="+")
    fate = models.CharField(max_length=8, choices=Fate)
    #: Others are sent in their place; otherwise the customer need not pay for them.
    replace = models.BooleanField(default=False)
    reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["id"]


class ColorRequest(models.Model):
    """A color that a customer wants and nobody has poured yet."""

    class State(models.TextChoices):
        OPEN = "open", "open"
        DONE = "done", "done"
        DROPPED = "dropped", "dropped"

    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="color_requests")
    order = models.ForeignKey(
        Order, null=True, blank=True, on_delete=models.SET_NULL, related_name="color_requests"
    )
    asked_on = models.DateField()
    note = models.TextField(max_length=2000)
    target = models.CharField("target color", max_length=7, blank=True, validators=[hex_color])
    picture = models.ForeignKey(
        StoredFile, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    trial = models.ForeignKey(
        Recipe, null=True, blank=True, on_delete=models.SET_NULL, related_name="color_requests"
    )
    state = models.CharField(max_length=8, choices=State, default=State.OPEN)

    class Meta:
        ordering = ["-id"]


class OrderMapping(models.Model):
    """How one source's CSV of orders is read: which column means what, and how it writes dates."""

    name = models.CharField(max_length=60, unique=True)
    #: Meaning → the column's heading (shop/order_import.py).
    columns = models.JSONField(default=dict)
    date_format = models.CharField(max_length=20, blank=True)

    class Meta:
        ordering = ["name"]


class ProductAlias(models.Model):
    """What others call a product: a web store's code or wording."""

    text = models.CharField(max_length=160, unique=True)
    product = models.ForeignKey(Product, on_delete=models.CASCADE, related_name="aliases")


class Consignee(models.Model):
    """Someone who sells our bags from their place: what they keep of each sale."""

    place = models.OneToOneField(Place, on_delete=models.PROTECT, related_name="consignee")
    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="consignments")
    commission_percent = percent("keeps of each sale (%)")
    price_list = models.ForeignKey(
        PriceList, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )


class StallDay(models.Model):
    """One day of selling at a stall: the cash it began with, and what was counted at the end."""

    place = models.ForeignKey(Place, on_delete=models.PROTECT, related_name="stall_days")
    business_date = models.DateField(db_index=True)
    opened_at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True, blank=True)
    float_minor = models.PositiveBigIntegerField("cash to begin with", default=0)
    #: Null until the day is closed.
    counted_minor = models.PositiveBigIntegerField("cash counted", null=True, blank=True)
    price_list = models.ForeignKey(
        PriceList, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    note = models.TextField(blank=True)
    by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-business_date", "-id"]


class Sale(models.Model):
    """Bags sold without an order: at a stall, or by a consignee."""

    class How(models.TextChoices):
        CASH = "cash", "cash"
        CARD = "card", "card or transfer"
        COUNT = "count", "found sold at the count"
        SETTLED = "settled", "settled with a consignee"

    entry = models.OneToOneField(Entry, on_delete=models.PROTECT, related_name="sale")
    place = models.ForeignKey(Place, null=True, on_delete=models.PROTECT, related_name="sales")
    day = models.ForeignKey(StallDay, null=True, on_delete=models.PROTECT, related_name="sales")
    customer = models.ForeignKey(
        Customer, null=True, on_delete=models.PROTECT, related_name="sales"
    )
    how = models.CharField(max_length=8, choices=How)
    #: What a consignee keeps of it.
    commission_minor = models.PositiveBigIntegerField(default=0)

    class Meta:
        ordering = ["-id"]


class SaleLine(models.Model):
    sale = models.ForeignKey(Sale, on_delete=models.CASCADE, related_name="lines")
    product = models.ForeignKey(Product, on_delete=models.PROTECT, related_name="sale_lines")
    bags = models.PositiveIntegerField(validators=[MinValueValidator(1)])
    price_minor = models.PositiveBigIntegerField()

    class Meta:
        ordering = ["id"]
