"""A round of counting on a phone: read by everyone, in one column, from the list to the posting."""

import pytest
from django.test import Client
from django.urls import reverse

from inventory.models import Lot, Place
from inventory.services import suppliers
from shop.models import User
from tests import factories

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def rack(page, live_server):
    """A rack with two bottles that come in two sizes, and its address."""
    factories.make_shop()
    place = Place.objects.create(name="Rack")
    for name in ("Copper dusk", "Reed green"):
        item = factories.make_item(name=name, place=place)
        for pack, quantity in (("bottle", 118), ("jug", 946)):
            suppliers.add_pack(
                item=item,
                supplier=factories.make_supplier(f"{name} {pack}"),
                name=pack,
                quantity=factories.micro(quantity),
                price_minor=650,
            )
        factories.make_lot(item, 100)
    client = Client()
    client.force_login(
        User.objects.create(username="tobin", role="helper"),
        backend="django.contrib.auth.backends.ModelBackend",
    )
    cookie = client.cookies["sessionid"].value
    page.context.add_cookies([{"name": "sessionid", "value": cookie, "url": live_server.url}])
    return live_server.url + reverse("inventory:count_round", args=[place.pk])


def test_a_round_on_a_phone_from_the_list_to_the_posting(page, rack, axe, problems):
    page.goto(rack)
    found = axe()
    first, second = page.get_by_label("What you see").all()
    first.fill("½ pail")
    second.fill("3/4")
    page.get_by_role("button", name="Look it over").click()
    assert page.get_by_text("neither a unit nor one of its packs").count()
    found += axe()
    first.fill("½ bottle")
    page.get_by_label("Part of which pack?").select_option(label="jug")
    page.get_by_role("button", name="Look it over").click()
    page.get_by_role("heading", name="Is this right?").wait_for()
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    found += axe()
    page.get_by_label("Why it differs").first.select_option("spilled")
    page.get_by_role("button", name="Post the count").click()
    page.get_by_text("Counted 2 lots; 2 differed from the books.").wait_for()
    assert [lot.on_hand for lot in Lot.objects.order_by("pk")] == [59_000_000, 709_500_000]
    assert found == []
    # A form that is not understood answers 422, which the browser notes.
    assert [one for one in problems if "422" not in one] == []


def test_an_empty_bottle_on_a_phone_from_the_button_to_what_it_tells(page, rack, axe, problems):
    lot = Lot.objects.order_by("pk").first()
    found = []

    def look() -> None:
        assert page.evaluate("document.documentElement.scrollWidth") <= 360
        page.emulate_media(color_scheme="light")
        page.reload()
        found.extend(axe())
        page.emulate_media(color_scheme="dark")
        page.reload()
        found.extend(axe("color-contrast"))

    page.goto(rack)
    page.get_by_role("link", name="Another place").click()
    look()
    page.goto(rack.split("/shelf/")[0] + reverse("inventory:lot", args=[lot.pk]))
    look()
    page.get_by_role("link", name="Throw away").click()
    look()
    page.go_back()
    page.get_by_role("link", name="It is empty").click()
    look()
    page.get_by_role("button", name="Yes, it is empty").click()
    page.get_by_text("None of it was logged in drops.").wait_for()
    look()
    assert found == []
    assert problems == []
