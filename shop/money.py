"""What an order comes to, exactly: whole minor units (cents), rounded half up and only where said.

Each line is bags × price less its own discount, rounded once. The order's discount is taken from the
lines' sum and rounded once. Shipping is added as it stands. Half-up is how an invoice is read: common
practice, no source.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

#: A per cent, of 0 to 100.
Percent = Decimal | int


@dataclass(frozen=True)
class Total:
    """An order's money in minor units: its lines (in their order), what comes off, and what was paid."""

    lines: tuple[int, ...]
    discount_minor: int
    shipping_minor: int
    paid_minor: int = 0

    @property
    def goods_minor(self) -> int:
        """The lines together, before the order's discount."""
        return sum(self.lines)

    @property
    def total_minor(self) -> int:
        return self.goods_minor - self.discount_minor + self.shipping_minor

    @property
    def due_minor(self) -> int:
        """Still to be paid; below zero: so much too much was paid."""
        return self.total_minor - self.paid_minor

    @property
    def over_minor(self) -> int:
        """So much too much was paid."""
        return max(0, -self.due_minor)


def half_up(exact: Fraction) -> int:
    """The nearest whole number of a value of zero or more, a half going up."""
    if exact < 0:
        raise ValueError("Only amounts of zero or more are rounded here.")
    return int(exact + Fraction(1, 2))


def less(amount_minor: int, percent: Percent) -> int:
    """An amount less so many per cent, rounded once: a line's total, or a price in a list."""
    return half_up(Fraction(amount_minor) * (100 - _checked(percent)) / 100)


def share(amount_minor: int, percent: Percent) -> int:
    """So many per cent of an amount, rounded once: what an order's discount takes off."""
    return half_up(Fraction(amount_minor) * _checked(percent) / 100)


def line_total(bags: int, price_minor: int, discount_percent: Percent = 0) -> int:
    """What one line comes to."""
    return less(bags * price_minor, discount_percent)


def order_total(
    lines: Iterable[tuple[int, int, Percent]],
    *,
    discount_percent: Percent = 0,
    shipping_minor: int = 0,
    payments_minor: Iterable[int] = (),
) -> Total:
    """An order's money from its lines (bags, price a bag, discount in per cent) and what was paid.

    Money that went back is a payment below zero."""
    totals = tuple(line_total(*line) for line in lines)
    return Total(totals, share(sum(totals), discount_percent), shipping_minor, sum(payments_minor))


def _checked(percent: Percent) -> Fraction:
    exact = Fraction(percent)
    if not 0 <= exact <= 100:
        raise ValueError("A discount is between 0 and 100 per cent.")
    return exact
