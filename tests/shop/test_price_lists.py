"""Price lists: what each customer pays, and the paper to hand out."""

import io
from decimal import Decimal

import pytest
from django.urls import reverse
from pypdf import PdfReader

from inventory.models import Item
from production.chip_pdf import Chip
from shop import price_list_pdf, price_table, prices
from shop.models import Customer, ListPrice, PriceList
from shop.services import orders
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def wholesale(db):
    return PriceList.objects.create(name="Wholesale", percent_off=Decimal("12.5"))


def test_a_list_takes_its_per_cent_off_save_where_it_names_a_price(make_product, wholesale):
    eel, craw = make_product("Eel", price_minor=655), make_product("Craw", price_minor=700)
    ListPrice.objects.create(price_list=wholesale, product=craw, price_minor=500)
    costs = prices.of_list(wholesale)
    # 6.55 less 12.5 % is 5.73125.
    assert (costs.of(eel), costs.of(craw)) == (573, 500)
    assert (prices.of_list(None).of(eel), prices.of_customer(None).of(craw)) == (655, 700)


def test_an_order_takes_the_customer_s_prices_and_keeps_them(make_product, wholesale):
    eel, craw = make_product("Eel", price_minor=655), make_product("Craw", price_minor=700)
    customer = Customer.objects.create(name="Otter Ferry", price_list=wholesale)
    order = orders.take(
        customer=customer, lines=[orders.Wanted(eel, 2), orders.Wanted(craw, 1, price_minor=1)]
    )
    PriceList.objects.update(percent_off=50)
    assert list(order.lines.values_list("price_minor", flat=True)) == [573, 1]


def _save(client, url, **typed):
    return client.post(url, {"name": "Wholesale", "percent_off": "10"} | typed)


def test_a_list_is_made_changed_and_removed(owner_client, shop, make_product):
    eel, craw = make_product("Eel", price_minor=655), make_product("Craw", price_minor=700)
    _save(owner_client, reverse("price_list_new"), **{f"own-{craw.pk}": "5.25"})
    made = PriceList.objects.get()
    assert (made.percent_off, made.prices.get().price_minor) == (10, 525)
    url = reverse("price_list", args=[made.pk])
    page = owner_client.get(url).content.decode()
    # 6.55 less 10 % is 5.895: half a cent goes up.
    assert "5.90" in page and 'value="5.25"' in page
    _save(owner_client, url, percent_off="20", **{f"own-{eel.pk}": "0"})
    assert list(made.prices.values_list("product", "price_minor")) == [(eel.pk, 0)]
    customer = Customer.objects.create(name="Otter Ferry", price_list=made)
    owner_client.post(reverse("price_list_remove", args=[made.pk]))
    customer.refresh_from_db()
    assert customer.price_list is None and not PriceList.objects.exists()


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"name": ""}, "Fill this in"),
        ({"name": "wholesale"}, "a list named wholesale already"),
        ({"name": "retail"}, "a list named retail already"),
        ({"percent_off": "101"}, "at most 100"),
        ({"percent_off": "-1"}, "less than zero"),
        ({"percent_off": ""}, "Fill this in"),
    ],
)
def test_a_list_that_makes_no_sense_is_shown_again(owner_client, shop, wholesale, typed, said):
    answer = _save(owner_client, reverse("price_list_new"), **{"name": "Club"} | typed)
    assert answer.status_code == 422 and said in answer.content.decode()
    assert PriceList.objects.count() == 1


def test_a_wrong_price_is_named_at_its_product_and_kept(
    owner_client, shop, make_product, wholesale
):
    field = f"own-{make_product('Eel').pk}"
    url = reverse("price_list", args=[wholesale.pk])
    answer = _save(owner_client, url, percent_off="30", **{field: "6,50"})
    page = answer.content.decode()
    assert answer.status_code == 422 and "with a point" in page and 'value="6,50"' in page
    wholesale.refresh_from_db()
    assert wholesale.percent_off == Decimal("12.5")


def test_a_customer_s_list_is_chosen_on_their_page(owner_client, shop, wholesale):
    person = Customer.objects.create(name="Otter Ferry")
    url = reverse("customer", args=[person.pk])
    owner_client.post(url, {"name": "Otter Ferry", "price_list": wholesale.pk})
    person.refresh_from_db()
    assert person.price_list == wholesale


def _colored(name, bait_name, color, price_minor):
    from production.models import Product, ProductContent

    dye = factories.make_item(name=f"{name} dye", color=color)
    recipe = factories.make_recipe(
        name, grade=factories.make_plastisol(f"Base {name}"), doses={dye: 2}
    )
    bait = factories.make_bait(bait_name)
    item = factories.make_item(Item.Kind.BAGGED, f"{bait_name} {name}, 8", "each")
    product = Product.objects.create(item=item, price_minor=price_minor)
    pattern = recipe.layers.get().pattern
    ProductContent.objects.create(product=product, bait=bait, pattern=pattern, count=8)
    return product


def _text(data):
    return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(data)).pages)


def test_the_paper_groups_by_bait_and_names_every_price(
    owner_client, shop, wholesale, make_product
):
    _colored("Fog Bell", "Slip Minnow", "#336699", 650)
    ListPrice.objects.create(
        price_list=wholesale,
        product=_colored("Kiln", "Stump Craw", "#993311", 700),
        price_minor=444,
    )
    gone = make_product("Gone Eel")
    type(gone.item).objects.filter(pk=gone.item_id).update(archived=True)
    answer = owner_client.get(reverse("price_list_pdf", args=[wholesale.pk]))
    text = _text(answer.content)
    assert answer.headers["Content-Type"] == "application/pdf"
    assert "Price list, Wholesale" in text and shop.name in text
    assert text.index("Slip Minnow") < text.index("Fog Bell") < text.index("Stump Craw")
    # 6.50 less 12.5 % is 5.6875; the own price as it stands; what is put away isn't there.
    assert "5.69" in text and "4.44" in text and "Gone Eel" not in text
    retail = _text(owner_client.get(reverse("price_list_retail_pdf")).content)
    assert "Price list, Retail" in retail and "6.50" in retail and "7.00" in retail


def test_products_of_one_color_are_told_apart(shop):
    plain = _colored("Kiln", "Stump Craw", "#993311", 700)
    item = factories.make_item(Item.Kind.BAGGED, "Stump Craw Kiln with rattles, 8", "each")
    rattling = type(plain).objects.create(item=item, price_minor=750)
    kiln = plain.contents.get()
    rattling.contents.create(bait=kiln.bait, pattern=kiln.pattern, count=8)
    (group,) = price_table.groups(prices.Prices())
    assert (group.name, [row.color for row in group.rows]) == (
        "Stump Craw",
        ["Kiln", "Kiln with rattles"],
    )


def test_the_paper_of_a_shop_that_sells_nothing_says_so(owner_client, shop):
    assert "Nothing is sold yet" in _text(
        owner_client.get(reverse("price_list_retail_pdf")).content
    )


def test_a_chip_on_paper_is_drawn_from_the_very_drawing_of_the_pages(shop):
    product = _colored("Fog Bell", "Slip Minnow", "#336699", 650)
    drawn = price_table.drawing(product.contents.get().pattern)
    assert len(Chip(drawn).paths) == drawn.count("<path ") > 3
    line = price_list_pdf.Line((drawn,), "Fog Bell", "8 to a bag", "6.50")
    sheet = price_list_pdf.PriceSheet(
        "Prices", ("Shop",), "", (price_list_pdf.Section("Slip Minnow", (line,)),)
    )
    again = price_list_pdf.draw(sheet)
    assert price_list_pdf.draw(sheet) == again
    content = PdfReader(io.BytesIO(again)).pages[0].get_contents().get_data()
    # Three filled outlines and one drawn: curves of the silhouette are on the page.
    assert content.count(b" c\n") + content.count(b" c ") >= 12


def test_the_pages_cost_the_same_queries_however_long(
    owner_client, shop, wholesale, django_assert_max_num_queries
):
    urls = [
        reverse("price_lists"),
        reverse("price_list", args=[wholesale.pk]),
        reverse("price_list_pdf", args=[wholesale.pk]),
    ]

    def cost(url):
        with django_assert_max_num_queries(40) as seen:
            assert owner_client.get(url).status_code == 200
        return len(seen)

    _colored("Fog Bell", "Slip Minnow", "#336699", 650)
    before = [cost(url) for url in urls]
    for number in range(5):
        _colored(f"Fog {number}", f"Minnow {number}", "#336699", 650)
        PriceList.objects.create(name=f"List {number}")
    assert [cost(url) for url in urls] == before


def test_a_helper_sees_no_price_list(helper_client, wholesale):
    for url in (
        reverse("price_lists"),
        reverse("price_list", args=[wholesale.pk]),
        reverse("price_list_retail_pdf"),
    ):
        assert helper_client.get(url).status_code == 403
