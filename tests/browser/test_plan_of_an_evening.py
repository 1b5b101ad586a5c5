"""An evening planned in a real browser: in another order by keys and by hand, begun, its first batch mixed."""

import pytest
from django.test import Client
from playwright.sync_api import expect

from production.models import Batch, Plan
from tests import factories
from tests.production.plan_bench import PlanBench

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def bench():
    factories.make_shop()
    return PlanBench()


@pytest.fixture
def owner_page(page, live_server):
    client = Client()
    client.force_login(
        factories.make_user("Wren Halloway"), backend="django.contrib.auth.backends.ModelBackend"
    )
    value = client.cookies["sessionid"].value
    page.context.add_cookies([{"name": "sessionid", "value": value, "url": live_server.url}])
    return page


def order(page) -> list[str]:
    return page.locator(".plan-pieces h3").all_inner_texts()


def drag(page, grip, onto) -> None:
    """With the mouse held down, in steps, as a hand does it."""
    start = grip.bounding_box()
    page.mouse.move(start["x"] + 10, start["y"] + 10)
    page.mouse.down()
    page.mouse.move(start["x"] + 10, start["y"] + 20)
    end = onto.bounding_box()
    page.mouse.move(end["x"] + 20, end["y"] + end["height"] - 2, steps=5)
    page.mouse.up()


def test_an_evening_is_planned_put_in_another_order_and_begun(
    owner_page, live_server, bench, axe, problems
):
    page = owner_page
    page.goto(live_server.url + "/pours/plans/new/")
    for line, name in enumerate(("Deep", "Pale")):
        page.locator(f"[name=bait-{line}-bait]").select_option(str(bench.bait.pk))
        page.locator(f"[name=bait-{line}-pattern]").select_option(label=name)
        page.locator(f"[name=bait-{line}-baits]").fill("12")
    page.get_by_role("button", name="Plan it").click()
    expect(page.get_by_text("Proven: no order")).to_be_visible()
    assert order(page) == ["Pale", "Deep"]
    assert axe() == []

    # By keys: down, then Enter.
    grip = page.get_by_role("button", name="Move Pale")
    grip.focus()
    page.keyboard.press("ArrowDown")
    assert order(page) == ["Deep", "Pale"]
    expect(page.get_by_role("button", name="Plan in this order")).to_be_visible()
    page.keyboard.press("Enter")
    expect(page.get_by_text("more than the best one").first).to_be_visible()
    assert Plan.objects.get().outcome["cost"] > Plan.objects.get().outcome["best_cost"]

    # By hand, back again.
    cards = page.locator(".plan-pieces > li")
    drag(page, page.get_by_role("button", name="Move Deep"), cards.nth(1))
    expect(page.get_by_text("In this order nothing costs less").first).to_be_visible()
    assert order(page) == ["Pale", "Deep"]

    page.get_by_role("button", name="Make it tonight's pour").click()
    page.get_by_role("link", name="Mix it").first.click()
    page.get_by_role("button", name="It's in the cup").click()
    page.wait_for_url("**/batches/*/")
    assert Batch.objects.get().version == bench.pale
    assert problems == []
