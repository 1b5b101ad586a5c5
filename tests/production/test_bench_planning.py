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
