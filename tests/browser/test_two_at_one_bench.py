"""Two phones at one pour: what both log at once is there once, and every device soon shows the same."""

import pytest
from django.test import Client
from django.urls import reverse
from playwright.sync_api import expect

from production.models import Shots
from production.services import pours
from tests import factories
from tests.production.bench_helpers import shots_url
from tests.production.live import Live, audited, fresh

pytestmark = pytest.mark.django_db(transaction=True)
SOON = 20_000


@pytest.fixture
def live():
    factories.make_shop()
    return Live()


def a_phone(browser, live_server, user):
    client = Client()
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    context = browser.new_context(viewport={"width": 360, "height": 740})
    value = client.cookies["sessionid"].value
    context.add_cookies([{"name": "sessionid", "value": value, "url": live_server.url}])
    page = context.new_page()
    page.set_default_timeout(SOON)
    return page


def test_shots_logged_at_the_same_time_are_all_there_on_every_device(browser, live_server, live):
    first, second = live.mix(base=300, moss=6), live.mix(base=300, moss=6)
    owner, helper = factories.make_user(), factories.make_user("Tobin Ash", role="helper")
    mine, theirs = (a_phone(browser, live_server, user) for user in (owner, helper))
    watching = a_phone(browser, live_server, owner)
    evening = live_server.url + reverse("production:pour", args=[live.pour.pk])
    watching.goto(evening)
    watching.locator("#shoot").focus()
    address = shots_url(live.pour, live.mold, live.recipe.layers.get().pattern)
    for phone, batch, good in ((mine, first, 15), (theirs, second, 14)):
        phone.goto(live_server.url + address)
        phone.locator("[name=count]").fill("4")
        phone.locator("[name=batch_1]").select_option(str(batch.pk))
        phone.locator("[name^=good_]").fill(str(good))
    keep = "document.querySelector('form[method=post] .bench-bar button').click()"
    for phone in (mine, theirs):
        phone.evaluate(keep)
    for phone in (mine, theirs, watching):
        for good in (15, 14):
            expect(phone.locator("#pour-live")).to_contain_text(
                f"4 × Reed Eel four, Moss Lantern: {good} good", timeout=SOON
            )
        expect(phone.locator("#sums + .grid")).to_contain_text("29", timeout=SOON)
    assert watching.evaluate("document.activeElement.id") == "shoot"
    assert sorted(row.results.get().good for row in Shots.objects.all()) == [14, 15]
    taken = [300_000_000 - fresh(batch.lot).on_hand for batch in (first, second)]
    assert taken[0] == taken[1] == pytest.approx(4 * 26e6 * 300 / 306, abs=1)
    assert audited() == []


def test_the_other_phone_learns_that_the_evening_was_closed(browser, live_server, live):
    live.mix()
    phone = a_phone(browser, live_server, factories.make_user())
    phone.goto(live_server.url + reverse("production:pour", args=[live.pour.pk]))
    expect(phone.get_by_role("link", name="New batch")).to_be_visible()
    pours.close(pour=live.pour)
    expect(phone.locator("#doubts")).to_be_visible(timeout=SOON)
    expect(phone.get_by_role("link", name="New batch")).to_have_count(0)
