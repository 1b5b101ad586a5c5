"""Reading the opening shelf: what is understood, what is refused, and in which words."""

from datetime import date
from decimal import Decimal

import pytest

from inventory import opening_csv

HEAD = "kind,item,stock unit,amount"


def troubles(text, known=None):
    return opening_csv.read(text, known or {}).troubles


def rows(text, known=None):
    reading = opening_csv.read(text, known or {})
    assert reading.troubles == []
    return reading.rows


def test_the_template_is_itself_understood():
    found = rows(opening_csv.template())
    assert [row.kind for row in found] == ["plastisol", "colorant", "flake", "packaging"]
    # A US gallon is 3785.411784 mL: NIST Handbook 44, appendix C.
    assert found[0].quantity == 3_785_411_784
    assert found[0].cost == 52_000_000
    assert found[1].expires_on == date(2028, 3, 31)
    assert found[1].ml_per_drop == Decimal("0.03")
    assert found[2].cost is None


def test_columns_may_come_in_any_order_and_letter_size():
    found = rows("Amount,ITEM,stock_unit,Kind\n12,Copper dusk,ml,Colorant\n")
    assert (found[0].item, found[0].stock_unit, found[0].quantity) == (
        "Copper dusk",
        "mL",
        12_000_000,
    )


@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_files_of_any_spreadsheet_are_read(delimiter, line_end):
    text = line_end.join([HEAD, "colorant,Copper dusk,mL,12", "", "part,Long hook,each,5", ""])
    found = rows(text.replace(",", delimiter))
    assert [(row.line, row.item) for row in found] == [(2, "Copper dusk"), (4, "Long hook")]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "empty"),
        ("\n\n", "empty"),
        (HEAD, "no lines"),
        ("kind,item,stock unit,price\n", "Column 4 is named “price”"),
        ("kind,item,stock unit,price\n", "Expected here: amount, cost"),
        ("kind,item,stock unit\n", "lacks the column “amount”"),
        ("kind,item,item,stock unit,amount\n", "“item” is there twice"),
        (HEAD + '\ncolorant,"Copper,mL,12\n', "quotation mark"),
        (HEAD + "\ncolorant,a\0b,mL,12\n", "no text"),
        (HEAD + "\n" + "part,a,each,1\n" * 501, "more than 500 lines"),
    ],
)
def test_a_file_that_cannot_be_trusted_is_refused_as_a_whole(text, words):
    with pytest.raises(opening_csv.FileError, match=".") as refused:
        opening_csv.read(text, {})
    assert words in str(refused.value)


@pytest.mark.parametrize(
    ("line", "column", "words"),
    [
        ("color,Dusk,mL,12", "kind", "“color” is no kind"),
        (",Dusk,mL,12", "kind", "missing"),
        ("colorant,,mL,12", "item", "no name"),
        ("colorant," + "x" * 121 + ",mL,12", "item", "longer than 120"),
        ("colorant,Dusk,each,12", "stock unit", "A colorant is stocked in mL or g"),
        ("plastisol,Base,g,12", "stock unit", "stocked in mL."),
        ("colorant,Dusk,,12", "stock unit", "missing"),
        ('colorant,Dusk,mL,"12,5"', "amount", "Write 12.5 with a point"),
        ("colorant,Dusk,mL,NaN", "amount", "is not an amount"),
        ("colorant,Dusk,mL,1e309", "amount", "without the e"),
        ("colorant,Dusk,mL,-3", "amount", "less than zero"),
        ("colorant,Dusk,mL,9999999999999", "amount", "too large"),
        ("colorant,Dusk,mL,12 g", "amount", "density"),
        ("colorant,Dusk,mL,40 drops", "amount", "size of a drop"),
        ("colorant,Dusk,mL,12 bananas", "amount", "not a known unit"),
        ("part,Hook,each,2.5", "amount", "whole number"),
        ("flake,Ember,g,40", "density", "needs its density"),
        ("colorant,Dusk,mL,1,2,3", "", "6 cells but 4 columns"),
    ],
)
def test_a_line_that_is_wrong_says_where_and_why(line, column, words):
    found = troubles(f"{HEAD}\npart,Long hook,each,5\n{line}\n")
    assert (found[0].line, found[0].column) == (3, column)
    assert words in found[0].text


@pytest.mark.parametrize(
    ("column", "text", "words"),
    [
        ("cost", '"6,50"', "Write 6.50 with a point"),
        ("cost", "-1", "less than zero"),
        ("cost", "6.505", "at most 2 decimals"),
        ("cost", "NaN", "is not an amount"),
        ("expires", "03/31/2028", "year-month-day"),
        ("expires", "2028-02-30", "no day 2028-02-30"),
        ("density", "0", "more than 0 and at most 25"),
        ("density", "1e309", "without the e"),
        ("drop mL", "2", "at most 1"),
        ("drop mL", "0.0000001", "6 decimals"),
        ("color", "red", "six hex digits"),
        ("minimum", "5 g", "density"),
    ],
)
def test_an_optional_cell_that_is_wrong_is_refused(column, text, words):
    found = troubles(f"{HEAD},{column}\ncolorant,Dusk,mL,12,{text}\n")
    assert [trouble.column for trouble in found] == [column]
    assert words in found[0].text


def test_all_that_is_wrong_in_a_line_is_said_at_once():
    found = troubles(f"{HEAD},cost,color\ncolorant,Dusk,mL,x,y,z\n")
    assert [trouble.column for trouble in found] == ["amount", "cost", "color"]


def test_a_cost_without_an_amount_is_asked_about():
    assert troubles(f"{HEAD},cost\ncolorant,Dusk,mL,,5\n")[0].column == "cost"


def test_an_empty_amount_lists_the_item_without_stock():
    assert rows(f"{HEAD}\ncolorant,Dusk,mL,\n")[0].quantity == 0


def test_later_lots_of_an_item_need_no_facts_but_must_agree():
    head = f"{HEAD},density"
    fine = rows(f"{head}\nflake,Ember,g,40,1.37\nflake,ember,g,20,\n")
    assert [row.quantity for row in fine] == [40_000_000, 20_000_000]
    found = troubles(f"{head}\nflake,Ember,g,40,1.37\nflake,Ember,g,20,1.4\n")
    assert "on line 2 with “1.37”" in found[0].text


def test_an_item_on_the_shelf_lends_its_figures_and_keeps_them():
    known = {
        ("colorant", "dusk"): opening_csv.Known("mL", ml_per_drop=Decimal("0.05"), color="#9A5A2C")
    }
    head = f"{HEAD},drop mL,color"
    found = rows(f"{head}\ncolorant,Dusk,mL,40 drops,,#9a5a2c\n", known)
    assert (found[0].quantity, found[0].known) == (2_000_000, True)
    wrong = troubles(f"{head}\ncolorant,Dusk,mL,40 drops,0.03,\n", known)
    assert "already on the shelf with “0.05”" in wrong[0].text
    assert troubles(f"{head}\ncolorant,Dusk,g,4,,\n", known)[0].column == "stock unit"


def test_the_level_that_the_shelf_has_is_named():
    known = {("colorant", "dusk"): opening_csv.Known("mL", minimum=30_000_000)}
    found = troubles(f"{HEAD},minimum\ncolorant,Dusk,mL,4,20 mL\n", known)
    assert "with “30 mL”" in found[0].text


def test_an_archived_item_takes_no_stock():
    known = {("colorant", "dusk"): opening_csv.Known("mL", archived=True)}
    assert "archived" in troubles(f"{HEAD}\ncolorant,Dusk,mL,4\n", known)[0].text


def test_utf_8_is_read_with_and_without_its_mark():
    assert opening_csv.decode("Café".encode()) == "Café"
    assert opening_csv.decode("Café".encode("utf-8-sig")) == "Café"


@pytest.mark.parametrize(
    ("data", "words"),
    [
        ("kind\nCafé".encode("latin-1"), "line 2"),
        ("kind".encode("utf-16"), "UTF-8"),
        (b"PK\x03\x04", "spreadsheet file"),
        (b"x" * 1_000_001, "larger than 1 MB"),
    ],
)
def test_a_file_in_another_shape_says_what_to_do(data, words):
    with pytest.raises(opening_csv.FileError) as refused:
        opening_csv.decode(data)
    assert words in str(refused.value)
