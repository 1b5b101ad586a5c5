"""Customers' orders: taking, changing and cancelling them."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from inventory.services.posting import retried
from production.models import Product
from shop import prices as pricing
from shop import queries
from shop.models import Customer, Order, OrderLine, Payment, User
from shop.services import holds, payments, shipped


class OrderError(Exception):
    """An order can't be changed so; the text says why."""


@dataclass(frozen=True)
class Wanted:
    """So many bags of a product, at a price per bag in the currency's minor unit (None: what the
    customer's price list says), less so many per cent."""

    product: Product
    bags: int
    price_minor: int | None = None
    discount_percent: Decimal | int = 0


@transaction.atomic
def take(
    *,
    customer: Customer,
    lines: list[Wanted],
    ordered_on: date | None = None,
    due_on: date | None = None,
    notes: str = "",
    ship_to: str = "",
    discount_percent: Decimal | int = 0,
    shipping_minor: int = 0,
    source: str = "",
    source_reference: str = "",
    deposit_minor: int = 0,
    by: User | None = None,
) -> Order:
    """A new open order, of today unless `ordered_on` says another day. A customer not yet saved is saved
    with it. `source`, `source_reference`: where it was placed, and its number there."""
    if customer.pk is None:
        customer.save()
    order = Order.objects.create(
        customer=customer,
        ordered_on=ordered_on or timezone.localdate(),
        due_on=due_on,
        notes=notes,
        ship_to=ship_to,
        discount_percent=discount_percent,
        shipping_minor=shipping_minor,
        source=source,
        source_reference=source_reference,
    )
    _write_lines(order, lines)
    if deposit_minor:
        kind = Payment.Kind.DEPOSIT
        key = f"deposit-{order.pk}"
        payments.record(key=key, order=order, kind=kind, amount_minor=deposit_minor, by=by)
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
    ship_to: str = "",
    discount_percent: Decimal | int = 0,
    shipping_minor: int = 0,
) -> Order:
    """Replaces what an open order says. Raises OrderError when it is no longer open, or when a line would
    fall below what has left for it."""
    order = _locked(order)
    _refuse_unless_open(order)
    if customer.pk is None:
        customer.save()
    order.customer, order.due_on, order.notes = customer, due_on, notes
    order.ship_to, order.discount_percent = ship_to, discount_percent
    order.shipping_minor = shipping_minor
    order.save(
        update_fields=[
            "customer",
            "due_on",
            "notes",
            "ship_to",
            "discount_percent",
            "shipping_minor",
        ]
    )
    _replace_lines(order, lines)
    order = shipped.follow(order.pk)
    holds.fit(order)
    return order


@retried
@transaction.atomic
def cancel(order: Order) -> Order:
    """Frees what was held for it. Raises OrderError when bags have left for the order: undo their
    shipments, or close it."""
    holds.lock(order)
    order = _locked(order)
    _refuse_unless_open(order)
    if queries.standing_shipments().filter(order=order).exists():
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


def least_bags(line: OrderLine) -> int:
    """A line of an open order can't be changed to fewer bags than this."""
    return line.shipped + line.credited + line.dropped


def _replace_lines(order: Order, lines: list[Wanted]) -> None:
    """Lines are kept by their product: what has left for them stays beside them."""
    had = {line.product_id: line for line in order.lines.select_related("product__item")}
    wanted = {line.product.pk: line for line in lines}
    for pk, line in had.items():
        least, bags = least_bags(line), wanted[pk].bags if pk in wanted else 0
        if bags < least:
            raise OrderError(
                f"{line.product}: {least} bags have left for it already. Write {least} or more."
            )
    order.lines.exclude(product__in=wanted).delete()
    prices = pricing.of_customer(order.customer)
    for line in lines:
        if kept := had.get(line.product.pk):
            kept.bags, kept.discount_percent = line.bags, line.discount_percent
            kept.price_minor = _price(line, prices)
            kept.save(update_fields=["bags", "discount_percent", "price_minor"])
    _write_lines(order, [line for line in lines if line.product.pk not in had])


def _write_lines(order: Order, lines: list[Wanted]) -> None:
    prices = pricing.of_customer(order.customer)
    OrderLine.objects.bulk_create(
        OrderLine(
            order=order,
            product=wanted.product,
            bags=wanted.bags,
            price_minor=_price(wanted, prices),
            discount_percent=wanted.discount_percent,
        )
        for wanted in lines
    )


def _price(wanted: Wanted, prices: pricing.Prices) -> int:
    return prices.of(wanted.product) if wanted.price_minor is None else wanted.price_minor
