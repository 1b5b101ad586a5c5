"""Check digits against examples that GS1 organisations print, and against a barcode library."""

import csv
from pathlib import Path

import pytest
import zxingcpp
from hypothesis import given
from hypothesis import strategies as st

from production import gtin

with open(Path(__file__).parent / "data" / "gtin.csv", encoding="utf-8", newline="") as file:
    ROWS = list(csv.DictReader(file))


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["digits"])
def test_check_digit_is_the_published_one(row):
    assert gtin.check_digit(row["digits"]) == int(row["check_digit"])


@pytest.mark.parametrize(
    "row", [r for r in ROWS if len(r["digits"]) < 14], ids=lambda r: r["digits"]
)
def test_published_number_is_valid_and_no_other_last_digit_is(row):
    for last in range(10):
        number = f"{row['digits']}{last}"
        if last == int(row["check_digit"]):
            assert gtin.validate(number) == number
        else:
            with pytest.raises(gtin.GtinError, match=f"should be {row['check_digit']}"):
                gtin.validate(number)


def test_case_code_that_kept_a_wrong_digit_is_refused():
    """GS1 mod-10 algorithm: the last digit of 9061414199999? is 9 (a typo seen in public code)."""
    with pytest.raises(gtin.GtinError, match="should be 9"):
        gtin.validate("90614141999996")


@given(st.text("0123456789", min_size=12, max_size=12).filter(lambda text: text.strip("0")))
def test_barcode_library_prints_and_reads_the_numbers_we_accept(digits):
    """zxing-cpp refuses an EAN-13 whose check digit is wrong."""
    number = f"{digits}{gtin.check_digit(digits)}"
    printed = zxingcpp.create_barcode(number, zxingcpp.BarcodeFormat.EAN13)
    assert printed.text == gtin.validate(number)
    wrong = f"{digits}{(int(number[-1]) + 1) % 10}"
    with pytest.raises(ValueError):
        zxingcpp.create_barcode(wrong, zxingcpp.BarcodeFormat.EAN13)
