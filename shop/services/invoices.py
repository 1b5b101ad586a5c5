"""Numbering invoices: one after the other within a year, none left out, none given twice."""

from django.db import transaction
from django.utils import timezone

from inventory.services import lots
from inventory.services.posting import LedgerError
from shop.models import Invoice, Order
from shop.services import shipping


class NoInvoice(LedgerError):
    """An order can't be billed; the text says why."""


@transaction.atomic
def issue(order: Order) -> Invoice:
    """The order's invoice: the one it has, or the next of this year, of today.

    Raises NoInvoice for a cancelled or empty order."""
    order = shipping.locked(order)
    if given := Invoice.objects.filter(order=order).first():
        return given
    if order.status == Order.Status.CANCELLED:
        raise NoInvoice("This order was cancelled, so there is nothing to bill.")
    if not order.lines.exists():
        raise NoInvoice("This order has no lines yet, so there is nothing to bill.")
    today = timezone.localdate()
    number = f"{today:%Y}-{lots.count_on(f'invoice {today:%Y}'):04d}"
    return Invoice.objects.create(order=order, number=number, issued_on=today)
