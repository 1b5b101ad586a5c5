"""Customers' orders: taking, changing, shipping and cancelling them."""

from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction
from django.utils import timezone

from inventory import queries as shelf
from inventory import units
from inventory.models import Entry
from inventory.services import ledger
from inventory.services.posting import Key, LedgerError, posting
from production.models import Product
from shop import queries
from shop.models import Customer, Order, OrderLine, Shipment


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
        customer=customer, due_on=due_on, ordered_on=timezone.localdate(), state=Order.Status.OPEN
    )
    wanted = sorted((line.product.pk, line.bags) for line in lines)
    for order in today.prefetch_related("lines"):
        if sorted((line.product_id, line.bags) for line in order.lines.all()) == wanted:
            return order
    return None


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
    return order


@transaction.atomic
def cancel(order: Order) -> Order:
    """Raises OrderError when the order has shipped; undo the shipment first."""
    order = _locked(order)
    _refuse_unless_open(order)
    order.status = Order.Status.CANCELLED
    order.save(update_fields=["status"])
    return order


@posting
def ship(key: Key, *, order: Order, happened_at: datetime | None = None, by) -> Entry:
    """Sends the whole order from bagged lots, first expiring first.

    Raises LedgerError naming each product that is short and by how much: the bench's rule does not
    hold here, a bag that isn't there can't leave."""
    order = _locked(order)
    try:
        _refuse_unless_open(order)
    except OrderError as error:
        raise LedgerError(str(error)) from error
    lines = list(order.lines.select_related("product__item"))
    if not lines:
        raise LedgerError("This order has no lines. Add what was ordered first.")
    entry = ledger.post(key, _leaving(order, lines, happened_at), by=by)
    Shipment.objects.create(order=order, entry=entry)
    order.status = Order.Status.SHIPPED
    order.save(update_fields=["status"])
    return entry


def _leaving(order: Order, lines: list[OrderLine], happened_at: datetime | None) -> ledger.Event:
    draws, short = [], []
    for line in lines:
        item = line.product.item
        ready = sum(lot.available for lot in item.lots.in_stock()) // units.MICRO
        if ready < line.bags:
            short.append(
                f"{item.name}: {line.bags} ordered, {ready} bagged, {line.bags - ready} short"
            )
            continue
        picked = shelf.pick(item, units.to_micro(line.bags))
        draws += [ledger.Draw(lot, quantity) for lot, quantity in picked]
    if short:
        raise LedgerError("Not enough bags. " + "; ".join(short) + ".")
    return ledger.Event(
        kind=Entry.Kind.SHIPMENT,
        title=f"Shipped order {order.pk} to {order.customer}",
        happened_at=happened_at,
        reference=f"order:{order.pk}",
        draws=draws,
    )


def _locked(order: Order) -> Order:
    """The order as it stands now, its row held until the transaction ends."""
    Order.objects.select_for_update().get(pk=order.pk)
    return queries.orders().get(pk=order.pk)


def _refuse_unless_open(order: Order) -> None:
    if order.state == Order.Status.SHIPPED:
        raise OrderError("This order has shipped. Undo its shipment first.")
    if order.state == Order.Status.CANCELLED:
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
