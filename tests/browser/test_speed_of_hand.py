"""How many taps an evening takes: gloved hands, a phone, hot plastic in the cup."""

import pytest
from django.test import Client
from playwright.sync_api import Page, expect

from production.models import Shots
from tests import factories
from tests.factories import micro
from tests.production.live import Live, audited

pytestmark = pytest.mark.django_db(transaction=True)


class Hand:
    """Counts every tap and every number typed; choosing from a list is one tap on the list."""

    def __init__(self, page: Page) -> None:
        self.page, self.taps, self.numbers = page, 0, 0
        page.set_default_timeout(15_000)

    def tap(self, role: str, name: str) -> None:
        self.taps += 1
        self.page.get_by_role(role, name=name, exact=True).first.click()

    def choose(self, field: str, label: str) -> None:
        self.taps += 1
        self.page.locator(f"[name={field}]").select_option(label=label)

    def type(self, field: str, number: int) -> None:
        self.numbers += 1
        self.page.locator(field).fill(str(number))


@pytest.fixture
def live():
    factories.make_shop()
    return Live()


@pytest.fixture
def hand(page, live, live_server, problems):
    client = Client()
    client.force_login(factories.make_user(), backend="django.contrib.auth.backends.ModelBackend")
    value = client.cookies["sessionid"].value
    page.context.add_cookies([{"name": "sessionid", "value": value, "url": live_server.url}])
    page.goto(live_server.url)
    return Hand(page)


def test_a_batch_as_its_recipe_says_takes_eight_taps_and_two_numbers(hand, live, problems):
    live.pour.closed_at = live.pour.started_at
    live.pour.save()
    hand.page.reload()
    hand.tap("button", "Start tonight's pour")
    hand.tap("link", "New batch")
    hand.choose("color", "Moss Lantern")
    hand.choose("mold_1", "Reed Eel four · 26 mL a shot")
    hand.type("[name=shots_1]", 6)
    hand.tap("button", "Work it out")
    hand.tap("button", "It's in the cup")
    hand.tap("link", "Shoot")
    expect(hand.page.locator("[name=count]")).to_have_value("6")
    hand.type("[name^=good_]", 22)
    hand.tap("button", "Keep these shots")
    expect(hand.page.locator("main")).to_contain_text("6 × Reed Eel four, Moss Lantern: 22 good")
    assert (hand.taps, hand.numbers) == (8, 2)
    logged = Shots.objects.get()
    assert logged.results.get().good == 22
    # 6 × 26 and 10 of heel are 166 mL, of which 100/102 is base.
    assert logged.batches.get().lot.made == pytest.approx(micro(166 * 100 / 102), abs=1)
    assert audited() == []
    assert problems == []


def test_the_same_again_takes_four_taps_and_one_number(hand, live, problems):
    live.shoot(live.mix(), count=3, good=12)
    hand.page.reload()
    hand.tap("link", "Same again")
    hand.tap("button", "It's in the cup")
    hand.tap("link", "Shoot")
    expect(hand.page.locator("[name=count]")).to_have_value("3")
    hand.type("[name^=good_]", 11)
    hand.tap("button", "Keep these shots")
    expect(hand.page.locator("main")).to_contain_text("3 × Reed Eel four, Moss Lantern: 11 good")
    assert (hand.taps, hand.numbers) == (4, 1)
    first, second = Shots.objects.order_by("id")
    assert first.batches.get().version == second.batches.get().version
    assert second.batches.get().lot.made == micro(100)
    assert audited() == []
    assert problems == []
