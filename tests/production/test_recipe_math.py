"""Scaling doses in whole millionths."""

from decimal import ROUND_HALF_EVEN, Context, Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from production import recipe_math

AMOUNTS = st.integers(min_value=0, max_value=10**15)


@given(quantity=AMOUNTS, base=AMOUNTS, reference=st.integers(min_value=1, max_value=10**12))
def test_rounds_half_even_like_decimal_arithmetic(quantity, base, reference):
    # decimal's own ROUND_HALF_EVEN (General Decimal Arithmetic specification) is the outside check
    exact = Context(prec=80).divide(Decimal(quantity * base), Decimal(reference))
    wanted = int(exact.to_integral_value(ROUND_HALF_EVEN))
    assert recipe_math.scaled(quantity, base, reference) == wanted


@pytest.mark.parametrize(("quantity", "half"), [(1, 0), (3, 2), (5, 2), (7, 4)])
def test_ties_go_to_the_even_millionth(quantity, half):
    assert recipe_math.scaled(quantity, 1, 2) == half


def test_reference_of_nothing_is_refused():
    with pytest.raises(ValueError, match="more than zero"):
        recipe_math.scaled(1, 1, 0)
