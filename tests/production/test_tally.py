"""Counting live: gloves on, a phone on the rack, one press for each thing that happens."""

import re
import threading

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils.http import urlencode

from inventory.models import Entry, Lot
from production import cup_left
from production.models import Mold, Shots, Sorting
from production.services import batches
from tests import factories
from tests.factories import key, micro
from tests.production.bench_helpers import text_of
from tests.production.small_bench import Bench, books

pytestmark = pytest.mark.django_db
HTMX = {"HTTP_HX_REQUEST": "true"}


@pytest.fixture
def bench(shop):
    return Bench()


def address(bench, **more) -> str:
    asked = {"mold": bench.mold.pk, "pattern": bench.pattern.pk, **more}
    page = reverse("production:tally", args=[bench.pour.pk, bench.batch.pk])
    return f"{page}?{urlencode(asked)}"


def button(page, do: str, number: int = 0) -> dict:
    """What a button of the page sends."""
    press = next(p for p in page.context["board"].presses if (p.do, p.number) == (do, number))
    assert press.key in page.content.decode()
    sent = {"key": press.key, "do": do, "bait": press.bait or "", "reason": press.reason}
    return {name: value for name, value in sent.items() if value != ""}


def press(client, bench, do: str, number: int = 0, **more):
    page = client.get(address(bench))
    return client.post(address(bench), button(page, do, number), **more)


def test_a_press_counts_a_shot_with_every_cavity_good(owner_client, bench):
    answer = press(owner_client, bench, "shot")
    assert (answer.status_code, answer.url) == (303, address(bench))
    page = owner_client.get(answer.url)
    assert (page.context["board"].shots, page.context["board"].total.good) == (1, 4)
    assert "1 shots of 26 mL" in text_of(page)
    assert books() == []


def test_each_press_has_its_own_key_and_a_press_sent_twice_counts_once(owner_client, bench):
    page = owner_client.get(address(bench))
    keys = [p.key for p in page.context["board"].presses]
    assert len(set(keys)) == len(keys)
    data = button(page, "shot")
    for _ in range(3):
        assert owner_client.post(address(bench), data).status_code == 303
    assert Shots.objects.count() == 1
    for _ in range(3):
        press(owner_client, bench, "shot")
    assert Shots.objects.count() == 4


def test_rejects_and_seconds_are_counted_each_with_one_press(owner_client, bench):
    press(owner_client, bench, "shot")
    press(owner_client, bench, "reject", 1)
    press(owner_client, bench, "second")
    board = owner_client.get(address(bench)).context["board"]
    counts = board.rows[0].tally
    assert (counts.good, counts.seconds, counts.rejects) == (2, 1, 1)
    assert counts.reasons == {"air": 1}
    assert board.total.yield_percent == 50
    assert books() == []


def test_minus_takes_the_last_press_back(owner_client, bench):
    for do in ("shot", "shot", "reject", "second"):
        press(owner_client, bench, do)
    for do in ("unsecond", "unreject", "unshot"):
        assert press(owner_client, bench, do).status_code == 303
    board = owner_client.get(address(bench)).context["board"]
    assert (board.shots, board.total.good, board.total.rejects) == (1, 4, 0)
    assert books() == []


def test_a_minus_sent_twice_takes_one_back(owner_client, bench):
    for _ in range(3):
        press(owner_client, bench, "shot")
    data = button(owner_client.get(address(bench)), "unshot")
    owner_client.post(address(bench), data)
    owner_client.post(address(bench), data)
    assert owner_client.get(address(bench)).context["board"].shots == 2


@pytest.mark.parametrize(
    ("do", "words"),
    [
        ("reject", "No good Reed Eel is left to sort out. Count the shot first."),
        ("unshot", "No shot was counted here yet."),
        ("unsecond", "No second Reed Eel was sorted out here."),
    ],
)
def test_what_cannot_be_is_said_and_nothing_posted(owner_client, bench, do, words):
    before = Entry.objects.count()
    answer = press(owner_client, bench, do)
    assert answer.status_code == 422
    assert words in text_of(answer)
    assert Entry.objects.count() == before


def test_shots_logged_together_are_not_taken_back_by_one_press(owner_client, bench):
    bench.shoot(12, count=3)
    answer = press(owner_client, bench, "unshot")
    assert "The last 3 shots were logged together." in text_of(answer)
    assert Shots.objects.filter(entry__reversed_by=None).count() == 1


def test_a_shot_is_taken_back_only_before_what_was_sorted_out_of_it(owner_client, bench):
    press(owner_client, bench, "shot")
    press(owner_client, bench, "reject")
    answer = press(owner_client, bench, "unshot")
    assert answer.status_code == 422
    assert "Undo these first: 1 × Reed Eel, Bare Reed: reject (short shot)" in text_of(answer)


@pytest.mark.parametrize(
    "sent",
    [
        {"do": "jump"},
        {"do": "reject"},
        {"do": "reject", "bait": "9999"},
        {"do": "shot", "key": ""},
        {"do": "reject", "reason": "ugly"},
        {},
    ],
)
def test_a_press_that_says_nothing_known_posts_nothing(owner_client, bench, sent):
    before = Entry.objects.count()
    answer = owner_client.post(address(bench), {"key": key(), **sent})
    assert answer.status_code == 422
    assert "message-warning" in answer.content.decode()
    assert Entry.objects.count() == before


def test_with_htmx_a_press_brings_the_numbers_and_fresh_keys(owner_client, bench):
    page = owner_client.get(address(bench))
    answer = owner_client.post(address(bench), button(page, "shot"), **HTMX)
    assert answer.status_code == 200
    html = answer.content.decode()
    assert "<html" not in html
    assert re.search(r'id="count-shots" hx-swap-oob="true">1<', html)
    fresh = {p.key for p in answer.context["board"].presses}
    assert not fresh & {p.key for p in page.context["board"].presses}
    assert all(f'value="{k}" hx-swap-oob="true"' in html for k in fresh)
    # The other device asks for the same numbers; a question on this one stays.
    asked = owner_client.get(address(bench), **HTMX).content.decode()
    assert 'id="count-shots"' in asked
    assert "tally-said" not in asked


def test_the_page_says_what_the_cup_still_fills_and_what_is_too_big(owner_client, bench):
    factories.make_mold("Pike slab", bait=factories.make_bait("Slab"), bait_ml=40, shot_ml=50)
    bench.shoot(56, count=14)
    text = text_of(owner_client.get(address(bench)))
    # 400 − 14 × 26 = 36 mL.
    assert "36 mL left in the cup" in text
    assert "1 more shot of this mold. Used up best by 1 × Reed Eel four: 10 mL would stay." in text
    assert "Too big for what is left: Pike slab (50 mL)" in text


def test_a_shot_that_the_cup_cannot_fill_is_asked_first(owner_client, bench):
    bench.shoot(60, count=15)
    answer = press(owner_client, bench, "shot")
    assert answer.status_code == 422
    assert "By the books 10 mL are left, and a shot of Reed Eel four takes 26 mL." in text_of(
        answer
    )
    assert Shots.objects.count() == 1
    form = answer.context["form"]
    data = {"key": form["key"].value(), "do": "shot", "really": "on"}
    assert owner_client.post(address(bench), data).status_code == 303
    assert "10 mL are left" in Entry.objects.filter(kind="shots").latest("pk").look_at
    bench.batch.lot.refresh_from_db()
    assert (bench.batch.lot.on_hand, bench.batch.lot.count_me) == (0, True)


def test_a_laminate_is_counted_from_both_cups(owner_client, bench):
    soot = factories.make_recipe("Soot Reed", grade=bench.version.grade, doses={})
    parts = [batches.Part(bench.version.grade, micro(200))]
    dark = batches.mix(key=key(), pour=bench.pour, version=soot, parts=parts, by=None).batch
    bench.pattern = factories.make_laminate("Reed Split", [soot, bench.version], [250_000, 750_000])
    press(owner_client, bench, "shot")
    dark.lot.refresh_from_db()
    bench.batch.lot.refresh_from_db()
    assert (dark.lot.on_hand, bench.batch.lot.on_hand) == (micro("193.5"), micro("380.5"))
    board = owner_client.get(address(bench)).context["board"]
    # 380.5 ÷ .75 is less than 193.5 ÷ .25.
    assert board.fills.left_ml == pytest.approx(507.33, abs=0.01)


def test_hooks_are_drawn_with_each_counted_shot(owner_client, bench):
    hook = factories.make_item("part", "Keel hook 3/0", "each")
    factories.make_lot(hook, 10, 2)
    bench.mold.cavities.update(part=hook)
    press(owner_client, bench, "shot")
    assert hook.lots.get().on_hand == micro(6)
    press(owner_client, bench, "unshot")
    assert hook.lots.get().on_hand == micro(10)


def test_without_mold_or_pattern_the_page_asks_for_them(owner_client, bench):
    url = reverse("production:tally", args=[bench.pour.pk, bench.batch.pk])
    assert "Each press of a button counts at once" in text_of(owner_client.get(url))
    assert owner_client.get(url + "?mold=999&pattern=x").status_code == 422


def test_unknown_or_undone_batches_have_no_tally(owner_client, bench):
    url = reverse("production:tally", args=[bench.pour.pk, 9999])
    assert owner_client.get(url).status_code == 404


def test_a_helper_counts_too(helper_client, bench):
    assert press(helper_client, bench, "shot").status_code == 303


def test_the_page_asks_the_database_as_often_after_twenty_shots_as_after_ten(owner_client, bench):
    def asked() -> int:
        owner_client.get(address(bench))
        with CaptureQueriesContext(connection) as queries:
            owner_client.get(address(bench))
        return len(queries)

    def some() -> None:
        for n in range(5):
            logged = bench.shoot()
            bench.sort(logged, *(("second", "") if n % 2 else ("reject", "air")))
            factories.make_mold(f"Mold {Mold.objects.count()}")

    some()
    first = asked()
    some()
    assert asked() == first


def test_the_smallest_combination_search_is_kept_short(bench):
    molds = [factories.make_mold(f"Mold {n}", shot_ml=20 + n / 7) for n in range(12)]
    found = cup_left.fills(431.7, molds, first=molds[3])
    assert molds[3] in [mold for mold, _count in found.best] or found.rest_ml < 1
    assert len(found.each) == 12
    assert len(found.best) <= cup_left.MOST_MIXED


@pytest.mark.django_db(transaction=True)
def test_two_phones_pressing_at_once_lose_nothing_and_double_nothing():
    factories.make_shop()
    bench = Bench()
    users = [factories.make_user("Wren Halloway"), factories.make_user("Tobin Ash", role="helper")]
    answers = []

    def phone(user, number):
        try:
            client = Client()
            client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
            for n in range(4):
                data = {"key": f"phone{number}-{n}", "do": "shot"}
                answers.append(client.post(address(bench), data).status_code)
                answers.append(client.post(address(bench), data).status_code)
            data = {"key": f"phone{number}-r", "do": "reject", "bait": bench.bait.pk}
            answers.append(client.post(address(bench), data | {"reason": "air"}).status_code)
        finally:
            connection.close()

    threads = [
        threading.Thread(target=phone, args=[user, number]) for number, user in enumerate(users)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert set(answers) == {303}
    assert bench.counted() == (32, 30, 0, 2)
    assert Sorting.objects.count() == 2
    # One lot of good baits, one of trim, whoever came first.
    assert Lot.objects.filter(form="loose").count() == 1
    assert Lot.objects.filter(form="trim").count() == 1
    assert books() == []
