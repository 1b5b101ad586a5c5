"""Printing labels of bag lots."""

import pytest
from django.urls import reverse
from pypdf import PdfReader

from production.models import Bagging
from tests import factories
from tests.production import bench_helpers as bench
from tests.production.test_bagging_pages import bag, make_loose, make_product

pytestmark = pytest.mark.django_db


@pytest.fixture
def version(shop):
    base = factories.make_plastisol()
    return factories.make_recipe("Moss Lantern", grade=base, doses={})


@pytest.fixture
def bagged(owner_client, version):
    # 036000291452 is the worked example of a UPC-A check digit in the GS1 literature (from memory).
    product = make_product(version, count=8, barcode="036000291452")
    make_loose(product, 40)
    bag(owner_client, product, "3")
    return Bagging.objects.get()


def ask(client, **asked):
    query = {"stock": "letter-2x5", "start": "1", "number": ""} | asked
    return client.get(reverse("production:labels_pdf"), query)


def pages_of(answer, tmp_path) -> list[str]:
    path = tmp_path / "labels.pdf"
    path.write_bytes(answer.content)
    return [" ".join(page.extract_text().split()) for page in PdfReader(path).pages]


def test_one_label_for_every_bag_on_hand(owner_client, bagged, tmp_path):
    answer = ask(owner_client, lot=bagged.lot_id)
    assert answer["Content-Type"] == "application/pdf"
    [text] = pages_of(answer, tmp_path)
    assert text.count(bagged.lot.number) == 3


def test_label_says_shop_bait_length_pattern_count_lot_and_date(owner_client, bagged, tmp_path):
    [text] = pages_of(ask(owner_client, lot=bagged.lot_id, number="1"), tmp_path)
    day = f"{bagged.lot.received_on:%Y-%m-%d}"
    # 101.6 mm are 4 in exactly (NIST SP 811).
    for words in ("Lantern Cove Baits", "Reed Eel", "4 in", "Moss Lantern", "8 baits", day):
        assert words in text


def test_metric_shop_writes_millimeters(owner_client, shop, bagged, tmp_path):
    shop.units = "metric"
    shop.save()
    [text] = pages_of(ask(owner_client, lot=bagged.lot_id, number="1"), tmp_path)
    assert "101.6 mm" in text


def test_part_used_sheet_goes_on_from_its_first_free_place(owner_client, bagged, tmp_path):
    pages = pages_of(ask(owner_client, lot=bagged.lot_id, start="9"), tmp_path)
    assert [text.count(bagged.lot.number) for text in pages] == [2, 1]


def test_lot_can_be_chosen_before_the_page_opens(owner_client, bagged):
    page = owner_client.get(reverse("production:labels"), {"lot": bagged.lot_id})
    assert f'value="{bagged.lot_id}"' in page.content.decode()
    assert "checked" in page.content.decode()


def test_place_that_the_sheet_does_not_have_is_said_at_its_field(owner_client, bagged):
    answer = ask(owner_client, lot=bagged.lot_id, start="11")
    assert answer.status_code == 422
    assert "places 1 to 10" in answer.context["form"]["start"].errors[0]
    assert answer.context["form"]["start"].value() == "11"


def test_label_that_cannot_be_printed_is_said_at_the_bags(owner_client, shop, bagged):
    shop.name = "霧"  # no letter of the printing font
    shop.save()
    answer = ask(owner_client, lot=bagged.lot_id)
    assert answer.status_code == 422
    assert answer.context["form"]["lot"].errors


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        ("number", "-1"),
        ("number", "1e309"),
        ("number", "5000"),
        ("number", "NaN"),
        ("start", "1,5"),
        ("start", "0"),
        ("stock", "napkin"),
        ("lot", "999"),
        ("lot", "x"),
    ],
)
def test_what_cannot_be_printed_is_said_at_its_field(owner_client, bagged, field, typed):
    answer = ask(owner_client, **({"lot": bagged.lot_id} | {field: typed}))
    assert answer.status_code == 422
    assert answer.context["form"][field].errors


def test_without_a_lot_the_page_asks_for_one(owner_client, bagged):
    answer = ask(owner_client)
    assert answer.status_code == 422
    assert answer.context["form"]["lot"].errors


def test_without_bags_the_page_leads_to_bagging(owner_client):
    assert "No bags on hand to label." in bench.text_of(
        owner_client.get(reverse("production:labels"))
    )


def test_assortment_goes_by_its_own_name(owner_client, version, bagged, tmp_path):
    product = bagged.product
    other = factories.make_bait("Mud Grub", "60")
    product.contents.create(bait=other, pattern=version.layers.get().pattern, count=4)
    [text] = pages_of(ask(owner_client, lot=bagged.lot_id, number="1"), tmp_path)
    assert product.item.name in text
    assert "12 baits" in text


def test_helper_can_print_labels(helper_client, bagged):
    assert ask(helper_client, lot=bagged.lot_id).status_code == 200
