"""An order from the customer's words to the parcel and its papers, and the rest of it closed."""

import io
import re

import pypdf
import pytest
from django.test import Client
from playwright.sync_api import expect

from inventory.models import Item
from production.models import (
    Bench,
    Pattern,
    Product,
    ProductContent,
    ProductPackaging,
)
from production.services import bagging, bait_lots
from shop.models import Customer, Order, Shop, User
from tests import factories
from tests.factories import key, micro

pytestmark = pytest.mark.django_db(transaction=True)
BACKEND = "django.contrib.auth.backends.ModelBackend"
EEL = "Reed Eel Marsh, 5"


@pytest.fixture
def counter(live_server, page):
    """A shop with four bags and five loose baits of one product, and its owner signed in."""
    Shop.objects.create(
        id=1, name="Lantern Cove", time_zone="UTC", currency="USD", address="2 Slip Road\nAlder"
    )
    Bench.objects.create(pk=1, hand_minutes=1)
    Customer.objects.create(name="Juniper Vale", address="4 Reed Lane\nVale")
    bait, pattern = factories.make_bait(), Pattern.objects.create(name="Marsh")
    item = factories.make_item(Item.Kind.BAGGED, EEL, "each")
    product = Product.objects.create(item=item, price_minor=650)
    ProductContent.objects.create(product=product, bait=bait, pattern=pattern, count=5)
    pouch = factories.make_item(Item.Kind.PACKAGING, "Pouch", "each")
    ProductPackaging.objects.create(product=product, item=pouch, quantity=micro(1))
    factories.make_lot(pouch, 100, 5)
    factories.make_lot(bait_lots.loose_item(bait, pattern), 25, 2)
    bagging.bag(key=key(), product=product, bags=4, by=None)
    owner = User.objects.create(username="wren", role="owner")
    client = Client()
    client.force_login(owner, backend=BACKEND)
    cookie = {"name": "sessionid", "value": client.cookies["sessionid"].value}
    page.context.add_cookies([cookie | {"url": live_server.url}])
    return live_server.url


def _press(page, name, kind="button"):
    page.get_by_role(kind, name=name).first.click()
    page.wait_for_load_state("networkidle")


def _paper(page, name):
    """What the PDF behind a link says, read by poppler."""
    address = page.get_by_role("link", name=name).first.get_attribute("href")
    answer = page.context.request.get(page.url.split("/orders/")[0] + address)
    assert (answer.status, answer.headers["content-type"]) == (200, "application/pdf")
    pages = pypdf.PdfReader(io.BytesIO(answer.body())).pages
    return " ".join(" ".join(one.extract_text() for one in pages).split())


def test_from_the_customers_words_to_the_parcel(page, counter, axe, problems):
    page.goto(f"{counter}/orders/new/")
    page.get_by_label("Customer", exact=False).first.select_option(label="Juniper Vale")
    page.wait_for_load_state("networkidle")
    page.get_by_text("Paste lines from a message").click()
    page.fill("textarea[name=paste]", "can I have six bags of marsh eel by Friday?")
    _press(page, "Read these lines")
    expect(page.locator("input[name=lines-0-product]")).to_have_value(EEL)
    expect(page.locator("input[name=lines-0-bags]")).to_have_value("6")
    page.get_by_role("button", name="Check").click()
    said = page.locator("#order-checked .promise-verdict")
    said.wait_for()
    # Four are bagged and five baits fill a fifth: of six, one is short.
    page.get_by_text("not all of it").wait_for()
    assert "5 of 6 bags" in said.inner_text()
    assert axe() == []

    _press(page, "Take the order")
    order = Order.objects.get()
    home = f"{counter}/orders/{order.pk}/"
    assert page.url == home
    assert axe() == []
    _press(page, "Hold what is bagged")
    page.get_by_text(f"4 bags held for order {order.pk}.").wait_for()

    _press(page, "Ship what is ready", "link")
    assert axe() == []
    bags = page.get_by_label(f"Bags of {EEL}")
    assert bags.input_value() == "4"
    bags.fill("1000000000000")
    page.get_by_label("Tracking number").fill("RX 12")
    _press(page, "Ship the parcel")
    assert "at most" in page.locator("main").inner_text()
    assert page.get_by_label("Tracking number").input_value() == "RX 12"
    assert axe() == []
    bags.fill("3")
    page.get_by_role("button", name="Ship the parcel").dblclick()
    page.wait_for_url(home)
    page.get_by_text("has shipped. 3 bags still to come.").wait_for()
    assert order.shipments.count() == 1
    assert axe() == []

    slip = _paper(page, "Packing slip (PDF)")
    for words in ("To Juniper Vale 4 Reed Lane Vale", "RX 12", f"3 {EEL}", "Still to come"):
        assert words in slip, slip
    assert "6.50" not in slip
    _press(page, "Give it an invoice number")
    page.goto(home)
    assert "6 6.50 39.00 Total 39.00 USD" in _paper(page, "Invoice (PDF)")

    _press(page, "Close it: the rest is not coming")
    page.get_by_text("The customer pays for what left.").wait_for()
    assert axe() == []
    bill = _paper(page, "Invoice (PDF)")
    assert f"{EEL} (3 not coming) 3 6.50 19.50" in bill and "Total 19.50 USD" in bill
    assert re.search(r"Total\s+19\.50 USD", page.locator("#money + dl").inner_text())
    order.refresh_from_db()
    assert order.status == Order.Status.SHIPPED
    # What was held for it is free again.
    assert not order.lines.get().product.item.lots.filter(reserved__gt=0).exists()
    # A number that is too large is sent back with 422, and the browser says so; nothing else.
    assert [line for line in problems if "422" not in line] == []
