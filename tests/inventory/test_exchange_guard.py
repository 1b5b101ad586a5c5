"""Text that a spreadsheet would run as a formula: always disarmed, and given back unchanged."""

import csv
import io
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import load_workbook

from inventory.exchange import guard, writing

# What spreadsheets start a formula with (OWASP, "CSV Injection"), and its full-width forms.
SIGNS = "=+-@\t\r＝＋－＠"
BEFORE = st.text(alphabet=" \u00a0\u3000'\"“’\u200b", max_size=4)
TEXTS = st.text(alphabet=st.characters(codec="utf-8"), max_size=40)


@given(BEFORE, st.sampled_from(SIGNS), TEXTS)
def test_what_starts_like_a_formula_gets_an_apostrophe_in_front(before, sign, rest):
    assert guard.disarmed(before + sign + rest) == "'" + before + sign + rest


@given(TEXTS)
def test_no_disarmed_text_starts_with_a_sign(text):
    made = guard.disarmed(text)
    assert made == "'" + text or made == text
    assert not made.startswith(tuple(SIGNS))
    assert made.startswith("'") or not made.lstrip(" \u00a0\u3000\"'“’").startswith(tuple(SIGNS))


@given(st.one_of(TEXTS, st.builds(lambda *parts: "".join(parts), BEFORE, st.sampled_from(SIGNS))))
def test_a_disarmed_text_is_read_back_as_it_was(text):
    assert guard.rearmed(guard.disarmed(text)) == text


@pytest.mark.parametrize("text", ["Marsh green", "4 x 6 in", "O'Hare", "#c8502a", "1½ tsp", ""])
def test_harmless_text_stays_as_it_is(text):
    assert guard.disarmed(text) == guard.rearmed(text) == text


ROWS = [
    ["=1+1", " @SUM(A1)", "plain", "＝cmd"],
    [-5, Decimal("-2.50"), True, None],
    [Decimal("12345678901234567.5"), "a\x00b", "two\nlines", 'quo"te'],
]


def _sheet():
    return writing.Sheet("things", ["one", "=two", "three", "four"], lambda: ROWS)


def test_a_workbook_holds_numbers_and_strings_and_never_a_formula():
    out = io.BytesIO()
    writing.write_xlsx([_sheet()], out)
    page = load_workbook(io.BytesIO(out.getvalue()))["things"]
    cells = [[cell.value for cell in row] for row in page.rows]
    kinds = {cell.data_type for row in page.rows for cell in row if cell.value is not None}
    assert kinds == {"s", "n"}
    assert cells[0] == ["one", "'=two", "three", "four"]
    assert cells[1] == ["'=1+1", "' @SUM(A1)", "plain", "'＝cmd"]
    assert cells[2] == [-5, -2.5, "yes", None]
    # More digits than a spreadsheet's number can hold are kept as text.
    assert cells[3] == ["12345678901234567.5", "ab", "two\nlines", 'quo"te']


def test_a_csv_file_is_disarmed_and_marked_as_utf_8():
    out = io.BytesIO()
    writing.write_csv(_sheet(), out)
    assert out.getvalue().startswith(b"\xef\xbb\xbf")
    rows = list(csv.reader(io.StringIO(out.getvalue().decode("utf-8-sig"))))
    assert rows[1] == ["'=1+1", "' @SUM(A1)", "plain", "'＝cmd"]
    assert rows[2] == ["-5", "-2.5", "yes", ""]


@given(st.lists(TEXTS, min_size=1, max_size=5))
def test_no_cell_of_a_csv_file_starts_with_a_sign(texts):
    out = io.BytesIO()
    writing.write_csv(writing.Sheet("t", texts, lambda: [texts]), out)
    for row in csv.reader(io.StringIO(out.getvalue().decode("utf-8-sig"), newline="")):
        assert not any(cell.startswith(tuple(SIGNS)) for cell in row)
