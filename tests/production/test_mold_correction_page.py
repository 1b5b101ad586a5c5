"""The mold's page says what measured pours found, and one button takes it over."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.services import counts
from production import mold_evidence
from production.services import batches, leftovers, shots
from tests import factories
from tests.factories import key, micro
from tests.production.bench_helpers import text_of
from tests.production.small_bench import Bench

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench(shop):
    made = Bench()
    factories.make_lot(made.version.grade, 5000, 100)
    return made


def pour_and_measure(bench, shot_ml: float, count: int = 5, base: int = 300) -> None:
    """Five shots of a 26 mL mold that really take `shot_ml`, and the rest of the cup measured."""
    parts = [batches.Part(bench.version.grade, micro(base))]
    bench.batch = batches.mix(
        key=key(), pour=bench.pour, version=bench.version, parts=parts, by=None
    ).batch
    bench.shoot(4 * count, count=count)
    left = micro(base) - round(micro(shot_ml) * count)
    leftovers.settle(key=key(), batch=bench.batch, measured=left, then=leftovers.PUCK, by=None)


def test_three_measured_pours_propose_the_true_volume(owner_client, bench):
    url = reverse("production:mold", args=[bench.mold.pk])
    for shot_ml in (28, 28.2):
        pour_and_measure(bench, shot_ml)
    assert "Your last" not in text_of(owner_client.get(url))
    pour_and_measure(bench, 28.4)
    page = owner_client.get(url)
    assert "Your last 3 pours say 28.2 mL a shot; it is set to 26" in text_of(page)
    answer = owner_client.post(
        reverse("production:mold_correct", args=[bench.mold.pk]), {"shot_ml": "28.2"}
    )
    assert answer.url == url
    bench.mold.refresh_from_db()
    # 5 mL × 28.2 ÷ 26, rounded down to the thousandth.
    assert (str(bench.mold.shot_ml), str(bench.mold.cavities.get().bait_ml)) == ("28.200", "5.423")
    assert "Your last" not in text_of(owner_client.get(url))


def test_what_went_into_another_cup_is_not_the_mold_s(bench):
    for _ in range(3):
        parts = [batches.Part(bench.version.grade, micro(300))]
        bench.batch = batches.mix(
            key=key(), pour=bench.pour, version=bench.version, parts=parts, by=None
        ).batch
        bench.shoot(20, count=5)
        moved = [batches.Part(bench.batch.lot.item, micro(40), lot=bench.batch.lot)]
        batches.mix(key=key(), pour=bench.pour, version=None, parts=moved, by=None)
        leftovers.settle(
            key=key(), batch=bench.batch, measured=micro(120), then=leftovers.PUCK, by=None
        )
    # 300 − 40 − 120 = 140 mL in five shots.
    assert [one.shot_ml for one in mold_evidence.measured(bench.mold)] == [28, 28, 28]


def test_pours_into_two_molds_or_of_two_cups_prove_nothing(bench):
    other = factories.make_mold("Reed Eel two", cavities=2, shot_ml=13)
    pour_and_measure(bench, 28)
    result = [shots.Result(bench.bait, 2)]
    shots.shoot(
        key=key(), pour=bench.pour, mold=other, pattern=bench.pattern, batches=[bench.batch],
        count=1, results=result, by=None,
    )  # fmt: skip
    assert mold_evidence.measured(bench.mold) == []


def test_a_rest_nobody_measured_or_an_undone_measurement_proves_nothing(bench):
    bench.shoot(4)
    assert mold_evidence.measured(bench.mold) == []
    entry = leftovers.settle(
        key=key(), batch=bench.batch, measured=micro(370), then=leftovers.KEEP, by=None
    )
    assert len(mold_evidence.measured(bench.mold)) == 1
    counts.undo(key=key(), entry=entry, by=None)
    assert mold_evidence.measured(bench.mold) == []


def test_another_proposal_than_the_page_showed_changes_nothing(owner_client, bench):
    url = reverse("production:mold_correct", args=[bench.mold.pk])
    answer = owner_client.post(url, {"shot_ml": "99"}, follow=True)
    assert "Nothing was changed" in text_of(answer)
    bench.mold.refresh_from_db()
    assert bench.mold.shot_ml == 26
    assert owner_client.get(url).status_code == 405
    assert owner_client.post(reverse("production:mold_correct", args=[999])).status_code == 404


def test_helper_sees_the_proposal_without_its_button(helper_client, bench):
    for _ in range(3):
        pour_and_measure(bench, 28)
    page = helper_client.get(reverse("production:mold", args=[bench.mold.pk]))
    assert "Your last 3 pours say 28 mL a shot" in text_of(page)
    assert "Set it to" not in text_of(page)
    url = reverse("production:mold_correct", args=[bench.mold.pk])
    assert helper_client.post(url, {"shot_ml": "28.0"}).status_code == 403


def test_evidence_of_twenty_pours_costs_as_many_queries_as_that_of_three(bench):
    def asked() -> int:
        with CaptureQueriesContext(connection) as queries:
            mold_evidence.proposal(bench.mold)
        return len(queries)

    for _ in range(3):
        pour_and_measure(bench, 28)
    first = asked()
    for _ in range(6):
        pour_and_measure(bench, 28)
    assert asked() == first
