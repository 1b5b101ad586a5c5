"""An order typed with the keyboard alone, and one pasted where no script runs."""

import re

import pytest
from django.test import Client

from inventory.models import Item
from production.models import Product
from shop.models import Customer, Order, PriceList, Shop, User
from tests import factories

pytestmark = pytest.mark.django_db(transaction=True)
BACKEND = "django.contrib.auth.backends.ModelBackend"
EEL, LONG, CRAW = "Reed Eel Marsh, 8", "Reed Eel Marsh Long, 8", "Stump Craw Kiln, 5"


@pytest.fixture
def counter(live_server):
    """The address of the form, and the cookie of an owner who is signed in."""
    Shop.objects.create(id=1, name="Lantern Cove", time_zone="UTC")
    owner = User.objects.create(username="wren", role="owner")
    half = PriceList.objects.create(name="Half", percent_off=50)
    Customer.objects.create(name="Otter Ferry", price_list=half)
    for name in (EEL, LONG, CRAW):
        item = factories.make_item(Item.Kind.BAGGED, name, "each")
        Product.objects.create(item=item, price_minor=650)
    client = Client()
    client.force_login(owner, backend=BACKEND)
    cookie = {"name": "sessionid", "value": client.cookies["sessionid"].value}
    return f"{live_server.url}/orders/new/", cookie | {"url": live_server.url}


def _lines():
    return list(Order.objects.get().lines.values_list("product__item__name", "bags", "price_minor"))


def test_an_order_is_typed_by_keyboard_alone(page, counter, axe, problems):
    address, cookie = counter
    page.context.add_cookies([cookie])
    page.goto(address)
    page.get_by_label("Customer", exact=False).first.select_option(label="Otter Ferry")
    # The lines come again, with the other prices.
    page.wait_for_load_state("networkidle")
    field = page.locator("input[name=lines-0-product]")
    field.focus()
    page.keyboard.type("marsh", delay=20)
    page.locator("[role=option]").nth(1).wait_for()
    assert axe() == []
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")
    assert field.input_value() == EEL
    assert page.locator("input[name=lines-0-price]").get_attribute("placeholder") == "3.25"
    # The number is next.
    page.keyboard.type("12")
    page.locator("input[name=lines-1-product]").focus()
    page.keyboard.type("craw", delay=20)
    page.locator("[role=option]").first.wait_for()
    page.keyboard.press("Escape")
    assert page.locator("[role=option]").count() == 0
    page.locator("input[name=lines-1-bags]").fill("2")
    # Enter looks at the lines; it never takes the order by oversight.
    page.keyboard.press("Enter")
    page.get_by_text("So far 14 bags, 45.50 USD").wait_for()
    assert not Order.objects.exists()
    page.get_by_role("button", name="Take the order").click()
    page.wait_for_url(re.compile(r"/orders/\d+/$"))
    assert _lines() == [(EEL, 12, 325), (CRAW, 2, 325)]
    assert problems == []


def test_a_message_is_pasted_where_no_script_runs(browser, counter):
    address, cookie = counter
    context = browser.new_context(java_script_enabled=False, viewport={"width": 360, "height": 740})
    context.add_cookies([cookie])
    page = context.new_page()
    page.goto(address)
    page.fill("input[name=new_customer]", "Juniper Vale")
    page.get_by_text("Paste lines from a message").click()
    page.fill("textarea[name=paste]", "Hi!\n3 bags of craw\n10x marsh")
    page.get_by_role("button", name="Read these lines").click()
    assert page.locator("input[name=lines-0-product]").input_value() == "Hi!"
    page.fill("input[name=lines-0-product]", "")
    page.get_by_label(LONG).check()
    page.get_by_role("button", name="Take the order").click()
    assert re.search(r"/orders/\d+/$", page.url)
    assert _lines() == [(CRAW, 3, 650), (LONG, 10, 650)]
    context.close()


def test_what_is_typed_while_other_prices_come_is_kept(page, counter):
    address, cookie = counter
    page.context.add_cookies([cookie])
    page.goto(address)
    asked = []

    def late(route):
        asked.append(route.request.method)
        page.wait_for_timeout(600)
        route.continue_()

    page.route(address, late)
    page.get_by_label("Customer", exact=False).first.select_option(label="Otter Ferry")
    page.locator("input[name=lines-0-product]").focus()
    page.keyboard.type("craw", delay=20)
    page.locator("input[name=lines-0-price][placeholder='3.25']").wait_for()
    assert page.locator("input[name=lines-0-product]").input_value() == CRAW
    assert asked == ["POST", "POST"]
