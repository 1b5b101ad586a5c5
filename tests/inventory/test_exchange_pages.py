"""Loading the shelf from a file: look first, then all of it or nothing; a second time only changes."""

import csv
import io
from datetime import date
from decimal import Decimal

import pytest
from django.core import signing
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory import audit, exports, shelf_sheet
from inventory.models import Entry, Item, Lot, Place, Supplier
from inventory.services import counts
from tests import factories
from tests.factories import key, micro
from tests.inventory import exchange_pages as sheets
from tests.inventory.pages import page

pytestmark = pytest.mark.django_db
OPENING = reverse("inventory:opening")
HEAD = "kind,item,stock unit,on hand"
HOOKS = f"{HEAD},lot number\npart,Long hook,each,5,H-1\n"


def upload(client, data, name="shelf.csv"):
    return sheets.upload(client, OPENING, data, name)


def load(client, data, name="shelf.csv"):
    return sheets.load(client, OPENING, data, name)


def template(client, form):
    name = "inventory:opening_template" + ("_xlsx" if form == "xlsx" else "")
    response = client.get(reverse(name))
    assert f'filename="shelf-template.{form}"' in response["Content-Disposition"]
    return response.content


def test_the_page_names_the_columns_and_gives_files_to_start_from(owner_client):
    text = page(owner_client, OPENING)
    for column in shelf_sheet.COLUMNS:
        assert f"<code>{column.name}</code>" in text
    for end in ("template", "template_xlsx", "now", "now_xlsx"):
        assert reverse(f"inventory:opening_{end}") in text
    rows = list(csv.reader(io.StringIO(template(owner_client, "csv").decode("utf-8-sig"))))
    assert rows[0] == [column.name for column in shelf_sheet.COLUMNS]
    assert sum(row[0].startswith("# ") for row in rows) > 5


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_the_empty_file_is_previewed_then_booked_in_one_entry(owner_client, form):
    preview = upload(owner_client, template(owner_client, form), f"shelf.{form}")
    assert preview.status_code == 200, sheets.problems(preview)
    text = preview.content.decode()
    assert "2 new, 0 changed, 0 as before. Nothing is kept yet." in text
    assert "new lot SB-1: 3,785.4 mL (1 gal), cost 52.00, Gray Heron Supply, lower shelf" in text
    assert not Item.objects.exists() and not Entry.objects.exists()
    response = owner_client.post(OPENING, sheets.confirmation(preview))
    entry = Entry.objects.get()
    assert response.url == reverse("inventory:entry", args=[entry.pk])
    assert (entry.kind, entry.title) == ("opening", "Opening shelf: 2 lots")
    assert Supplier.objects.get().name == "Gray Heron Supply"
    assert set(Place.objects.values_list("name", flat=True)) == {"lower shelf", "rack"}
    flake = Item.objects.get(kind="flake")
    assert (flake.color, flake.minimum, flake.flake_shape) == ("#c8502a", micro(10), "hexagon")
    assert (flake.flake_size_in, flake.g_per_tsp) == (Decimal("0.04"), Decimal("3.1"))
    lot = flake.lots.get()
    assert (lot.number, lot.cost, lot.on_hand) == ("EF-1", None, micro(40))
    assert (lot.expires_on, lot.place.name) == (date(2031, 3, 31), "rack")
    # 1 US gallon = 3785.411784 mL: NIST Handbook 44, appendix C.
    assert Item.objects.get(kind="plastisol").lots.get().on_hand == 3_785_411_784
    assert list(audit.findings()) == []


def test_a_double_press_books_once(owner_client):
    preview = upload(owner_client, HOOKS)
    sent = sheets.confirmation(preview)
    first, second = owner_client.post(OPENING, sent), owner_client.post(OPENING, sent)
    assert first.url == second.url
    assert Lot.objects.count() == Entry.objects.count() == 1


def test_the_same_key_with_another_file_books_nothing(owner_client):
    first = sheets.confirmation(upload(owner_client, HOOKS))
    owner_client.post(OPENING, first)
    other = upload(owner_client, HOOKS + "part,Short hook,each,7,H-2\n")
    response = owner_client.post(OPENING, sheets.confirmation(other) | {"key": first["key"]})
    assert response.status_code == 422
    assert "already posted" in response.content.decode()
    assert Item.objects.count() == 1


def test_one_wrong_line_books_nothing_and_is_named(owner_client):
    text = f"{HEAD}\npart,Long hook,each,5\ncolorant,Dusk,mL,40 drops\n"
    response = upload(owner_client, text)
    content = response.content.decode()
    assert response.status_code == 422
    assert (
        "Line 3, on hand “40 drops”: To turn drop into mL the size of a drop of the item is needed"
        in content
    )
    assert "1 other line is fine" in content
    assert not Item.objects.exists()


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"kind,item,stock unit,price\n", "“price”"),
        (b"", "empty"),
        (b"\x89PNG\r\n\x1a\n0000", "picture (PNG)"),
        (b"x" * 2_000_001, "larger than 2 MB"),
    ],
)
def test_a_file_that_cannot_be_read_says_so_at_the_field(owner_client, data, words):
    response = upload(owner_client, data, "shelf.xlsx")
    assert response.status_code == 422
    assert words in response.context["form"].errors["file"][0]
    assert not Item.objects.exists()


def test_a_huge_file_is_refused_at_the_field(owner_client):
    huge = SimpleUploadedFile("shelf.csv", b"x" * 50_000_000)
    response = owner_client.post(OPENING, {"file": huge})
    assert response.status_code == 422
    assert "larger than 2 MB" in response.context["form"].errors["file"][0]


def test_no_file_is_refused(owner_client):
    response = owner_client.post(OPENING, {})
    assert response.status_code == 422
    assert "file" in response.context["form"].errors


@pytest.mark.parametrize("sheet", ["", "x", "eyJyb3dzIjpbXX0:1abc:def"])
def test_a_table_that_this_house_did_not_sign_is_not_read(owner_client, sheet):
    response = owner_client.post(OPENING, {"sheet": sheet, "book": "1"})
    assert response.status_code == 422
    assert "Choose the file again" in response.content.decode()


def test_a_table_signed_for_another_page_is_not_read(owner_client):
    sheet = signing.dumps({"rows": []}, salt="exchangemolds", compress=True)
    response = owner_client.post(OPENING, {"sheet": sheet, "book": "1"})
    assert "Choose the file again" in response.content.decode()


def test_cells_are_shown_as_text_never_as_markup(owner_client):
    text = f"{HEAD}\npart,<script>alert(1)</script>,each,5\n"
    assert "<script>alert" not in upload(owner_client, text).content.decode()


def test_windows_letters_are_said_on_the_preview(owner_client):
    response = upload(owner_client, f"{HEAD}\npart,Café hook,each,5\n".encode("cp1252"))
    assert response.status_code == 200
    assert "read as Windows-1252: “Café" in response.content.decode()


def test_what_can_be_read_in_two_ways_is_asked_and_then_read_as_answered(owner_client):
    text = f'{HEAD},expires\ncolorant,Dusk,mL,"12,5",03/04/2027\n'
    asked = upload(owner_client, text)
    content = asked.content.decode()
    assert asked.status_code == 200
    assert "What does a comma in a figure mean?" in content and "Which comes first" in content
    assert "line 2, expires: 03/04/2027" in content
    half = sheets.answer(owner_client, OPENING, asked, decimal="comma")
    assert half.status_code == 422
    assert "What does a comma" not in half.content.decode()
    assert half.context["form"].errors["dates"] == ["Choose one: both can be read from the file."]
    preview = sheets.answer(owner_client, OPENING, asked, decimal="comma", dates="day")
    assert "12.5 mL" in preview.content.decode() and "2027-04-03" in preview.content.decode()
    owner_client.post(OPENING, sheets.confirmation(preview))
    lot = Lot.objects.get()
    assert (lot.on_hand, lot.expires_on) == (micro("12.5"), date(2027, 4, 3))


def test_a_figure_that_looks_like_another_unit_is_asked_about_before_it_is_kept(owner_client):
    text = f"{HEAD},density,heat limit\nplastisol,Soft base,mL,1 gal,8.6,350 °C\n"
    content = upload(owner_client, text).content.decode()
    assert "Did the sheet say pounds per gallon?" in content
    assert "Was it 350 °F, which is 177 °C?" in content


def test_a_list_without_stock_makes_items_only(owner_client):
    response = load(owner_client, f"{HEAD},place\npart,Long hook,each,,drawer\n")
    assert response.url == reverse("inventory:shelf")
    assert Item.objects.get().place.name == "drawer"
    assert not Entry.objects.exists()


def test_lots_counted_on_another_day_came_on_that_day(owner_client):
    load(owner_client, f"{HEAD},counted on\npart,Hook,each,5,2026-01-02\npart,Jig,each,6,\n")
    days = list(Entry.objects.order_by("business_date").values_list("business_date", flat=True))
    assert days[0] == date(2026, 1, 2) and len(days) == 2
    assert Lot.objects.get(item__name="Hook").received_on == date(2026, 1, 2)
    assert list(audit.findings()) == []


# --- A second time -------------------------------------------------------------


def test_the_same_file_again_changes_nothing(owner_client):
    text = f"{HEAD},cost\npart,Long hook,each,5,3.00\npart,Long hook,each,7,\n"
    load(owner_client, text)
    again = upload(owner_client, text)
    assert "Nothing to change" in again.content.decode()
    assert 'name="book"' not in again.content.decode()
    owner_client.post(OPENING, sheets.confirmation(again))
    assert Lot.objects.count() == 2 and Entry.objects.count() == 1


def test_a_changed_file_changes_only_what_changed(owner_client):
    head = f"{HEAD},lot number,density,expires,place"
    load(owner_client, f"{head}\nflake,Ember,g,40,E-1,1.37,,rack\npart,Hook,each,5,H-1,,,\n")
    changed = f"{head}\nflake,Ember,g,40,E-1,1.38,2031-03-31,drawer\npart,Hook,each,5,H-1,,,\n"
    preview = upload(owner_client, changed + "part,Hook,each,9,H-2,,,\n")
    content = preview.content.decode()
    assert "0 new, 2 changed, 0 as before" in content
    for words in ("density: 1.37 → 1.38", "lot E-1, place: rack → drawer", "new lot H-2: 9"):
        assert words in content
    owner_client.post(OPENING, sheets.confirmation(preview))
    lot = Lot.objects.get(number="E-1")
    assert (lot.on_hand, lot.expires_on, lot.place.name) == (
        micro(40),
        date(2031, 3, 31),
        "drawer",
    )
    assert Item.objects.get(name="Ember").density_g_per_ml == Decimal("1.38")
    assert Lot.objects.count() == 3 and Entry.objects.count() == 2
    assert list(audit.findings()) == []


def test_another_amount_of_a_lot_is_not_posted_but_to_be_counted(owner_client):
    load(owner_client, HOOKS)
    lot = Lot.objects.get()
    preview = upload(owner_client, HOOKS.replace(",5,", ",3,"))
    content = preview.content.decode()
    assert "the file says 3, the books say 5" in content
    assert reverse("inventory:count", args=[lot.pk]) in content
    owner_client.post(OPENING, sheets.confirmation(preview))
    assert Entry.objects.count() == 1
    assert Lot.objects.get().on_hand == micro(5)


def test_a_line_without_a_number_is_said_to_be_taken_for_its_lot(owner_client):
    text = f"{HEAD}\npart,Long hook,each,5\n"
    load(owner_client, text)
    content = upload(owner_client, text).content.decode()
    assert f"is taken for lot {Lot.objects.get().number}" in content


def test_a_lot_that_was_undone_comes_in_again(owner_client, owner):
    load(owner_client, HOOKS)
    counts.undo(key=key(), entry=Entry.objects.get(), by=owner)
    assert Lot.objects.get().on_hand == 0
    preview = upload(owner_client, HOOKS)
    assert "lot H-1, undone before, comes in again: 5" in preview.content.decode()
    owner_client.post(OPENING, sheets.confirmation(preview))
    assert Lot.objects.get().on_hand == micro(5)
    assert list(audit.findings()) == []


def test_nothing_is_kept_when_the_shelf_changed_since_it_was_looked_at(owner_client):
    preview = upload(owner_client, HOOKS)
    factories.make_item("part", "Long hook", "each")
    response = owner_client.post(OPENING, sheets.confirmation(preview))
    assert response.status_code == 422
    assert "Something changed since you looked" in response.content.decode()
    assert not Lot.objects.exists()
    assert owner_client.post(OPENING, sheets.confirmation(response)).status_code == 302
    assert Lot.objects.get().on_hand == micro(5)


def test_a_number_of_the_house_is_never_given_out_twice(owner_client):
    item = factories.make_item("part", "Jig", "each")
    today = f"R{factories.make_lot(item).received_on:%y%m%d}"
    load(owner_client, f"{HEAD},lot number\npart,Hook,each,5,{today}-02\n")
    assert factories.make_lot(item).number == f"{today}-03"


def test_a_changed_shelf_that_cannot_be_is_refused_in_the_words_of_the_service(owner_client):
    factories.make_lot(factories.make_item("part", "Hook", "each"), 5)
    other = f"{HEAD},lot number\npart,Jig,each,5,{Lot.objects.get().number}\n"
    (problem,) = sheets.problems(upload(owner_client, other))
    assert problem.startswith("2, lot number:") and "is a lot of hook" in problem


# --- The shelf as it stands ----------------------------------------------------


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_the_shelf_as_it_stands_loads_again_and_nothing_changes(owner_client, form):
    load(owner_client, template(owner_client, "csv"))
    flake = Item.objects.get(kind="flake")
    Item.objects.filter(pk=flake.pk).update(
        hazards="=cmd|calc\nSecond line, “quoted”", heat_limit_c="176.7", minimum=946_352_946
    )
    factories.make_item("colorant", "@Dusk", place=Place.objects.first())
    lot = factories.make_lot(Item.objects.get(kind="plastisol"), "1234567.123457", "12.345678")
    before = list(Item.objects.values()), list(Lot.objects.values())
    response = owner_client.get(
        reverse("inventory:opening_now" + ("_xlsx" if form == "xlsx" else ""))
    )
    assert lot.number.encode() in response.content or form == "xlsx"
    preview = upload(owner_client, response.content, f"shelf.{form}")
    assert preview.status_code == 200, sheets.problems(preview)
    assert "Nothing to change" in preview.content.decode()
    assert preview.context["review"].hinted == []
    owner_client.post(OPENING, sheets.confirmation(preview))
    assert (list(Item.objects.values()), list(Lot.objects.values())) == before


def test_the_shelf_as_it_stands_can_open_another_house(owner_client):
    load(owner_client, template(owner_client, "csv"))
    data = sheets.as_csv(exports.shelf_sheet())
    Item.objects.all().update(archived=True)
    for item in Item.objects.all():
        item.name = f"old {item.name}"
        item.save()
    for lot in Lot.objects.all():
        lot.number = f"old {lot.number}"
        lot.save()
    load(owner_client, data)
    assert Item.objects.filter(archived=False).count() == 2
    assert Lot.objects.get(number="SB-1").on_hand == 3_785_411_784


# --- How much it takes, and who may -------------------------------------------


def _queries(client, lines):
    text = HEAD + ",lot number\n" + "".join(f"part,Hook {n},each,5,H-{n}\n" for n in range(lines))
    load(client, text)
    with CaptureQueriesContext(connection) as taken:
        upload(client, text)
    return len([q for q in taken if "SAVEPOINT" not in q["sql"]])


def test_looking_again_asks_no_more_of_the_database_for_more_lines(owner_client):
    # An item that stays is read once for all; only what is new or changed is written.
    assert _queries(owner_client, 10) == _queries(owner_client, 20)


def test_a_helper_does_not_open_the_books(helper_client):
    assert helper_client.get(OPENING).status_code == 403
    assert helper_client.post(OPENING, {"sheet": "x"}).status_code == 403
