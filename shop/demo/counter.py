"""What happens at the demo shop's counter besides taking orders: price lists, money, a color wanted."""

from datetime import date, timedelta
from decimal import Decimal

from production.models import Product
from shop import queries
from shop.demo import orders
from shop.models import Customer, Order, Payment, User
from shop.services import color_requests, payments, price_lists

#: Customers pay within so many days.
PAID_AFTER = 6


def add_price_lists() -> None:
    """The lists, and who pays by them; the customers and products are there already."""
    for name, percent_off, own, who in orders.PRICE_LISTS:
        kept = price_lists.save(
            None,
            name=name,
            percent_off=Decimal(percent_off),
            own={Product.objects.get(item__name=item): cents for item, cents in own.items()},
        )
        Customer.objects.filter(name__in=who).update(price_list=kept)


def settle(*, today: date, by: User) -> None:
    """Whoever got everything a week ago has paid by now; one of the others left a deposit; one wants a
    color."""
    for order in queries.orders().filter(status=Order.Status.SHIPPED).order_by("pk"):
        paid_on = order.due_on + timedelta(days=PAID_AFTER)
        if paid_on <= today:
            _pay(order, Payment.Kind.PAYMENT, queries.money_of(order).due_minor, paid_on, by)
    who, cents = orders.DEPOSIT
    waiting = Order.objects.filter(customer__name=who, status=Order.Status.OPEN).order_by("pk")
    if order := waiting.last():
        _pay(order, Payment.Kind.DEPOSIT, cents, order.ordered_on, by)
    who, note, target = orders.WISH
    customer = Customer.objects.get(name=who)
    asked_on = today - timedelta(days=4)
    color_requests.ask(customer=customer, note=note, target=target, asked_on=asked_on, by=by)


def _pay(order: Order, kind: str, amount_minor: int, paid_on: date, by: User) -> None:
    payments.record(
        key=f"demo-paid-{order.pk}",
        order=order,
        kind=kind,
        amount_minor=amount_minor,
        paid_on=paid_on,
        how="check" if order.customer.price_list_id else "cash",
        by=by,
    )
