"""The live count on two real phones: quick presses count, a line that drops counts nothing twice."""

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.http import urlencode
from playwright.sync_api import expect

from production.models import Shots
from tests import factories
from tests.production.small_bench import Bench

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def bench():
    factories.make_shop()
    return Bench()


def address(bench) -> str:
    asked = urlencode({"mold": bench.mold.pk, "pattern": bench.pattern.pk})
    return reverse("production:tally", args=[bench.pour.pk, bench.batch.pk]) + "?" + asked


def sign_in(context, live_server, name, role) -> None:
    client = Client()
    user = factories.make_user(name, role=role)
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    value = client.cookies["sessionid"].value
    context.add_cookies([{"name": "sessionid", "value": value, "url": live_server.url}])


def test_three_quick_presses_count_three_and_the_other_phone_sees_them(
    page, browser, live_server, bench, axe, problems
):
    sign_in(page.context, live_server, "Wren Halloway", "owner")
    other = browser.new_context(viewport={"width": 360, "height": 740})
    sign_in(other, live_server, "Tobin Ash", "helper")
    second = other.new_page()
    for phone in (page, second):
        phone.goto(live_server.url + address(bench))
    plus = page.get_by_role("button", name="+1 shot")
    for _ in range(3):
        plus.click(no_wait_after=True)
    expect(page.locator("#count-shots")).to_have_text("3", timeout=15_000)
    expect(second.locator("#count-shots")).to_have_text("3", timeout=15_000)
    for _ in range(2):
        second.get_by_role("button", name="+1 shot").click(no_wait_after=True)
        page.locator(".press-grid button").nth(1).click(no_wait_after=True)
    for phone in (page, second):
        expect(phone.locator("#count-shots")).to_have_text("5", timeout=15_000)
        rejects = phone.locator(f"#count-rejects-{bench.bait.pk}")
        expect(rejects).to_have_text("2", timeout=15_000)
    assert bench.counted() == (20, 18, 0, 2)
    assert axe() == []
    assert problems == []
    small = "[...document.querySelectorAll('.tally-board button')].filter(b => b.offsetHeight < 48)"
    assert page.evaluate(f"{small}.length") == 0
    other.close()


def test_a_press_whose_answer_was_lost_counts_once_when_pressed_again(page, live_server, bench):
    sign_in(page.context, live_server, "Wren Halloway", "owner")
    page.goto(live_server.url + address(bench))
    lost = []

    def lose_the_answer(route):
        if route.request.method == "POST" and not lost:
            lost.append(route.fetch())
            route.abort()
        else:
            route.continue_()

    page.route("**/tally/**", lose_the_answer)
    page.get_by_role("button", name="+1 shot").click(no_wait_after=True)
    page.wait_for_timeout(500)
    page.get_by_role("button", name="+1 shot").click(no_wait_after=True)
    expect(page.locator("#count-shots")).to_have_text("1", timeout=15_000)
    assert Shots.objects.count() == 1


def test_without_scripts_each_press_is_a_page(browser, live_server, bench):
    context = browser.new_context(java_script_enabled=False)
    sign_in(context, live_server, "Wren Halloway", "owner")
    phone = context.new_page()
    phone.goto(live_server.url + address(bench))
    for _ in range(2):
        phone.get_by_role("button", name="+1 shot").click()
    phone.locator(".press-grid button").nth(2).click()
    expect(phone.locator("#count-shots")).to_have_text("2")
    expect(phone.locator(f"#count-rejects-{bench.bait.pk}")).to_have_text("1")
    context.close()
