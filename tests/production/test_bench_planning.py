"""The owner's figures that the plan of an evening counts with."""

from decimal import Decimal

import pytest
from django.urls import reverse

from production.models import Bench
from tests.production.bench_helpers import filled_in

pytestmark = pytest.mark.django_db
PAGE = "production:bench_planning"


def send(client, **changes):
    url = reverse(PAGE)
    return client.post(url, filled_in(client.get(url).context["form"]) | changes)


def test_the_owner_sets_what_a_plan_counts_with(owner_client):
    answer = send(owner_client, evening_minutes="150", heel_ml="1 tbsp", wash_cost_minor="0.75")
    assert answer.status_code == 302
    bench = Bench.ours()
    # 1 US tablespoon is 14.78676478125 mL (NIST Handbook 44, appendix C); kept to a tenth.
    assert (bench.evening_minutes, bench.heel_ml, bench.wash_cost_minor) == (
        150,
        Decimal("14.8"),
        75,
    )
    assert (bench.hot_factor, bench.colorant_tolerance) == (Decimal("0.910"), 5)


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("evening_minutes", "0", "at least 10"),
        ("evening_minutes", "", "Fill this in"),
        ("mixing_minutes", "-1", "less than zero"),
        ("heel_ml", "2 L", "at most 1000 mL"),
        ("wash_cost_minor", "1e9", "without the e"),
        ("most_melts", "0", "at least 1"),
        ("flake_tolerance", "12.5", "whole number"),
    ],
)
def test_a_figure_that_cannot_be_is_refused_at_its_field(owner_client, field, typed, words):
    answer = send(owner_client, **{field: typed})
    assert answer.status_code == 422
    form = answer.context["form"]
    assert words in form.errors[field][0]
    assert form[field].value() == typed
    assert not Bench.objects.exists()


def test_a_helper_does_not_change_them(helper_client):
    assert helper_client.get(reverse(PAGE)).status_code == 403


def test_the_owner_says_when_the_shop_pours_and_how_long_baits_cure(owner_client):
    changes = {"pour_weekdays": ["5", "1"], "cure_hours": "36", "packing_days": "1"}
    assert send(owner_client, **changes, hand_minutes="1.5").status_code == 302
    bench = Bench.ours()
    assert (bench.pour_weekdays, bench.cure_hours, bench.packing_days) == ("15", 36, 1)
    assert bench.hand_minutes == Decimal("1.5")
    page = owner_client.get(reverse(PAGE)).content.decode()
    assert page.count("checked") == 2 and "Monday" in page


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("pour_weekdays", [], "at least one evening"),
        ("pour_weekdays", ["8"], "Select a valid choice"),
        ("cure_hours", "1000", "at most 720"),
        ("packing_days", "1.5", "whole number"),
        ("hand_minutes", "61", "at most 60"),
    ],
)
def test_a_week_that_cannot_be_is_refused_at_its_field(owner_client, field, typed, words):
    answer = send(owner_client, **{field: typed})
    assert answer.status_code == 422
    assert words in answer.context["form"].errors[field][0]
    assert not Bench.objects.exists()
