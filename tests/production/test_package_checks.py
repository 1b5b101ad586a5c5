"""The checklist of a package: what it must say, how large, and what each point rests on."""

import dataclasses
import io
from datetime import date
from decimal import Decimal

import pypdfium2
import pytest
from django.urls import reverse

from production import label_facts, label_stock, labels, package_checks
from production.models import LabelTemplate, Product
from production.services import products
from tests import factories

FULL = package_checks.Package(
    identity="soft plastic fishing baits",
    count="8 baits",
    maker="Lantern Cove Baits",
    place="Elm Lake, MN",
    front_mm=(101.6, 152.4),
    count_height_mm=3.2,
)


def state(package, what):
    return next(check for check in package_checks.checks(package) if check.what == what)


def test_every_point_names_what_it_rests_on():
    assert all(check.source and check.says for check in package_checks.checks(FULL))


@pytest.mark.parametrize("missing", ["identity", "count", "maker", "place"])
def test_what_is_not_said_is_to_do(missing):
    lacking = dataclasses.replace(FULL, **{missing: ""})
    assert [c.state for c in package_checks.checks(lacking)].count(package_checks.NO) == 1


# 16 CFR 500.21(b), its bands as in 21 CFR 101.7(i); worked by arithmetic:
# 4 × 6 in = 24 sq in → 1/8 in; 5 × 5 = 25 → 1/8; 5 × 7 = 35 → 3/16; 2 × 2.5 = 5 → 1/16
@pytest.mark.parametrize(
    ("inches", "least_mm"),
    [((4, 6), 3.175), ((5, 5), 3.175), ((5, 7), 4.7625), ((2, 2.5), 1.5875), ((2, 2.51), 3.175)],
)
def test_letters_are_as_high_as_the_front_asks(inches, least_mm):
    front = tuple(side * 25.4 for side in inches)
    high = dataclasses.replace(FULL, front_mm=front, count_height_mm=least_mm)
    low = dataclasses.replace(FULL, front_mm=front, count_height_mm=least_mm - 0.01)
    assert state(high, "Letters of the count").state == package_checks.YES
    assert state(low, "Letters of the count").state == package_checks.NO


def test_a_front_that_nobody_measured_is_to_be_looked_at():
    check = state(dataclasses.replace(FULL, front_mm=None), "Letters of the count")
    assert check.state == package_checks.LOOK


def test_goods_for_children_are_flagged():
    check = state(dataclasses.replace(FULL, child_directed=True), "Made for children")
    assert check.state == package_checks.NO
    assert "testing" in check.says


def test_no_warning_is_printed_unless_the_owner_wrote_one():
    assert "None is printed" in state(FULL, "Warnings").says
    worded = dataclasses.replace(FULL, warning="Not a toy.", warning_on=date(2026, 3, 1))
    assert state(worded, "Warnings").says == "“Not a toy.”, wording of 2026-03-01"


@pytest.fixture
def product(shop):
    factories.make_recipe("Marsh Lantern", grade=factories.make_plastisol(), doses={})
    from production.models import Pattern

    return products.create(
        name="Reed Eel 8",
        contents=[(factories.make_bait(), Pattern.objects.get(), 8)],
        price_minor=650,
        words=products.Words(
            identity="soft plastic fishing baits",
            front_w_mm=Decimal(127),
            front_h_mm=Decimal("177.80"),
        ),
    )


@pytest.mark.django_db
def test_the_label_is_drawn_as_high_as_the_checklist_says(product, shop):
    """The height on the list is the height of the ink on the page."""
    stock = label_stock.STOCKS["letter-2x5"]
    package = label_facts.package(product, shop, stock)
    assert package.count_height_mm >= 4.7625 - 0.001
    label = labels.BagLabel("", "", "", "", "xxxxx", "", "", panel_sq_in=35)
    page = pypdfium2.PdfDocument(io.BytesIO(labels.sheet([label], stock)))[0]
    image = page.render(scale=1200 / 72, grayscale=True).to_pil()
    _left, top, _right, bottom = image.point(lambda v: 255 * (v < 128)).getbbox()
    assert (bottom - top) / 1200 * 25.4 == pytest.approx(
        labels.count_height_mm(label, stock), abs=0.03
    )


@pytest.mark.django_db
def test_the_product_page_shows_the_checklist(owner_client, product):
    page = owner_client.get(reverse("production:product", args=[product.pk])).content.decode()
    assert "What the package must say" in page
    assert "35.0 sq in: at least 4.76 mm (3/16 in)" in page


@pytest.mark.django_db
def test_half_a_measured_front_is_refused_at_its_field(product):
    from production.services.refusals import Refusal

    with pytest.raises(Refusal, match="both ways") as refused:
        products.update(
            Product.objects.get(),
            name="Reed Eel 8",
            contents=[(c.bait, c.pattern, c.count) for c in product.contents.all()],
            price_minor=650,
            words=products.Words(front_w_mm=100),
        )
    assert refused.value.field == "front_h_mm"


def template(kind, stock, **facts):
    return LabelTemplate.objects.create(name=f"{kind} {stock}", kind=kind, stock=stock, **facts)


@pytest.mark.django_db
def test_the_checklist_goes_by_the_usual_template_and_its_sheet(owner_client, product):
    def shown():
        page = owner_client.get(reverse("production:product", args=[product.pk]))
        return page.context["usual"], page.content.decode()

    assert shown()[0].stock.key == "letter-2x7"
    template("bag", "a4-2x4", usual=False)
    assert shown()[0].stock.key == "letter-2x7", "not the usual one"
    template("header", "letter-2x2", usual=True)
    usual, text = shown()
    assert usual.kind == "header" and "the header card on Letter, 2 × 2 cards" in text
    template("bag", "own:999", usual=True)
    assert shown()[0].kind == "header", "the bag template's sheet was taken away"
    LabelTemplate.objects.filter(stock="own:999").update(stock="letter-2x3", parts={"count": 0})
    usual, text = shown()
    assert usual.stock.key == "letter-2x3"
    assert "Say how many baits are in the bag." in text, "this template leaves the count out"


@pytest.mark.django_db
def test_a_header_card_counts_as_the_panel(product, shop):
    """A card 4¼ in wide, folded to 2¾ in, has 11.7 sq in: 1/8 in, unless the front is larger."""
    stock = label_stock.STOCKS["letter-2x2"]
    product.front_w_mm = product.front_h_mm = None
    package = label_facts.package(product, shop, stock, header=True)
    height = state(package, "Letters of the count")
    assert "11.7 sq in: at least 3.17 mm (1/8 in)" in height.says.replace("3.18", "3.17")
    assert height.state == package_checks.YES
    product.front_w_mm, product.front_h_mm = Decimal(254), Decimal(254)
    package = label_facts.package(product, shop, stock, header=True)
    assert "100.0 sq in: at least 4.76 mm (3/16 in)" in state(package, "Letters of the count").says


@pytest.mark.django_db
def test_a_label_that_cannot_be_drawn_is_said_with_its_reason(product, shop):
    product.barcode = "6291041500213"
    package = label_facts.package(product, shop, label_stock.STOCKS["a4-5x13"])
    height = state(package, "Letters of the count")
    assert height.state == package_checks.NO and "can't be drawn" in height.says
    assert "Choose a" in height.says
