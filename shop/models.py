"""The front of house: the shop itself, who works in it, customers and orders."""

import zoneinfo

from django.contrib.auth.models import AbstractUser
from django.core.exceptions import ValidationError
from django.core.validators import MinValueValidator, RegexValidator
from django.db import models

from inventory.models import Entry
from production.models import Product


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

    class Meta:
        constraints = [models.CheckConstraint(condition=models.Q(id=1), name="one_shop")]

    def __str__(self) -> str:
        return self.name


class Customer(models.Model):
    name = models.CharField(max_length=120, unique=True)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    address = models.TextField(blank=True)
    notes = models.TextField(blank=True)

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

    class Meta:
        ordering = ["-ordered_on", "-id"]

    def __str__(self) -> str:
        return f"Order {self.pk} for {self.customer}"


class OrderLine(models.Model):
    order = models.ForeignKey(Order, on_delete=models.CASCADE, related_name="lines")
    product = models.ForeignKey(Product, on_delete=models.PROTECT, related_name="order_lines")
    bags = models.PositiveIntegerField(validators=[MinValueValidator(1)])
    price_minor = models.PositiveBigIntegerField()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["order", "product"], name="product_once_per_order")
        ]


class Shipment(models.Model):
    """What left the house for an order; its entry names the lots."""

    order = models.ForeignKey(Order, on_delete=models.PROTECT, related_name="shipments")
    entry = models.OneToOneField(Entry, on_delete=models.PROTECT, related_name="shipment")
