"""Take everything with you: every table, no formula, and sheets that load again."""

import csv
import hashlib
import inspect
import io
import zipfile
from datetime import date
from decimal import Decimal

import pytest
from django.apps import apps
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from openpyxl import load_workbook

from inventory.exchange import guard, writing
from inventory.exports import TableSheet
from shop import exports
from shop.models import Customer
from tests import factories
from tests.inventory import exchange_pages as sheets
from tests.inventory.pages import page

pytestmark = pytest.mark.django_db
XLSX, ZIP = reverse("take_away_xlsx"), reverse("take_away_zip")
#: What must be there, by the names of its sheets.
TABLES = [
    "shelf",
    "items",
    "packs",
    "suppliers",
    "places",
    "lots",
    "holds",
    "ledger entries",
    "ledger movements",
    "molds",
    "recipes",
    "cups",
    "baits",
    "all molds",
    "cavities",
    "recipe versions",
    "doses",
    "stand-ins",
    "patterns",
    "products",
    "product contents",
    "product packaging",
    "pours",
    "batches",
    "shots",
    "rejects",
    "bagging",
    "people",
    "customers",
    "orders",
    "order lines",
    "shipments",
]


@pytest.fixture
def furnished(shop, make_product, take_order):
    product = make_product(loose=20, bagged=5)
    take_order((product, 2))
    base, green = factories.make_plastisol(), factories.make_item(name="Marsh green")
    factories.make_lot(base, "1000.123456", 30)
    factories.make_lot(green, 100, 12)
    factories.make_recipe(grade=base, doses={green: 1})
    factories.make_mold()
    Customer.objects.create(name="=cmd|' /C calc'!A0", email="a@b.example", notes="\t+1")


def workbook(client):
    response = client.get(XLSX)
    assert "attachment" in response["Content-Disposition"]
    return b"".join(response.streaming_content)


def archive(client):
    return zipfile.ZipFile(io.BytesIO(b"".join(client.get(ZIP).streaming_content)))


def rows_of(files, name):
    with files.open(f"{name}.csv") as part:
        return list(csv.reader(io.TextIOWrapper(part, "utf-8-sig", newline="")))


def test_the_page_names_every_sheet(owner_client):
    text = page(owner_client, reverse("take_away"))
    for name in TABLES:
        assert f"<strong>{name}</strong>" in text
    assert XLSX in text and ZIP in text


def test_setup_and_books_lead_to_it(owner_client):
    for name in ("setup", "books"):
        assert reverse("take_away") in page(owner_client, reverse(name))


def test_the_workbook_has_a_sheet_for_every_table_and_no_formula(owner_client, furnished):
    book = load_workbook(io.BytesIO(workbook(owner_client)))
    assert set(TABLES) <= set(book.sheetnames)
    kinds = {c.data_type for s in book for row in s.rows for c in row if c.value is not None}
    assert kinds == {"s", "n"}
    texts = [c.value for s in book for row in s.rows for c in row if c.data_type == "s"]
    assert not any(guard.dangerous(t) for t in texts if t and not t.startswith("'"))
    customers = [[cell.value for cell in row] for row in book["customers"].rows]
    assert customers[-1][1:6] == ["'=cmd|' /C calc'!A0", "a@b.example", None, None, "'\t+1"]
    (movement,) = [
        r for r in book["ledger movements"].iter_rows(values_only=True) if r[4] == "Soft base"
    ]
    assert movement[6:9] == (1000.123456, "mL", 30)


def test_the_archive_has_the_same_tables_as_csv(owner_client, furnished):
    files = archive(owner_client)
    book = load_workbook(io.BytesIO(workbook(owner_client)))
    assert [name.removesuffix(".csv") for name in files.namelist()] == book.sheetnames
    for name in book.sheetnames:
        assert len(rows_of(files, name)) == book[name].max_row, name
    assert rows_of(files, "customers")[-1][1] == "'=cmd|' /C calc'!A0"
    assert rows_of(files, "order lines")[1][1:4] == ["Reed Eel, Marsh Lantern, 5", "2", "6.5"]


def test_every_table_of_the_house_is_there_and_no_password(owner_client, owner):
    kept = {
        model
        for app in ("inventory", "production", "shop")
        for model in apps.get_app_config(app).get_models()
    }
    assert {s.model for s in exports.sheets() if isinstance(s, TableSheet)} == kept
    names = {name for s in exports.sheets() for name in s.head}
    assert "password" not in names
    assert len({s.name[:27] for s in exports.sheets()}) == len(exports.sheets())


@pytest.mark.parametrize(
    ("name", "sheet"),
    [
        ("inventory:opening", "shelf"),
        ("production:molds_file", "molds"),
        ("production:recipes_file", "recipes"),
    ],
)
def test_what_was_taken_along_loads_again_and_nothing_changes(owner_client, furnished, name, sheet):
    data = workbook(owner_client)
    for file, ending in ((data, "xlsx"), (archive(owner_client).read(f"{sheet}.csv"), "csv")):
        preview = sheets.upload(owner_client, reverse(name), file, f"everything.{ending}")
        assert preview.status_code == 200, sheets.problems(preview)
        assert "Nothing to change" in preview.content.decode()
        assert preview.context["review"].hinted == []


def test_rows_are_read_as_they_are_written(owner_client, furnished):
    for sheet in exports.sheets():
        assert inspect.isgenerator(sheet.rows()), sheet.name


@pytest.mark.parametrize("pieces", [writing.xlsx_pieces, writing.zip_pieces])
def test_a_file_goes_out_while_its_rows_are_still_read(monkeypatch, pieces):
    read = []

    def rows():
        for number in range(500):
            read.append(number)
            # Digits that no compression makes small.
            yield [hashlib.sha256(str(number).encode()).hexdigest() for _ in range(8)] + [number]

    monkeypatch.setattr(writing, "PIECE", 1_000)
    head = [f"c{n}" for n in range(9)]
    out = pieces([writing.Sheet("long", head, rows), writing.Sheet("none", ["a"], list)])
    first = next(out)
    assert 0 < len(read) < 500
    whole = io.BytesIO(first + b"".join(out))
    # The standard library's own check of every part's CRC-32.
    assert zipfile.ZipFile(whole).testzip() is None
    if pieces is writing.xlsx_pieces:
        book = load_workbook(whole)
        assert [row[8] for row in book["long"].iter_rows(min_row=2, values_only=True)] == read
        assert book["long"].freeze_panes == "A2" and book["none"].max_row == 1


def test_a_workbook_keeps_its_cells_in_their_columns_and_its_texts_to_the_letter():
    texts = [' two  spaces "and" <tags> & more ', "first\nsecond", None, "", "#N/A", 0, False]
    row = [*texts, *range(30), 10**15, Decimal("0.0000001"), date(2026, 11, 29)]
    sheet = writing.Sheet(
        'Bo\'s <best> & "rest"', [f"c{n}" for n in range(len(row))], lambda: [row]
    )
    out = io.BytesIO()
    writing.write_xlsx([sheet], out)
    (page,) = load_workbook(out)
    assert page.title == 'Bo\'s <best> & "rest"'
    found = next(page.iter_rows(min_row=2, values_only=True))
    assert found[:7] == (*texts[:3], None, "#N/A", 0, "no")
    assert found[7:] == (*range(30), str(10**15), 1e-7, "2026-11-29")


def test_what_is_over_the_rows_of_a_sheet_goes_to_a_further_one(monkeypatch):
    monkeypatch.setattr(writing, "MOST_ROWS", 3)
    out = io.BytesIO()
    writing.write_xlsx([writing.Sheet("things", ["a"], lambda: ([n] for n in range(4)))], out)
    book = load_workbook(io.BytesIO(out.getvalue()))
    assert [[r[0] for r in s.iter_rows(values_only=True)] for s in book] == [
        ["a", 0, 1],
        ["a", 2, 3],
    ]


def test_the_questions_to_the_database_do_not_grow_with_the_rows(owner_client, furnished):
    def taken():
        with CaptureQueriesContext(connection) as queries:
            workbook(owner_client)
        return len(queries)

    taken()
    before = taken()
    for _ in range(10):
        factories.make_lot(factories.make_item(), 5)
    assert taken() == before


def test_only_the_owner_takes_it_along(helper_client):
    for url in (reverse("take_away"), XLSX, ZIP):
        assert helper_client.get(url).status_code == 403
