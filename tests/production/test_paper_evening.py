"""A paper evening entered afterwards: looked at, then posted whole, on the evening it happened."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inventory import queries
from inventory.models import Entry, Lot
from production.models import Batch, Pour, Shots
from production.services import leftovers
from tests import factories
from tests.factories import key, micro
from tests.production.bench_helpers import filled_in, text_of
from tests.production.live import Live, audited, fresh

pytestmark = pytest.mark.django_db
ADDRESS = reverse("production:pour_paper")


@pytest.fixture
def live(shop):
    live = Live()
    live.pour.delete()
    return live


def day() -> str:
    return (timezone.localdate() - timedelta(days=3)).isoformat()


def sheet(client, *rows, press="post", **head):
    """The page as it is shown, with these rows written into it."""
    data = filled_in(client.get(ADDRESS).context["form"])
    data |= {"date": day(), "time": "19:30", "press": press, "count": "8", **head}
    for number, row in enumerate(rows):
        data |= {f"row-{number}-{name}": value for name, value in row.items()}
    return client.post(ADDRESS, data)


def moss(live, **more) -> dict:
    row = {"recipe": live.recipe.pk, "base": "200 mL", "mold": live.mold.pk}
    return row | {"shots": 4, "good": "15", **more}


def test_an_evening_is_posted_whole_on_its_own_date(owner_client, live):
    answer = sheet(
        owner_client,
        moss(live, seconds="1", left="90 mL", then="puck"),
        moss(live, base="100 mL", shots=2, good="7", rejects="1 air"),
        purged="on",
        note="By lamplight.",
    )
    pour = Pour.objects.get()
    assert answer.url == reverse("production:pour", args=[pour.pk])
    assert (pour.business_date.isoformat(), pour.purged, pour.note) == (
        day(),
        True,
        "By lamplight.",
    )
    assert pour.closed_at is not None
    first, second = Batch.objects.order_by("number")
    # 2 mL of tint to 100 mL of base, as the recipe says.
    assert queries.composition(first.lot)[live.moss.pk] == micro(4)
    # 90 of 204 mL in all, of its 200 mL of base.
    assert fresh(first.lot).on_hand == pytest.approx(micro(90 * 200 / 204), abs=1)
    assert (first.settled, fresh(first.lot).form) == ("puck", Lot.Form.PUCK)
    assert second.shots.get().results.get().reasons.get().reason == "air"
    entries = Entry.objects.filter(reference=f"pour:{pour.pk}")
    assert {entry.business_date.isoformat() for entry in entries} == {day()}
    assert all(entry.happened_at <= pour.closed_at for entry in entries)
    assert audited() == []


def test_the_same_press_twice_enters_one_evening(owner_client, live):
    data = filled_in(owner_client.get(ADDRESS).context["form"])
    data |= {"date": day(), "time": "19:30", "press": "post", "count": "8"}
    data |= {f"row-0-{name}": value for name, value in moss(live).items()}
    first, second = (owner_client.post(ADDRESS, data) for _ in range(2))
    assert first.url == second.url
    assert (Pour.objects.count(), Shots.objects.count()) == (1, 1)


def test_looking_shows_what_was_understood_and_posts_nothing(owner_client, live):
    before = Entry.objects.count()
    page = sheet(owner_client, moss(live), press="look")
    assert page.status_code == 200
    text = text_of(page)
    assert "4 mL Moss tint" in text
    assert "4 × Reed Eel four, Moss Lantern: 15 good" in text
    assert (Entry.objects.count(), Pour.objects.count()) == (before, 0)


def test_a_batch_goes_on_in_the_next_row(owner_client, live):
    sheet(
        owner_client,
        moss(live, left="90 mL"),
        {"recipe": live.recipe.pk, "base": "150 mL", "source": "row-0", "then": "keep"},
    )
    first, second = Batch.objects.order_by("number")
    assert fresh(first.lot).on_hand == 0
    assert second.lot.made == micro(150)
    assert second.lot.melts == 2
    # What the leftover brings is not dosed again.
    assert queries.composition(second.lot)[live.moss.pk] == pytest.approx(micro(3), abs=2)
    assert audited() == []


def test_a_leftover_of_another_evening_goes_in(owner_client, live):
    live.pour = factories.make_pour()
    old = live.mix()
    leftovers.settle(key=key(), batch=old, measured=micro(40), then="puck", by=None)
    sheet(owner_client, moss(live, source=old.lot_id, use="all of it"))
    assert fresh(old.lot).on_hand == 0
    assert audited() == []


def test_doses_that_were_changed_go_before_the_recipe(owner_client, live):
    sheet(owner_client, moss(live, doses="moss tint: 60 drops; ember: 1 g"))
    contents = queries.composition(Batch.objects.get().lot)
    assert contents[live.moss.pk] == micro(3)
    assert contents[live.ember.pk] == micro(1)


def test_a_row_without_a_recipe_is_another_mold_of_the_batch_above(owner_client, live):
    other = factories.make_mold("Reed Eel two", cavities=2, shot_ml=14)
    sheet(owner_client, moss(live), {"mold": other.pk, "shots": 3, "good": "6"})
    assert Batch.objects.count() == 1
    assert sorted(Shots.objects.values_list("mold__name", "count")) == [
        ("Reed Eel four", 4),
        ("Reed Eel two", 3),
    ]


def test_warmings_and_the_bucket_are_kept(owner_client, live):
    other = factories.make_lot(live.base, 500, 30)
    sheet(owner_client, moss(live, base_lot=other.pk, heats="4 min 340 F; 3"))
    batch = Batch.objects.get()
    assert fresh(other).on_hand == micro(300)
    assert [(h.minutes, h.peak_c) for h in batch.heats.all()] == [
        (4, pytest.approx(Decimal("171.1"), abs=Decimal("0.1"))),
        (3, None),
    ]


def test_a_temperature_in_the_other_scale_is_a_question(owner_client, live):
    asked = sheet(owner_client, moss(live, heats="4 min 350 C"))
    assert asked.status_code == 422
    assert "Yes, really?" in text_of(asked)
    sheet(owner_client, moss(live, heats="4 min 350 C"), really="on")
    assert Batch.objects.get().heats.get().look_at


@pytest.mark.parametrize(
    ("field", "row"),
    [
        ("base", {"base": "two thumbs"}),
        ("base", {"base": ""}),
        ("shots", {"shots": ""}),
        ("good", {"good": "many"}),
        ("good", {"good": "7, 8"}),
        ("rejects", {"rejects": "2 gremlins"}),
        ("rejects", {"rejects": "3 air"}),
        ("doses", {"doses": "Moss tint"}),
        ("doses", {"doses": "Gold dust: 1 g"}),
        ("heats", {"heats": "until soft"}),
        ("left", {"left": "-4 mL"}),
        ("reason", {"then": "throw"}),
        ("use", {"source": "", "use": "40 mL"}),
        ("recipe", {"recipe": ""}),
    ],
)
def test_a_wrong_cell_is_said_at_its_cell_with_everything_kept(owner_client, live, field, row):
    before = Entry.objects.count()
    page = sheet(owner_client, moss(live), moss(live, **row), moss(live, base="70 mL"))
    if field == "recipe":
        # Without a recipe the line would go on with the batch above, but it names its own base.
        assert "Which recipe?" in text_of(page)
    assert page.status_code == 422
    wrong = page.context["rows"].forms[1]
    assert {field, "source"} & set(wrong.errors)
    assert page.context["rows"].forms[2]["base"].value() == "70 mL"
    assert (Entry.objects.count(), Pour.objects.count()) == (before, 0)


def test_an_evening_that_is_still_to_come_is_not_entered(owner_client, live):
    tomorrow = (timezone.localdate() + timedelta(days=1)).isoformat()
    page = sheet(owner_client, moss(live), date=tomorrow)
    assert page.status_code == 422
    assert "still to come" in text_of(page)


def test_more_baits_than_cavities_is_a_question_that_can_be_answered(owner_client, live):
    asked = sheet(owner_client, moss(live, good="22"))
    assert asked.status_code == 422
    assert "Row 1: 22 Reed Eel from 16 cavities. Yes, really?" in text_of(asked)
    sheet(owner_client, moss(live, good="22"), really="on")
    assert Entry.objects.filter(kind="shots").get().look_at


def test_more_rows_keep_what_was_typed(owner_client, live):
    page = sheet(owner_client, moss(live, base="123 mL"), press="more")
    assert page.status_code == 200
    assert len(page.context["rows"].forms) == 16
    assert page.context["rows"].forms[0]["base"].value() == "123 mL"


def test_an_empty_sheet_says_what_to_write(owner_client, live):
    page = sheet(owner_client)
    assert page.status_code == 422
    assert "Write at least one batch." in text_of(page)


def test_helper_can_enter_a_paper_evening(helper_client, live):
    assert sheet(helper_client, moss(live)).status_code == 302


def test_an_open_pour_stays_open(owner_client, live):
    tonight = factories.make_pour()
    sheet(owner_client, moss(live))
    assert fresh(tonight).closed_at is None


def test_the_page_asks_the_database_as_often_for_many_recipes(owner_client, live):
    owner_client.get(ADDRESS)
    with CaptureQueriesContext(connection) as few:
        owner_client.get(ADDRESS)
    for number in range(10):
        factories.make_recipe(f"Moss {number}", grade=live.base, doses={live.moss: 1})
        factories.make_mold(f"Mold {number}")
    with CaptureQueriesContext(connection) as many:
        owner_client.get(ADDRESS)
    assert len(many) == len(few)
