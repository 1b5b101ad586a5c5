"""What to buy: on the page, on paper, for a spreadsheet; for the owner alone."""

import csv
import io

import pypdf
import pytest
from django.urls import reverse

from inventory.services import suppliers
from tests import factories
from tests.inventory.pages import page, queries_of

pytestmark = pytest.mark.django_db
BUYING = reverse("inventory:buying")
PDF = reverse("inventory:buying_pdf")
CSV = reverse("inventory:buying_csv")


def make_low(name="Copper dusk", supplier="Gray Heron Supply", **facts):
    facts = {"minimum": factories.micro(30), "target": factories.micro(300), **facts}
    item = factories.make_item(name=name, **facts)
    if supplier:
        suppliers.add_pack(
            item=item,
            supplier=factories.make_supplier(supplier),
            name="4 fl oz bottle",
            quantity=factories.micro("118.294118"),
            price_minor=650,
        )
    return item


def test_nothing_low_says_so(owner_client):
    factories.make_lot(make_low(), 100)
    assert "Nothing is low" in page(owner_client, BUYING)


def test_little_history_says_so_and_buys_whole_packs_up_to_the_owners_target(owner_client):
    factories.make_lot(make_low(), 30)
    text = page(owner_client, BUYING)
    # 300 − 30 = 270 mL: three bottles of 118.29 mL, 19.50 in all.
    assert "Little history: never used in 0 days" not in text
    assert "No history yet, your minimum is 30 mL, up to your target of 300 mL" in text
    assert "Nobody can say when it runs out" in text
    assert 'value="3"' in text
    assert "19.50 USD" in text


def test_items_stand_under_their_supplier_and_the_unknown_last(owner_client):
    make_low("Copper dusk", "Gray Heron Supply")
    make_low("Pond green", "Blue Kettle Pigments")
    stray = make_low("Amber tail", None)
    text = page(owner_client, BUYING)
    places = [text.index(word) for word in ("Blue Kettle", "Gray Heron", "Supplier not known")]
    assert places == sorted(places)
    assert reverse("inventory:pack_new", args=[stray.pk]) in text


def test_what_nobody_sells_yet_has_no_sum_and_nothing_is_called_proven(owner_client):
    make_low("Amber tail", None)
    text = page(owner_client, BUYING)
    assert "has no pack yet" in text
    assert "Proven" not in text and "0.00" not in text


def test_archived_items_are_not_bought(owner_client):
    make_low(archived=True)
    assert "Nothing is low" in page(owner_client, BUYING)


def test_the_list_prints(owner_client):
    make_low()
    response = owner_client.get(PDF)
    assert response["Content-Type"] == "application/pdf"
    text = pypdf.PdfReader(io.BytesIO(response.content)).pages[0].extract_text()
    assert "Copper dusk" in text
    assert "Gray Heron Supply" in text
    assert "19.50" in text.replace("\xa0", " ")


def test_the_paper_follows_the_shops_units(owner_client, shop):
    shop.units = "metric"
    shop.save()
    box = pypdf.PdfReader(io.BytesIO(owner_client.get(PDF).content)).pages[0].mediabox
    # A4 is 210 × 297 mm: ISO 216.
    assert round(float(box.width) / 72 * 25.4) == 210


def test_the_list_opens_in_a_spreadsheet(owner_client):
    make_low()
    response = owner_client.get(CSV)
    assert response["Content-Disposition"] == 'attachment; filename="reorder-list.csv"'
    rows = list(csv.DictReader(io.StringIO(response.content.decode("utf-8-sig"))))
    assert rows[0]["item"] == "Copper dusk"
    assert rows[0]["packs"] == "3"
    assert rows[0]["sum"] == "19.50"


def test_a_name_that_looks_like_a_formula_is_disarmed_in_the_file(owner_client):
    make_low('=HYPERLINK("x")', "@Heron")
    rows = list(csv.DictReader(io.StringIO(owner_client.get(CSV).content.decode("utf-8-sig"))))
    assert rows[0]["item"].startswith("'=")
    assert rows[0]["supplier"] == "'@Heron"


@pytest.mark.parametrize("url", [BUYING, PDF, CSV])
def test_buying_is_the_owners(helper_client, url):
    assert helper_client.get(url).status_code == 403


@pytest.mark.parametrize("url", [PDF, CSV])
def test_the_files_are_only_read(owner_client, url):
    assert owner_client.post(url).status_code == 405


def test_the_page_takes_as_many_queries_for_20_items_as_for_10(owner_client):
    for number in range(10):
        make_low(f"Dusk {number}", f"Supplier {number}")
    ten = queries_of(owner_client, BUYING)
    for number in range(10, 20):
        make_low(f"Dusk {number}", f"Supplier {number}")
    assert queries_of(owner_client, BUYING) == ten
