"""Amounts in the words of the kitchen, and back."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory import amounts, units
from production import said


@pytest.mark.parametrize(
    ("amount", "unit", "words"),
    [
        ("0.25", "tsp", "¼ tsp"),
        ("1.5", "US cup", "1½ US cups"),
        ("1", "US cup", "1 US cup"),
        ("0.333333", "tsp", "⅓ tsp"),
        ("12", "drop", "12 drops"),
        ("1", "drop", "1 drop"),
        ("0.25", "g", "0.25 g"),
        ("100.000000", "mL", "100 mL"),
    ],
)
def test_amounts_are_said_as_at_the_bench(amount, unit, words):
    # common practice, no source: spoons and cups in fractions, weights and mL in decimals
    assert said.said(Decimal(amount), unit) == words


@given(
    amount=st.decimals(min_value="0.000001", max_value=999_999, places=6),
    unit=st.sampled_from(units.UNITS),
)
def test_words_read_back_as_the_amount_that_is_kept(amount, unit):
    read = amounts.parse(said.said(amount, unit))
    assert (round(read.value, 6), read.unit) == (amount, unit)


def test_share_is_a_percentage():
    assert said.share(333_300) == "33.33 %"
