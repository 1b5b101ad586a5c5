"""Loading the opening shelf: look first, then all of it or nothing."""

import csv
import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from inventory import opening_csv
from inventory.models import Entry, Item, Lot, Place, Supplier
from tests import factories
from tests.inventory.pages import page

pytestmark = pytest.mark.django_db
OPENING = reverse("inventory:opening")


def upload(client, data):
    data = data.encode() if isinstance(data, str) else data
    return client.post(OPENING, {"file": SimpleUploadedFile("shelf.csv", data)})


def test_the_page_names_the_columns_and_gives_the_file(owner_client):
    text = page(owner_client, OPENING)
    for column in opening_csv.COLUMNS:
        assert f"<code>{column}</code>" in text
    response = owner_client.get(reverse("inventory:opening_template"))
    rows = list(csv.reader(io.StringIO(response.content.decode("utf-8-sig"))))
    assert tuple(rows[0]) == opening_csv.COLUMNS


def test_the_template_is_previewed_then_booked_in_one_entry(owner_client):
    preview = upload(owner_client, opening_csv.template().encode("utf-8-sig"))
    assert preview.status_code == 200
    assert "4 lines understood" in preview.content.decode()
    assert not Item.objects.exists()
    sent = {"key": preview.context["key"], "text": preview.context["text"]}
    response = owner_client.post(OPENING, sent)
    entry = Entry.objects.get()
    assert response.url == reverse("inventory:entry", args=[entry.pk])
    assert (entry.kind, entry.title) == ("opening", "Opening shelf: 4 lots")
    assert Supplier.objects.get().name == "Gray Heron Supply"
    assert set(Place.objects.values_list("name", flat=True)) == {"lower shelf", "rack"}
    colorant = Item.objects.get(kind="colorant")
    assert (colorant.color, colorant.minimum) == ("#9a5a2c", factories.micro(20))
    lot = colorant.lots.get()
    assert (lot.cost, lot.supplier_lot, lot.place.name) == (
        factories.micro("6.50"),
        "C-118",
        "rack",
    )
    assert Item.objects.get(kind="flake").lots.get().cost is None


def test_the_same_file_booked_twice_is_booked_once(owner_client):
    preview = upload(owner_client, opening_csv.template())
    sent = {"key": preview.context["key"], "text": preview.context["text"]}
    first, second = owner_client.post(OPENING, sent), owner_client.post(OPENING, sent)
    assert first.url == second.url
    assert Lot.objects.count() == 4


def test_the_same_key_with_another_file_books_nothing(owner_client):
    text = "kind,item,stock unit,amount\npart,Long hook,each,5\n"
    owner_client.post(OPENING, {"key": "o", "text": text})
    other = text + "part,Short hook,each,7\n"
    response = owner_client.post(OPENING, {"key": "o", "text": other})
    assert response.status_code == 422
    assert "already posted" in response.content.decode()
    assert Item.objects.count() == 1


def test_one_wrong_line_books_nothing_and_is_named(owner_client):
    text = 'kind,item,stock unit,amount\npart,Long hook,each,5\ncolorant,Dusk,mL,"1,5"\n'
    response = upload(owner_client, text)
    content = response.content.decode()
    assert response.status_code == 422
    assert "Line 3, amount: Write 1.5 with a point." in content
    assert "1 other line is fine" in content
    assert owner_client.post(OPENING, {"key": "o", "text": text}).status_code == 422
    assert not Item.objects.exists()
    assert not Entry.objects.exists()


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"kind,item,stock unit,price\n", "“price”"),
        (b"", "empty"),
        ("kind\nCafé".encode("latin-1"), "UTF-8"),
        (b"x" * 1_000_001, "larger than 1 MB"),
    ],
)
def test_a_file_that_cannot_be_read_says_so_at_the_field(owner_client, data, words):
    response = upload(owner_client, data)
    assert response.status_code == 422
    assert words in response.context["form"].errors["file"][0]


def test_no_file_is_refused(owner_client):
    response = owner_client.post(OPENING, {})
    assert response.status_code == 422
    assert "file" in response.context["form"].errors


def test_a_second_load_adds_lots_to_items_already_there(owner_client):
    item = factories.make_item("part", "Long hook", "each")
    text = "kind,item,stock unit,amount\npart,long hook,each,5\npart,Long Hook,each,7\n"
    owner_client.post(OPENING, {"key": "o", "text": text})
    assert sorted(lot.on_hand for lot in item.lots.all()) == [5_000_000, 7_000_000]
    assert Item.objects.count() == 1


def test_a_list_without_stock_makes_items_only(owner_client):
    text = "kind,item,stock unit,amount\npart,Long hook,each,\n"
    response = owner_client.post(OPENING, {"key": "o", "text": text})
    assert response.url == reverse("inventory:shelf")
    assert Item.objects.get().name == "Long hook"
    assert not Entry.objects.exists()


def test_cells_are_shown_as_text_never_as_markup(owner_client):
    text = "kind,item,stock unit,amount\npart,<script>alert(1)</script>,each,5\n"
    assert "<script>alert" not in upload(owner_client, text).content.decode()


def test_a_helper_does_not_open_the_books(helper_client):
    assert helper_client.get(OPENING).status_code == 403
    assert helper_client.post(OPENING, {"key": "o", "text": "x"}).status_code == 403
