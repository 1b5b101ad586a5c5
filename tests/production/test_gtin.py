"""Article numbers as they are typed from a certificate."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from production import gtin

prefixes = st.sampled_from([7, 11, 12, 13]).flatmap(
    lambda size: st.text("0123456789", min_size=size, max_size=size)
)
numbers = prefixes.filter(lambda text: text.strip("0")).map(
    lambda text: f"{text}{gtin.check_digit(text)}"
)


def test_spaces_and_hyphens_are_left_out():
    assert gtin.validate(" 6 29104-15002 13 ") == "6291041500213"


@given(numbers)
def test_padding_to_fourteen_digits_keeps_a_number_valid(number):
    assert gtin.validate(number.zfill(14)) == number.zfill(14)


@given(numbers, st.data())
def test_any_single_wrong_digit_is_noticed(number, data):
    place = data.draw(st.integers(0, len(number) - 1))
    other = data.draw(st.sampled_from([digit for digit in "0123456789" if digit != number[place]]))
    with pytest.raises(gtin.GtinError):
        gtin.validate(number[:place] + other + number[place + 1 :])


@pytest.mark.parametrize(
    ("typed", "message"),
    [
        ("036000241450", "The last digit of 036000241450 should be 7, not 0"),
        ("12345", "has 8, 12, 13 or 14 digits; this one has 5"),
        ("", "digits"),
        ("03600024145X", "digits 0 to 9"),
        ("٠٣٦٠٠٠٢٤١٤٥٧", "digits 0 to 9"),
        ("²²²²²²²²", "digits 0 to 9"),
        ("00000000", "all zeros"),
    ],
)
def test_refusal_says_what_is_wrong(typed, message):
    with pytest.raises(gtin.GtinError, match=message):
        gtin.validate(typed)


@pytest.mark.parametrize("typed", ["", "12a", "-1", "1 2"])
def test_check_digit_is_for_digits_only(typed):
    with pytest.raises(gtin.GtinError, match="digits 0 to 9"):
        gtin.check_digit(typed)
