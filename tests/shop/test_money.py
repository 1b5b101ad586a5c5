"""What an order comes to: by hand, and the database's figure against the exact one."""

import random
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

import pytest

from shop import money, queries
from shop.models import Customer, Order, OrderLine, Payment


@pytest.mark.parametrize(
    ("bags", "price", "percent", "total"),
    [
        (3, 650, 0, 1950),
        # 3 × 6.55 = 19.65 less 10 % = 17.685: half a cent goes up.
        (3, 655, 10, 1769),
        # 12.5 % off 4.00 is 3.50.
        (1, 400, "12.5", 350),
        (1, 1, 50, 1),
        (7, 999, 100, 0),
    ],
)
def test_a_line_is_bags_by_price_less_its_discount_rounded_once(bags, price, percent, total):
    assert money.line_total(bags, price, Decimal(percent)) == total


def test_the_order_s_discount_is_rounded_once_and_shipping_is_not_discounted():
    # 17.69 + 19.50 = 37.19; 5 % of it is 1.8595, so 1.86 comes off; 6.00 for shipping.
    total = money.order_total(
        [(3, 655, 10), (3, 650, 0)],
        discount_percent=5,
        shipping_minor=600,
        payments_minor=[2000, -500],
    )
    assert (total.goods_minor, total.discount_minor, total.total_minor) == (3719, 186, 4133)
    assert (total.paid_minor, total.due_minor) == (1500, 2633)


@pytest.mark.parametrize("percent", [-1, Decimal("100.01")])
def test_a_discount_below_nothing_or_above_all_is_refused(percent):
    with pytest.raises(ValueError, match="between 0 and 100"):
        money.line_total(1, 100, percent)


def _by_decimal(lines, percent, shipping) -> int:
    """The same with the standard library's decimal arithmetic, in currency units."""
    cent = Decimal("0.01")

    def cents(amount: Decimal) -> Decimal:
        return amount.quantize(cent, rounding=ROUND_HALF_UP)

    goods = sum(cents(n * (Decimal(p) / 100) * (100 - d) / 100) for n, p, d in lines)
    return int((goods - cents(goods * percent / 100) + Decimal(shipping) / 100) * 100)


@pytest.mark.django_db
def test_a_thousand_random_orders_come_to_the_same_in_every_place(make_product, take_order):
    dice = random.Random(20261204)
    products = [make_product(f"Bait {n}") for n in range(5)]
    customer = Customer.objects.create(name="Juniper Vale")

    def percent() -> Decimal:
        return Decimal(dice.choice([0, 0, dice.randint(0, 10_000)])) / 100

    orders = Order.objects.bulk_create(
        Order(
            customer=customer,
            ordered_on=date(2026, 11, 20),
            discount_percent=percent(),
            shipping_minor=dice.choice([0, dice.randint(0, 3000)]),
        )
        for _ in range(1000)
    )
    OrderLine.objects.bulk_create(
        OrderLine(
            order=order,
            product=product,
            bags=dice.choice([1, dice.randint(1, 40), dice.randint(1, 100_000)]),
            price_minor=dice.choice([dice.randint(0, 2000), dice.randint(0, 10**11)]),
            discount_percent=percent(),
            dropped=dice.choice([0, 0, 0, 1]),
            credited=dice.choice([0, 0, 0, 1]),
        )
        for order in orders
        for product in dice.sample(products, dice.randint(1, 5))
    )
    Payment.objects.bulk_create(
        Payment(
            order=order,
            key=f"k{order.pk}",
            paid_on=date(2026, 11, 21),
            amount_minor=dice.randint(-500, 5000),
        )
        for order in orders[::3]
    )
    listed = queries.orders().annotate(total_minor=queries.TOTAL_MINOR)
    for order in listed.prefetch_related("lines", "payments"):
        exact = queries.money_of(order)
        lines = [(n.billed, n.price_minor, n.discount_percent) for n in order.lines.all()]
        by_decimal = _by_decimal(lines, order.discount_percent, order.shipping_minor)
        assert order.total_minor == exact.total_minor == by_decimal
        paid = sum(payment.amount_minor for payment in order.payments.all())
        assert exact.due_minor == by_decimal - paid
    states = queries.line_states(orders[:50])
    for order in orders[:50]:
        assert tuple(line.value_minor for line in states[order.pk]) == queries.money_of(order).lines
