"""Money for an order: what came, and what went back."""

from datetime import date

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.utils import timezone

from inventory.services.posting import KeyReused
from inventory.templatetags.shelf import price
from shop import queries
from shop.models import Order, Payment, User

Kind = Payment.Kind


def record(
    *,
    key: str,
    order: Order,
    kind: str,
    amount_minor: int,
    paid_on: date | None = None,
    how: str = "",
    by: User | None,
) -> Payment:
    """Writes down money that came for an order, or that went back (a refund; `amount_minor` is above
    zero for it too). The same key and facts give the first one again; other facts raise KeyReused.

    Raises ValidationError at the field that is wrong."""
    facts = {
        "order_id": order.pk,
        "kind": Kind(kind),
        "paid_on": paid_on or timezone.localdate(),
        "amount_minor": -amount_minor if kind == Kind.REFUND else amount_minor,
        "how": " ".join(how.split()),
    }
    try:
        with transaction.atomic():
            locked = Order.objects.select_for_update().get(pk=order.pk)
            if earlier := Payment.objects.filter(key=key).first():
                return _same(earlier, facts)
            _refuse(locked, facts, amount_minor)
            return Payment.objects.create(key=key, by=by, **facts)
    except IntegrityError:
        # Two presses at once on two orders: the other one was first.
        return _same(Payment.objects.get(key=key), facts)


def _same(earlier: Payment, facts: dict) -> Payment:
    if any(getattr(earlier, name) != value for name, value in facts.items()):
        raise KeyReused(
            "This form was sent already, with other figures. Look at what is written down, then send "
            "it again if it is still wanted."
        )
    return earlier


def _refuse(order: Order, facts: dict, amount_minor: int) -> None:
    if amount_minor <= 0:
        raise ValidationError({"amount": "Write how much it was: more than nothing."})
    if facts["paid_on"] > timezone.localdate():
        raise ValidationError({"paid_on": "This day is still to come. Write the day it was paid."})
    money = queries.money_of(order)
    if facts["kind"] == Kind.REFUND:
        if amount_minor > money.paid_minor:
            raise ValidationError(
                {
                    "amount": f"Only {price(max(0, money.paid_minor))} was paid, so no more can go back."
                }
            )
    elif order.status == Order.Status.CANCELLED:
        raise ValidationError(
            {"kind": "This order was cancelled: money for it can only go back (a refund)."}
        )
