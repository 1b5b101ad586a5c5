"""Products: what goes into a bag, its price and its barcode number."""

from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.models import Item
from production.models import Pattern, Product
from production.services import products
from production.services.refusals import Refusal
from tests import factories

pytestmark = pytest.mark.django_db

# GS1 Hong Kong's check-digit calculator, worked example: 629104150021 takes 3
GTIN = "6291041500213"


def url(name, *args):
    return reverse(f"production:{name}", args=args)


@pytest.fixture
def eel():
    return factories.make_bait("Reed Eel")


@pytest.fixture
def pattern():
    factories.make_recipe(grade=factories.make_plastisol(), doses={})
    return Pattern.objects.get()


@pytest.fixture
def bag():
    return factories.make_item("packaging", "Clear bag", "each")


def keep(eel, pattern, **facts):
    return products.create(
        **{"name": "Reed Eel 8", "contents": [(eel, pattern, 8)], "price_minor": 650} | facts
    )


def typed(eel, pattern, **changes):
    """A product form as the browser sends it, empty lines and all."""
    data = {"name": "Reed Eel 8", "price_minor": "6.50", "barcode": ""}
    for line in range(6):
        data |= {f"content-{line}-{field}": "" for field in ("bait", "pattern", "count")}
    for line in range(4):
        data |= {f"packaging-{line}-{field}": "" for field in ("item", "amount")}
    first = {"bait": str(eel.pk), "pattern": str(pattern.pk), "count": "8"}
    return data | {f"content-0-{field}": value for field, value in first.items()} | changes


def test_product_is_stocked_as_whole_bags(eel, pattern):
    product = keep(eel, pattern)
    assert (product.item.kind, product.item.stock_unit) == (Item.Kind.BAGGED, "each")


def test_barcode_with_a_wrong_check_digit_is_refused_with_the_right_one(eel, pattern):
    with pytest.raises(Refusal, match="should be 3, not 4") as refused:
        keep(eel, pattern, barcode="6291041500214")
    assert refused.value.field == "barcode"
    assert not Item.objects.filter(kind=Item.Kind.BAGGED).exists()


def test_barcode_number_belongs_to_one_product(eel, pattern):
    keep(eel, pattern, barcode=GTIN)
    with pytest.raises(Refusal, match="Reed Eel 8 already has"):
        keep(eel, pattern, name="Another", barcode=GTIN)


def test_bag_of_nothing_is_refused(eel, pattern):
    with pytest.raises(Refusal, match="Say which bait"):
        keep(eel, pattern, contents=[])


def test_same_bait_and_color_twice_is_refused_at_the_second(eel, pattern):
    with pytest.raises(Refusal, match="already in this bag") as refused:
        keep(eel, pattern, contents=[(eel, pattern, 4), (eel, pattern, 4)])
    assert refused.value.row == 1


def test_plastisol_is_no_packaging(eel, pattern):
    base = Item.objects.get(kind=Item.Kind.PLASTISOL)
    with pytest.raises(Refusal, match="no packaging") as refused:
        keep(eel, pattern, packaging=[(base, 1)])
    assert (refused.value.field, refused.value.row) == ("item", 0)


def test_changed_product_keeps_its_item(eel, pattern, bag):
    product = keep(eel, pattern)
    item = product.item
    products.update(
        product,
        name="Reed Eel 10",
        contents=[(eel, pattern, 10)],
        price_minor=700,
        packaging=[(bag, factories.micro(1))],
    )
    product = Product.objects.get()
    assert product.item == item
    assert (product.item.name, product.contents.get().count) == ("Reed Eel 10", 10)
    assert product.packaging.get().item == bag


def test_product_is_kept_as_typed(owner_client, eel, pattern, bag):
    lines = {"packaging-1-item": str(bag.pk), "packaging-1-amount": "1"}
    data = typed(eel, pattern, barcode="6-291041 500213", **lines)
    answer = owner_client.post(url("product_new"), data)
    product = Product.objects.get()
    assert answer.url == url("product", product.pk)
    assert (product.price_minor, product.barcode) == (650, GTIN)
    assert product.packaging.get().quantity == 1_000_000
    page = owner_client.get(answer.url).content.decode()
    assert "6.50" in page
    assert "Clear bag" in page


def test_wrong_check_digit_is_refused_at_the_barcode_and_kept_as_typed(owner_client, eel, pattern):
    page = owner_client.post(url("product_new"), typed(eel, pattern, barcode="6291041500214"))
    assert page.status_code == 422
    assert "should be 3" in page.context["form"].errors["barcode"][0]
    assert 'value="6291041500214"' in page.content.decode()
    assert not Product.objects.exists()


def test_packaging_in_a_unit_it_cannot_convert_names_the_missing_figure(owner_client, eel, pattern):
    oil = factories.make_item("additive", "Scent oil", "mL")
    lines = {"packaging-0-item": str(oil.pk), "packaging-0-amount": "8 drops"}
    page = owner_client.post(url("product_new"), typed(eel, pattern, **lines))
    assert page.status_code == 422
    error = page.context["packaging"].forms[0].errors["amount"][0]
    assert "Scent oil" in error
    assert "size of a drop" in error


def test_half_a_bag_is_refused(owner_client, eel, pattern, bag):
    lines = {"packaging-0-item": str(bag.pk), "packaging-0-amount": "½"}
    page = owner_client.post(url("product_new"), typed(eel, pattern, **lines))
    assert "whole number" in page.context["packaging"].forms[0].errors["amount"][0]


def test_same_packaging_twice_is_refused_at_the_second_line(owner_client, eel, pattern, bag):
    lines = {
        f"packaging-{line}-{field}": value
        for line in (0, 3)
        for field, value in (("item", str(bag.pk)), ("amount", "1"))
    }
    page = owner_client.post(url("product_new"), typed(eel, pattern, **lines))
    assert page.status_code == 422
    assert "item" in page.context["packaging"].forms[3].errors


@pytest.mark.parametrize("price", ["", "NaN", "1e309", "6,50", "-1", "6.505"])
def test_price_that_is_none_is_refused_at_its_field(owner_client, eel, pattern, price):
    page = owner_client.post(url("product_new"), typed(eel, pattern, price_minor=price))
    assert page.status_code == 422
    assert "price_minor" in page.context["form"].errors


def test_line_without_a_count_is_refused_there(owner_client, eel, pattern):
    page = owner_client.post(url("product_new"), typed(eel, pattern, **{"content-0-count": ""}))
    assert page.status_code == 422
    assert "count" in page.context["contents"].forms[0].errors


def test_emptied_line_takes_the_bait_out_of_the_bag(owner_client, eel, pattern):
    craw = factories.make_bait("Pond Craw")
    product = keep(eel, pattern, contents=[(eel, pattern, 4), (craw, pattern, 4)])
    owner_client.post(url("product_edit", product.pk), typed(eel, pattern))
    assert [content.bait for content in product.contents.all()] == [eel]


def test_product_form_starts_with_what_the_product_is(owner_client, eel, pattern, bag):
    product = keep(eel, pattern, packaging=[(bag, factories.micro(1))], barcode=GTIN)
    page = owner_client.get(url("product_edit", product.pk)).content.decode()
    assert 'value="6.50"' in page
    assert f'value="{GTIN}"' in page
    assert 'value="1 each"' in page


@pytest.mark.parametrize("name", ["product", "product_edit"])
def test_unknown_product_is_not_found(owner_client, name):
    assert owner_client.get(url(name, 404_404)).status_code == 404


def test_no_products_yet_says_what_to_do(owner_client):
    assert "No products yet" in owner_client.get(url("products")).content.decode()


def test_ten_more_products_cost_no_more_queries(owner_client, eel, pattern, bag):
    def count():
        with CaptureQueriesContext(connection) as queries:
            assert owner_client.get(url("products")).status_code == 200
        return len(queries)

    green = factories.make_item("colorant", "Marsh green", color="#2f6b3a")
    factories.make_recipe("Dusk", grade=factories.make_item("plastisol"), doses={green: 1})
    keep(eel, Pattern.objects.get(name="Dusk"), packaging=[(bag, factories.micro(1))])
    few = count()
    for number in range(10):
        factories.make_recipe(
            f"Reed {number}", grade=factories.make_item("plastisol"), doses={green: 1}
        )
        color = Pattern.objects.get(name=f"Reed {number}")
        keep(eel, pattern, name=f"Bag {number}", contents=[(eel, color, 4), (eel, pattern, 4)])
    assert count() == few


def test_bags_on_hand_are_counted(owner_client, eel, pattern):
    product = keep(eel, pattern)
    factories.make_lot(product.item, 12)
    page = owner_client.get(url("products"))
    assert page.context["page_obj"][0].bags == factories.micro(12)


def test_helper_sees_products_and_changes_none(helper_client, eel, pattern):
    product = keep(eel, pattern)
    assert helper_client.get(url("product", product.pk)).status_code == 200
    assert helper_client.get(url("product_edit", product.pk)).status_code == 403


def test_price_is_kept_in_cents(owner_client, eel, pattern):
    owner_client.post(url("product_new"), typed(eel, pattern, price_minor="$12"))
    assert Product.objects.get().price_minor == int(Decimal(12) * 100)


def test_finishing_steps_are_kept_in_order_with_what_they_use_up(owner_client, eel, pattern):
    eyes = factories.make_item("part", "Amber eye", "each")
    steps = {
        "step-0-name": "trim the flash",
        "step-0-minutes": "1.5",
        "step-1-name": "glue on eyes",
        "step-1-item": str(eyes.pk),
        "step-1-amount": "16",
    }
    assert owner_client.post(url("product_new"), typed(eel, pattern, **steps)).status_code == 302
    product = Product.objects.get()
    kept = [(s.name, s.minutes, s.item, s.quantity) for s in product.finishing.all()]
    assert kept == [
        ("trim the flash", Decimal("1.5"), None, 0),
        ("glue on eyes", Decimal(0), eyes, factories.micro(16)),
    ]
    page = owner_client.get(url("product", product.pk)).content.decode()
    assert "glue on eyes" in page
    form = owner_client.get(url("product_edit", product.pk)).content.decode()
    assert 'value="16 each"' in form


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ({"step-0-name": "glue on eyes", "step-0-amount": "16"}, "Which item is used up?"),
        ({"step-0-minutes": "2"}, "Fill this in, or leave the whole line empty."),
        ({"step-0-name": "dip", "step-0-minutes": "-1"}, "minus"),
    ],
)
def test_half_a_finishing_step_is_said_at_its_field(owner_client, eel, pattern, line, said):
    answer = owner_client.post(url("product_new"), typed(eel, pattern, **line))
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert not Product.objects.exists()


def test_words_of_the_package_are_kept_and_a_warning_needs_its_day(owner_client, eel, pattern):
    words = {"identity": "soft plastic fishing baits", "warning": "Not a toy."}
    answer = owner_client.post(url("product_new"), typed(eel, pattern, **words))
    assert answer.status_code == 422
    assert "Say of which day this wording is" in answer.content.decode()
    words["warning_on"] = "2026-03-01"
    assert owner_client.post(url("product_new"), typed(eel, pattern, **words)).status_code == 302
    product = Product.objects.get()
    assert (product.identity, product.warning) == (words["identity"], "Not a toy.")


def test_bag_of_seconds_says_so(owner_client, eel, pattern):
    owner_client.post(url("product_new"), typed(eel, pattern, second="on"))
    product = Product.objects.get()
    assert product.second
    assert "Filled from seconds" in owner_client.get(url("product", product.pk)).content.decode()


@pytest.mark.parametrize(
    ("typed_number", "whole"),
    # GS1's example of a UPC-A and of an EAN-13 (tests/reference), each without its last digit.
    [("61414121022", "614141210220"), ("629104150021", "6291041500213")],
)
def test_a_missing_check_digit_is_offered_beside_the_field_never_written_silently(
    owner_client, eel, pattern, typed_number, whole
):
    data = typed(eel, pattern, barcode=typed_number)
    page = owner_client.post(url("product_new"), data)
    assert page.status_code == 422 and not Product.objects.exists()
    assert f'value="{typed_number}"' in page.content.decode()
    assert page.context["form"].barcode_whole == whole
    assert f'name="barcode_whole" value="{whole}"' in page.content.decode()
    assert owner_client.post(url("product_new"), data | {"barcode_whole": whole}).status_code == 302
    assert Product.objects.get().barcode == whole


def test_one_number_written_longer_is_still_the_same_number(eel, pattern):
    keep(eel, pattern, barcode="614141210220")
    for again in ("0614141210220", "00614141210220"):
        with pytest.raises(Refusal, match="Reed Eel 8 already has the barcode number 614141210220"):
            keep(eel, pattern, name="Another", barcode=again)
