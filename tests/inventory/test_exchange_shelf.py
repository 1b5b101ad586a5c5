"""The shelf as a sheet: what a line means, what is refused and in which words, what is asked."""

from datetime import date
from decimal import Decimal

import pytest

from inventory import shelf_sheet
from inventory.exchange import files, notation, table
from inventory.exchange.notation import Notation
from inventory.shelf_sheet import KnownItem, KnownLot, Shelf

HEAD = "kind,item,stock unit,on hand"
TODAY = date(2026, 11, 25)
DUSK = ("colorant", "dusk")


def read(text, said=None, **known):
    found = table.records(files.read(text.encode()), shelf_sheet.COLUMNS)
    return shelf_sheet.read(found, said or Notation(), Shelf(TODAY, **known))


def troubles(text, said=None, **known):
    return read(text, said, **known).troubles


def items(text, said=None, **known):
    reading = read(text, said, **known)
    assert reading.troubles == []
    return reading.items


def asked(text):
    read = files.read(text.encode())
    found = table.records(read, shelf_sheet.COLUMNS)
    return notation.questions(found, shelf_sheet.COLUMNS, Notation(), read.separator)


def refused(text, words):
    with pytest.raises(table.FileError) as error:
        read(text)
    assert words in str(error.value)


def test_an_item_and_its_lots_are_understood():
    head = f"{HEAD},lot number,cost,expires,place,density,flake size,heat limit,hazards,melt limit"
    (item,) = items(
        f"{head}\n"
        "flake,Ember,g,1 oz,E-1,6.50,2031-03-31,rack,1.37,1 mm,350 F,“dust”,4\n"
        "flake,ember,g,2 tsp,E-2,,,,,,,,\n"
    )
    assert item.stock_unit == "g"
    # 1 oz = 28.349523125 g (NIST HB 44, appendix C); 2 tsp of 1.37 g/mL = 13.505245 g.
    assert [lot.quantity for lot in item.lots] == [28_349_523, 13_505_245]
    first = item.lots[0]
    assert (first.number, first.cost, first.expires_on) == ("E-1", 6_500_000, date(2031, 3, 31))
    assert item.facts == {
        "density_g_per_ml": Decimal("1.37"),
        "flake_size_in": Decimal("0.0394"),
        "heat_limit_c": Decimal("176.7"),
        "hazards": "“dust”",
        "melt_limit": 4,
    }
    assert item.place == "rack"


def test_columns_may_come_in_any_order_and_go_by_other_names():
    (item,) = items("Quantity,NAME,stock_unit,Kind\n12,Copper dusk,ml,Colorant\n")
    assert (item.name, item.stock_unit, item.lots[0].quantity) == ("Copper dusk", "mL", 12_000_000)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (HEAD, "no lines"),
        ("kind,item,stock unit,price\na", "Column 4 is named “price”"),
        ("kind,item,stock unit,minimun\na", "Did you mean “minimum”?"),
        ("kind,item,stock unit,,place\na", "Column 4 has no name"),
        ("kind,item\na", "lacks the column “stock unit”"),
        ("kind,item,item,stock unit\na", "“item” is there twice"),
    ],
)
def test_wrong_columns_are_refused_as_a_whole(text, words):
    refused(text, words)


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
        ("colorant,Dusk,mL,NaN", "on hand", "is not an amount"),
        ("colorant,Dusk,mL,1e309", "on hand", "without the e"),
        ("colorant,Dusk,mL,-3", "on hand", "less than zero"),
        ("colorant,Dusk,mL,9999999999999", "on hand", "too large"),
        ("colorant,Dusk,mL,12 g", "on hand", "the density of the item is needed"),
        ("colorant,Dusk,mL,40 drops", "on hand", "the size of a drop of the item is needed"),
        ("colorant,Dusk,mL,12 bananas", "on hand", "not a known unit"),
        ("part,Hook,each,2.5", "on hand", "whole number"),
        ("flake,Ember,g,40", "density", "needs its density"),
        ("colorant,Dusk,mL,1,2,3", "", "6 cells but 4 columns"),
        ("part,Long hook,each,5", "", "the same as line 2"),
    ],
)
def test_a_line_that_is_wrong_says_where_and_why(line, column, words):
    found = troubles(f"{HEAD}\npart,Long hook,each,5\n{line}\n")
    assert (found[0].line, found[0].column) == (3, column)
    assert words in found[0].text


@pytest.mark.parametrize(
    ("column", "text", "words"),
    [
        ("cost", "-1", "less than zero"),
        ("cost", "6.505", "at most 2 decimals"),
        ("expires", "31.3.28", "all four digits of the year"),
        ("expires", "soon", "“soon” isn't a day. Write year-month-day"),
        ("expires", "2028-02-30", "no day 2028-02-30"),
        ("counted on", "2026-11-26", "still to come; today is 2026-11-25"),
        ("density", "50", "Nothing weighs 50 g in one mL"),
        ("density", "1030", "1030 kg/m³ is 1.03 g/mL"),
        ("density", "0", "more than 0"),
        ("mL per drop", "2", "at most 1"),
        ("mL per drop", "0.0000001", "6 decimals"),
        ("g per tsp", "200", "at most 150"),
        ("weight", "0", "more than 0"),
        ("weight", "0.0005", "at most 3 decimals"),
        ("color", "red", "six hex digits"),
        ("color kind", "gold", "none of: dye, pigment, pearl"),
        ("flake size", "0.04", "Write the unit behind it"),
        ("flake shape", "round", "none of: hexagon"),
        ("hardness scale", "rockwell", "none of: shore 00"),
        ("heat limit", "350", "Is it F or C?"),
        ("melt limit", "2.5", "whole number"),
        ("shelf life days", "0", "whole number from 1"),
        ("minimum", "5 g", "density"),
        ("lot number", "x" * 41, "longer than 40"),
    ],
)
def test_a_cell_that_is_wrong_is_refused(column, text, words):
    found = troubles(f"{HEAD},{column}\ncolorant,Dusk,mL,12,{text}\n")
    assert [trouble.column for trouble in found] == [column]
    assert words in found[0].text


def test_all_that_is_wrong_in_a_line_is_said_at_once():
    found = troubles(f"{HEAD},cost,color\ncolorant,Dusk,mL,x,y,z\n")
    assert {trouble.column for trouble in found} == {"on hand", "cost", "color"}


def test_two_lots_with_one_number_are_refused():
    head = f"{HEAD},lot number"
    (found,) = troubles(f"{head}\npart,Hook,each,5,A-1\npart,Long hook,each,6,a-1\n")
    assert (found.line, found.column) == (3, "lot number")
    assert "already the lot on line 2" in found.text


def test_a_number_or_a_cost_without_stock_is_asked_about():
    assert troubles(f"{HEAD},cost\ncolorant,Dusk,mL,,5\n")[0].column == "cost"
    assert troubles(f"{HEAD},lot number\ncolorant,Dusk,mL,,D-1\n")[0].column == "on hand"


def test_an_empty_amount_lists_the_item_without_stock():
    (item,) = items(f"{HEAD},place\ncolorant,Dusk,mL,,rack\n")
    assert (item.lots, item.place) == ([], "rack")


def test_later_lines_of_an_item_need_no_facts_but_must_agree():
    head = f"{HEAD},density"
    (item,) = items(f"{head}\nflake,Ember,g,40,\nflake,ember,g,2 tsp,1.37\n")
    assert len(item.lots) == 2
    (found,) = troubles(f"{head}\nflake,Ember,g,40,1.37\nflake,Ember,g,20,1.4\n")
    assert "has “1.37” on line 2" in found.text


# --- Questions ----------------------------------------------------------------

MIXED = f"{HEAD},expires\npart,Hook,each,5,03/04/2027\npart,Jig,each,6,2027-05-01\n"


def test_days_with_two_readings_are_asked_about_and_iso_days_never():
    (question,) = asked(MIXED)
    assert question.name == "dates"
    assert question.samples == ["line 2, expires: 03/04/2027"]
    assert asked(f"{HEAD},expires\npart,Jig,each,6,2027-05-01\n") == []


@pytest.mark.parametrize(
    ("answer", "day"), [("day", date(2027, 4, 3)), ("month", date(2027, 3, 4))]
)
def test_days_are_read_as_answered(answer, day):
    found = items(MIXED, Notation(dates=answer))
    assert [item.lots[0].expires_on for item in found] == [day, date(2027, 5, 1)]


def test_a_day_that_does_not_fit_the_answer_is_named():
    text = f"{HEAD},expires\npart,Hook,each,5,31/12/2027\n"
    (found,) = troubles(text, Notation(dates="month"))
    assert "no day 31/12/2027, read month first" in found.text


@pytest.mark.parametrize("text", ['"12,5"', '"1,250"', '"1.250,5"', '"3,5 fl oz"'])
def test_a_comma_in_a_figure_is_asked_about(text):
    (question,) = asked(f"{HEAD}\ncolorant,Dusk,mL,{text}\n")
    assert question.name == "decimal"


def test_a_group_of_thousands_is_asked_about_where_cells_are_parted_by_semicolons():
    text = f"{HEAD}\ncolorant,Dusk,mL,1.250\n"
    assert asked(text) == []
    assert asked(text.replace(",", ";"))[0].name == "decimal"


@pytest.mark.parametrize(
    ("text", "answer", "millilitres"),
    [
        ("12,5", "comma", "12.5"),
        ("1.250,5 mL", "comma", "1250.5"),
        ("1,250", "comma", "1.25"),
        ("1,250", "point", "1250"),
        ("1,250.5", "point", "1250.5"),
    ],
)
def test_figures_are_read_as_answered(text, answer, millilitres):
    (item,) = items(f'{HEAD}\ncolorant,Dusk,mL,"{text}"\n', Notation(decimal=answer))
    assert item.lots[0].quantity == Decimal(millilitres) * 1_000_000


@pytest.mark.parametrize(
    ("text", "answer"), [("2.5", "comma"), ("2,5", "point"), ("1,2,3", "point")]
)
def test_a_figure_that_does_not_fit_the_answer_is_named(text, answer):
    (found,) = troubles(f'{HEAD}\ncolorant,Dusk,mL,"{text}"\n', Notation(decimal=answer))
    assert "doesn't fit" in found.text


# --- What the shelf knows -----------------------------------------------------


def test_an_item_on_the_shelf_lends_its_figures():
    known = {DUSK: KnownItem(1, "Dusk", "mL", {"ml_per_drop": Decimal("0.05")})}
    (item,) = items(f"{HEAD}\ncolorant,Dusk,mL,40 drops\n", items=known)
    assert (item.lots[0].quantity, item.known.pk) == (2_000_000, 1)


def test_a_stock_unit_is_not_changed_and_an_archived_item_takes_no_stock():
    known = {DUSK: KnownItem(1, "Dusk", "mL")}
    (found,) = troubles(f"{HEAD}\ncolorant,Dusk,g,4\n", items=known)
    assert "kept in mL" in found.text
    known = {DUSK: KnownItem(1, "Dusk", "mL", archived=True)}
    assert "archived" in troubles(f"{HEAD}\ncolorant,Dusk,mL,4\n", items=known)[0].text


def test_the_target_must_not_be_under_the_minimum_that_the_shelf_knows():
    known = {DUSK: KnownItem(1, "Dusk", "mL", {"minimum": 30_000_000})}
    (found,) = troubles(f"{HEAD},target\ncolorant,Dusk,mL,4,20 mL\n", items=known)
    assert "less than the minimum" in found.text


def _lot(pk, number, made, item=DUSK, **facts):
    return KnownLot(pk, number, item, made, made, opening=True, **facts)


def test_a_lot_is_known_by_its_number():
    known = {"items": {DUSK: KnownItem(1, "Dusk", "mL")}, "lots": [_lot(7, "D-1", 4_000_000)]}
    head = f"{HEAD},lot number"
    (item,) = items(f"{head}\ncolorant,Dusk,mL,4,D-1\ncolorant,Dusk,mL,4,D-2\n", **known)
    assert [lot.known and lot.known.pk for lot in item.lots] == [7, None]
    (found,) = troubles(f"{head}\npart,Hook,each,4,D-1\n", **known)
    assert "is a lot of dusk" in found.text


def test_lines_without_a_number_are_the_lots_that_they_fit_best():
    lots = [_lot(7, "R-1", 4_000_000), _lot(8, "R-2", 9_000_000, supplier_lot="C-1")]
    known = {"items": {DUSK: KnownItem(1, "Dusk", "mL")}, "lots": lots}
    head = f"{HEAD},supplier lot"
    text = f"{head}\ncolorant,Dusk,mL,8,C-1\ncolorant,Dusk,mL,4,\ncolorant,Dusk,mL,5,\n"
    (item,) = items(text, **known)
    # The changed amount of C-1 is still C-1; of the other two only one was there.
    assert [lot.known and lot.known.pk for lot in item.lots] == [8, 7, None]
