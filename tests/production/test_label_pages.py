"""Printing labels of bag lots."""

import pypdfium2
import pytest
import zxingcpp
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from pypdf import PdfReader

from inventory.models import Place
from production import label_template
from production.models import Bagging, LabelSheet, LabelTemplate, Printer, PrintJob
from tests import factories
from tests.production import bench_helpers as bench
from tests.production.live import Live
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


def ask(client, lot=None, number="", **asked):
    """Sends the labels form for one lot; its PDF when it was taken, else the page with what is wrong."""
    query = {"look": "sheet:letter-2x5", "start": "1"} | asked
    if lot is not None:
        query[f"lot_{lot}"] = number or "3"
    answer = client.post(reverse("production:labels"), query, follow=True)
    if answer.status_code != 200:
        return answer
    return client.get(reverse("production:label_job_pdf", args=[answer.context["job"].pk]))


def pages_of(answer, tmp_path) -> list[str]:
    path = tmp_path / "labels.pdf"
    path.write_bytes(answer.content)
    return [" ".join(page.extract_text().split()) for page in PdfReader(path).pages]


def test_one_label_for_every_bag_on_hand(owner_client, bagged, tmp_path):
    page = owner_client.get(reverse("production:labels"), {"lot": bagged.lot_id})
    assert page.context["form"][f"lot_{bagged.lot_id}"].value() == 3
    answer = ask(owner_client, lot=bagged.lot_id, number="3")
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
    assert "霧" in answer.context["form"].non_field_errors()[0]
    assert not PrintJob.objects.exists()


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        ("lot", "-1"),
        ("lot", "1e309"),
        ("lot", "10001"),
        ("lot", "NaN"),
        ("start", "1,5"),
        ("start", "0"),
        ("look", "sheet:napkin"),
    ],
)
def test_what_cannot_be_printed_is_said_at_its_field(owner_client, bagged, field, typed):
    name = f"lot_{bagged.lot_id}" if field == "lot" else field
    answer = ask(
        owner_client,
        lot=bagged.lot_id,
        **{name: typed} if field != "lot" else {},
        number=typed if field == "lot" else "",
    )
    assert answer.status_code == 422
    assert answer.context["form"][name].errors
    assert answer.context["form"][name].value() == typed


def test_without_a_number_the_page_asks_for_one(owner_client, bagged):
    answer = ask(owner_client)
    assert answer.status_code == 422
    assert "Write how many labels of which lot" in bench.text_of(answer)


def test_more_labels_than_one_job_prints_are_refused(owner_client, version, bagged):
    other = make_product(version, count=8, name="Another")
    make_loose(other, 8)
    bag(owner_client, other, "1")
    lots = {f"lot_{lot}": "9000" for lot in Bagging.objects.values_list("lot", flat=True)}
    answer = ask(owner_client, **lots)
    assert answer.status_code == 422
    assert "At most 10,000" in bench.text_of(answer)


def test_one_job_mixes_products_and_is_noted(owner_client, version, bagged, tmp_path):
    other = make_product(version, count=8, name="Another")
    make_loose(other, 8)
    bag(owner_client, other, "1")
    lots = {f"lot_{each.lot_id}": "2" for each in Bagging.objects.all()}
    [text] = pages_of(ask(owner_client, **lots), tmp_path)
    numbers = [each.lot.number for each in Bagging.objects.all()]
    assert [text.count(number) for number in numbers] == [2, 2]
    job = PrintJob.objects.get()
    assert {(line.lot_id, line.count) for line in job.lines.all()} == {
        (each.lot_id, 2) for each in Bagging.objects.all()
    }


def test_a_reprint_is_a_job_of_its_own_that_names_the_first(helper_client, owner_client, bagged):
    ask(owner_client, lot=bagged.lot_id)
    first = PrintJob.objects.get()
    helper_client.post(reverse("production:label_job_again", args=[first.pk]))
    again = PrintJob.objects.get(again=first)
    assert again.by.role == "helper"
    assert [line.count for line in again.lines.all()] == [3]
    page = bench.text_of(owner_client.get(reverse("production:label_jobs")))
    assert f"again, after {first.pk}" in page


def test_the_preview_is_drawn_as_it_prints_or_says_why_not(owner_client, shop, bagged):
    asked = {f"lot_{bagged.lot_id}": "1", "look": "sheet:letter-2x5", "start": "1"}
    page = owner_client.get(reverse("production:label_preview"), asked).content.decode()
    assert "<svg" in page and "Moss Lantern" in page
    asked["look"] = "sheet:a4-5x13"
    page = owner_client.get(reverse("production:label_preview"), asked).content.decode()
    assert "The barcode 036000291452 needs at least" in page


def test_a_header_card_has_a_front_a_back_and_no_label_smaller_than_its_hole(
    owner_client, bagged, tmp_path
):
    answer = ask(owner_client, lot=bagged.lot_id, kind="header", look="sheet:letter-2x2")
    [text] = pages_of(answer, tmp_path)
    assert text.count("Moss Lantern") >= 3
    refused = ask(owner_client, lot=bagged.lot_id, kind="header", look="sheet:letter-3x10")
    assert refused.status_code == 422
    assert "no room for words beside its hole" in bench.text_of(refused)


def test_a_template_hides_parts_and_shows_the_lot_as_bars(owner_client, bagged, tmp_path):
    parts = {f"part_{part}": size for part, (_, size) in label_template.PARTS.items()}
    parts = {k: v for k, v in parts.items() if v or k == "part_logo"}
    typed = parts | {"name": "Market", "kind": "bag", "stock": "letter-2x4", "part_maker": "0"}
    typed |= {"part_bars": "on", "usual": "on"}
    url = reverse("production:label_template_new")
    refused = owner_client.post(url, typed | {"part_color": "20"})
    assert refused.status_code == 422
    assert "Between 50 and 200" in bench.text_of(refused)
    assert owner_client.post(url, typed).status_code == 302
    kept = LabelTemplate.objects.get()
    form = owner_client.get(reverse("production:labels")).context["form"]
    assert form["look"].value() == f"template:{kept.pk}"
    answer = ask(owner_client, lot=bagged.lot_id, number="1", look=f"template:{kept.pk}")
    [text] = pages_of(answer, tmp_path)
    assert "Lantern Cove Baits" not in text
    image = pypdfium2.PdfDocument(answer.content)[0].render(scale=300 / 72).to_pil()
    found = {code.text for code in zxingcpp.read_barcodes(image)}
    assert found == {bagged.lot.number, "0036000291452"}


def test_a_sheet_of_ones_own_is_printed_and_its_mistakes_are_named(owner_client, bagged, tmp_path):
    typed = {
        "name": "2 x 3",
        "rows": "3",
        "columns": "2",
        "page_w_mm": "8.5 in",
        "page_h_mm": "11 in",
    }
    typed |= {"label_w_mm": "100 mm", "label_h_mm": "80 mm", "left_mm": "5 mm", "top_mm": "10 mm"}
    typed |= {"gap_x_mm": "0", "gap_y_mm": "0", "radius_mm": "0", "dpi": ""}
    url = reverse("production:label_sheet_new")
    refused = owner_client.post(url, typed | {"columns": "3"})
    assert refused.status_code == 422
    assert "do not fit the page across" in refused.context["form"].errors["label_w_mm"][0]
    assert owner_client.post(url, typed).status_code == 302
    sheet = LabelSheet.objects.get()
    answer = ask(owner_client, lot=bagged.lot_id, look=f"sheet:own:{sheet.pk}")
    assert pages_of(answer, tmp_path)[0].count(bagged.lot.number) == 3


def test_a_printer_that_prints_off_is_nudged(owner_client, bagged):
    typed = {"name": "Desk", "right_mm": "2.5", "down_mm": "-1"}
    assert owner_client.post(reverse("production:label_printer_new"), typed).status_code == 302
    printer = Printer.objects.get()
    plain = ask(owner_client, lot=bagged.lot_id)
    moved = ask(owner_client, lot=bagged.lot_id, printer=printer.pk)

    def corner(answer):
        image = pypdfium2.PdfDocument(answer.content)[0].render(scale=10, grayscale=True).to_pil()
        left, top, _right, _bottom = image.point(lambda v: 255 * (v < 128)).getbbox()
        return left / 720 * 25.4, top / 720 * 25.4

    (left, top), (new_left, new_top) = corner(plain), corner(moved)
    assert new_left - left == pytest.approx(2.5, abs=0.06)
    assert new_top - top == pytest.approx(-1, abs=0.06)
    page = owner_client.get(
        reverse("production:label_test_page"), {"stock": "letter-2x5", "printer": printer.pk}
    )
    assert page["Content-Type"] == "application/pdf"


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


def test_what_was_asked_for_comes_first_and_older_lots_are_behind_a_fold(owner_client, version):
    product = make_product(version, count=1)
    make_loose(product, 10)
    for _ in range(10):
        bag(owner_client, product, "1")
    oldest = Bagging.objects.order_by("pk").first().lot
    answer = owner_client.get(reverse("production:labels"), {"lot": oldest.pk})
    form = answer.context["form"]
    first = form.lot_fields[0]
    assert (first.name, first.value()) == (f"lot_{oldest.pk}", 1)
    assert first.help_text == f"{oldest.number} · 1 bag"
    assert (len(form.lot_fields), len(form.more_lot_fields)) == (8, 2)
    assert "Older ones (2)" in bench.text_of(answer)
    all_fields = dict.fromkeys(form.lots, "") | {form.more_lot_fields[0].name: "2.5"}
    refused = owner_client.post(
        reverse("production:labels"), all_fields | {"look": "sheet:letter-2x5", "start": "1"}
    )
    again = refused.context["form"]
    assert refused.status_code == 422 and again.lot_fields[0].value() == "2.5"
    assert len(again.more_lot_fields) == 2, "what is wrong is in sight, the others stay folded"
    many = {f"lot_{each.lot_id}": "1" for each in Bagging.objects.all()}
    job = owner_client.post(
        reverse("production:labels"), many | {"look": "sheet:letter-2x5", "start": "1"}, follow=True
    )
    assert len(job.context["lines"]) == 10, "what is behind the fold is printed too"


def test_bags_at_a_stall_are_listed_only_when_asked_for(owner_client, bagged):
    lot = bagged.lot
    lot.place = Place.objects.create(name="Harbor market", kind=Place.Kind.STALL)
    lot.save()
    url = reverse("production:labels")
    assert not owner_client.get(url).context["form"].lots
    assert f"lot_{lot.pk}" in owner_client.get(url, {"lot": lot.pk}).context["form"].lots


@pytest.mark.parametrize("kind", ["shelf", "lid"])
def test_the_list_asks_the_database_as_often_for_many_lots(owner_client, shop, kind):
    live = Live()
    url = reverse("production:labels")

    def asked():
        with CaptureQueriesContext(connection) as queries:
            text = bench.text_of(owner_client.get(url, {"kind": kind}))
        assert str(live.recipe.recipe) in text, "a leftover by its color"
        return len(queries)

    live.mix()
    before = asked()
    for _ in range(4):
        live.mix()
        factories.make_lot(live.moss, 5, 1)
    assert asked() == before
