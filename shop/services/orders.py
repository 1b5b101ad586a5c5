"""Customers' orders: taking, changing and cancelling them."""

from dataclasses import dataclass
from datetime import date

from django.db import transaction
from django.utils import timezone

from inventory.services.posting import retried
from production.models import Product
from shop import queries
from shop.models import Customer, Order, OrderLine
from shop.services import holds, shipped


class OrderError(Exception):
    """An order can't be changed so; the text says why."""


@dataclass(frozen=True)
class Wanted:
    """So many bags of a product, at a price per bag in the currency's minor unit (None: list price)."""

    product: Product
    bags: int
    price_minor: int | None = None


@transaction.atomic
def take(
    *,
    customer: Customer,
    lines: list[Wanted],
    ordered_on: date | None = None,
    due_on: date | None = None,
    notes: str = "",
) -> Order:
    """A new open order, of today unless `ordered_on` says another day. A customer not yet saved is saved with it."""
    if customer.pk is None:
        customer.save()
    order = Order.objects.create(
        customer=customer,
        ordered_on=ordered_on or timezone.localdate(),
        due_on=due_on,
        notes=notes,
    )
    _write_lines(order, lines)
    return order


def twin(*, customer: Customer, lines: list[Wanted], due_on: date | None = None) -> Order | None:
    """An order just like this one that was taken today: perhaps the same one, sent twice."""
    today = queries.orders().filter(
        customer=customer, due_on=due_on, ordered_on=timezone.localdate(), status=Order.Status.OPEN
    )
    wanted = sorted((line.product.pk, line.bags) for line in lines)
    for order in today.prefetch_related("lines"):
        if sorted((line.product_id, line.bags) for line in order.lines.all()) == wanted:
            return order
    return None


@retried
@transaction.atomic
def change(
    order: Order,
    *,
    customer: Customer,
    lines: list[Wanted],
    due_on: date | None = None,
    notes: str = "",
) -> Order:
    """Replaces what an open order says; raises OrderError when it is no longer open."""
    order = _locked(order)
    _refuse_unless_open(order)
    if customer.pk is None:
        customer.save()
    order.customer, order.due_on, order.notes = customer, due_on, notes
    order.save(update_fields=["customer", "due_on", "notes"])
    order.lines.all().delete()
    _write_lines(order, lines)
    order = shipped.follow(order.pk)
    holds.fit(order)
    return order


@retried
@transaction.atomic
def cancel(order: Order) -> Order:
    """Frees what was held for it. Raises OrderError when bags have left for the order: undo their
    shipments, or close it."""
    order = _locked(order)
    _refuse_unless_open(order)
    if order.some_left:
        raise OrderError(
            "Bags have left for this order. Undo their shipments first, or close the order: the rest "
            "is then not coming."
        )
    order.status = Order.Status.CANCELLED
    order.save(update_fields=["status"])
    holds.release_order(order)
    return order


def _locked(order: Order) -> Order:
    """The order as it stands now, its row held until the transaction ends."""
    Order.objects.select_for_update().get(pk=order.pk)
    return queries.orders().get(pk=order.pk)


def _refuse_unless_open(order: Order) -> None:
    if order.status == Order.Status.SHIPPED:
        raise OrderError("This order has shipped. Undo its shipment first.")
    if order.status == Order.Status.CANCELLED:
        raise OrderError("This order was cancelled.")


def _write_lines(order: Order, lines: list[Wanted]) -> None:
    OrderLine.objects.bulk_create(
        OrderLine(
            order=order,
            product=wanted.product,
            bags=wanted.bags,
            price_minor=wanted.product.price_minor
            if wanted.price_minor is None
            else wanted.price_minor,
        )
        for wanted in lines
    )
