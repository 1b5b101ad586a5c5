"""Files of every shape a spreadsheet makes, and the bad ones: read, or refused in plain words."""

import io
import zipfile
from datetime import date, datetime

import pytest
from openpyxl import Workbook, load_workbook

from inventory.exchange import files
from inventory.exchange.table import DAY, NUMBER, FileError, Table


def texts(data, **options):
    return [[cell.text for cell in cells] for _, cells in files.read(data, **options).rows]


def workbook(rows, *, title="shelf", change=None):
    book = Workbook()
    book.active.title = title
    for row in rows:
        book.active.append(row)
    if change:
        change(book)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def repacked(data, change):
    """The workbook with its parts changed: `change(name, content)` gives the new content."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w", 8) as new:
        for name in old.namelist():
            new.writestr(name, change(name, old.read(name)))
    return out.getvalue()


def refused(data, words):
    with pytest.raises(FileError) as error:
        files.read(data)
    assert words in str(error.value)


HEAD = ["kind", "item"]


@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_the_usual_separators_and_line_ends_are_read(separator, line_end):
    text = line_end.join(["kind,item", "", "part,Long hook", ",,", "# a note", ""])
    table = files.read(text.replace(",", separator).encode())
    assert [(line, [cell.text for cell in cells]) for line, cells in table.rows] == [
        (1, HEAD),
        (3, ["part", "Long hook"]),
    ]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_unicode_is_read_with_and_without_its_mark(encoding):
    table = files.read("item\nCafé".encode(encoding))
    assert (table.rows[1][1][0].text, table.notes) == ("Café", ())


def test_windows_1252_is_recognised_and_said():
    table = files.read("item\nCafé €".encode("cp1252"))
    assert table.rows[1][1][0].text == "Café €"
    assert "Windows-1252: “Café”, “€”" in table.notes[0]


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"),
        (b"\n\n , ,\n", "empty"),
        (b'a\n"b', "quotation mark"),
        (b"a\nb\0c", "no text"),
        (b"a\n\x81\x8d\xff", "can't be read (line 2)"),
        (b"a\n" + b"b\n" * 2_001, "more than 2,000 lines"),
        (b"a\n" + b"," * 60 + b"b\n", "more than 60 columns"),
        (b"x" * 2_000_001, "larger than 2 MB"),
        (b"\x89PNG\r\n\x1a\n" + b"0" * 40, "a picture (PNG), whatever its name says"),
        (b"%PDF-1.7", "a PDF"),
        (b"\xd0\xcf\x11\xe0", "old or a password-protected"),
        (b"PK\x03\x04 and no archive", "no whole XLSX"),
    ],
)
def test_a_file_that_cannot_be_read_says_what_it_is_and_what_to_do(data, words):
    refused(data, words)


def test_a_workbook_gives_numbers_and_days_that_are_certain():
    rows = [
        ["a", "b", "c", "d"],
        [0.1, 3, date(2027, 6, 30), True],
        [1e-7, None, datetime(2027, 1, 2), " x "],
    ]
    table = files.read(workbook(rows))
    one, two = (cells for _, cells in table.rows[1:])
    assert [(c.text, c.kind) for c in one] == [
        ("0.1", NUMBER),
        ("3", NUMBER),
        ("2027-06-30", DAY),
        ("yes", "text"),
    ]
    assert [c.text for c in two] == ["0.0000001", "", "2027-01-02", "x"]


def test_the_sheet_of_the_right_name_is_read_or_the_first_one_seen():
    def more(book):
        book.create_sheet("molds").append(["mold"])
        book.create_sheet("hidden", 0).sheet_state = "hidden"

    data = workbook([["kind"]], title="Shelf", change=more)
    assert texts(data, sheets=["molds"]) == [["mold"]]
    assert texts(data, sheets=["none"]) == texts(data, sheets=["shelf"]) == [["kind"]]


def test_empty_rows_are_left_out_and_lines_keep_their_numbers():
    table = files.read(workbook([HEAD, [], [None, " "], ["part", "Hook"], ["# note"]]))
    assert [line for line, _ in table.rows] == [1, 4]


def test_a_formula_gives_its_value_and_one_without_a_value_says_so():
    # openpyxl writes formulas without results, as a program that never computed them would.
    table = files.read(workbook([HEAD, ["part", "=1+1"]]))
    assert "formula in this cell has no result" in table.rows[1][1][1].trouble

    def computed(name, content):
        return content.replace(b"<f>1+1</f><v></v>", b"<f>1+1</f><v>2</v>").replace(
            b"<f>1+1</f><v />", b"<f>1+1</f><v>2</v>"
        )

    data = repacked(workbook([HEAD, ["part", "=1+1"]]), computed)
    assert files.read(data).rows[1][1][1].text == "2"


def test_an_error_of_the_spreadsheet_and_a_time_are_named():
    table = files.read(workbook([HEAD, ["#DIV/0!", datetime(2027, 1, 1).time()]]))
    assert "“#DIV/0!” is an error" in table.rows[1][1][0].trouble
    assert "made a time" in table.rows[1][1][1].trouble


def test_merged_cells_are_named_with_their_line():
    data = workbook([HEAD, ["part", "Hook"]], change=lambda book: book.active.merge_cells("A2:B2"))
    (trouble,) = files.read(data).troubles
    assert (trouble.line, "A2:B2 are merged" in trouble.text) == (2, True)


def test_an_archive_of_another_kind_is_no_workbook():
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("content.xml", "<a/>")
    refused(out.getvalue(), "no XLSX workbook")


def test_a_bomb_is_refused_by_what_it_declares():
    data = repacked(
        workbook([HEAD]), lambda name, content: b" " * 30_000_000 if "theme" in name else content
    )
    assert len(data) < 100_000
    refused(data, "unpacks to far more")


def test_a_bomb_that_lies_about_its_size_is_refused_as_well():
    data = repacked(
        workbook([HEAD]), lambda name, content: b" " * 30_000_000 if "theme" in name else content
    )
    size = (30_000_000).to_bytes(4, "little")
    assert data.count(size) == 2
    refused(data.replace(size, (1_000).to_bytes(4, "little")), "XLSX")


def test_a_bomb_of_cells_and_one_of_parts_are_refused():
    rows = b"<row>" + b"<c/>" * 450_000 + b"</row></sheetData>"
    data = repacked(
        workbook([HEAD]),
        lambda name, content: (
            content.replace(b"</sheetData>", rows) if "sheet1" in name else content
        ),
    )
    refused(data, "unpacks to far more")
    out = io.BytesIO(workbook([HEAD]))
    with zipfile.ZipFile(out, "a") as archive:
        for number in range(300):
            archive.writestr(f"xl/media/{number}.png", b"")
    refused(out.getvalue(), "unpacks to far more")


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_entities_are_refused_in_every_part(encoding):
    bomb = (
        f'<?xml version="1.0" encoding="{encoding}"?><!DOCTYPE a [<!ENTITY b "bbbb">'
        '<!ENTITY c "&b;&b;&b;">]><a>&c;</a>'
    ).encode(encoding)
    for part in ("xl/worksheets/sheet1.xml", "xl/styles.xml", "docProps/core.xml"):
        data = repacked(
            workbook([HEAD]), lambda name, old, part=part: bomb if name == part else old
        )
        refused(data, "declarations (DTD)")


def test_a_damaged_workbook_is_refused():
    data = repacked(
        workbook([HEAD]), lambda name, content: b"<worksheet>" if "sheet1" in name else content
    )
    refused(data, "damaged")
    empty = repacked(
        workbook([HEAD]), lambda name, old: b"<a/>" if name[3:] == "workbook.xml" else old
    )
    refused(empty, "no sheet that can be seen")
    lost = repacked(workbook([HEAD]), lambda name, old: b"<a/>" if "rels" in name else old)
    refused(lost, "can't be read")


def test_a_cell_far_below_makes_no_million_rows():
    def far(book):
        book.active["A1000000"] = "x"

    refused(workbook([HEAD], change=far), "reaches to row 1,000,000")


def test_a_table_travels_as_json_and_comes_back_the_same():
    table = files.read(workbook([HEAD, [1, "=1"], ["x", "y"]]))
    assert Table.from_plain(table.plain()) == table


def test_what_is_written_is_read_back():
    data = workbook([["a"], ["'=x"]])
    assert load_workbook(io.BytesIO(data)).active["A2"].value == "'=x"
    assert texts(data) == [["a"], ["=x"]]
