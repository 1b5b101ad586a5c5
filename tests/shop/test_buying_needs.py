"""What open orders and planned batches will take from the shelf, netted before anything is bought."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory import needs
from inventory.models import Item
from production.models import Plan, PlannedBatch, ProductContent
from tests import factories
from tests.factories import micro

pytestmark = pytest.mark.django_db


def needed(item):
    return [(need.what, need.quantity) for need in needs.by_item().get(item.pk, [])]


@pytest.fixture
def colored(make_product):
    """A product of five baits of 5 mL in a recipe with 2 mL of color in 100 mL."""
    grade, color = factories.make_plastisol(), factories.make_item(name="Reed green")
    version = factories.make_recipe("Marsh Lantern", grade=grade, doses={color: 2})
    product = make_product(bagged=2)
    content = ProductContent.objects.get()
    content.pattern = version.layers.get().pattern
    content.save()
    factories.make_mold(bait=content.bait, bait_ml=5)
    return product, grade, color, version


def test_bags_to_fill_need_packaging_and_baits_to_pour_need_plastic_and_color(colored, take_order):
    product, grade, color, _version = colored
    pouch = Item.objects.get(kind="packaging")
    assert needed(pouch) == []
    take_order((product, 6))
    # Two of six are bagged: four pouches, 4 × 5 baits × 5 mL = 100 mL, 2 mL of color.
    assert needed(pouch) == [("open orders", micro(4))]
    assert needed(grade) == [("open orders", micro(100))]
    assert needed(color) == [("open orders", micro(2))]


def plan(version, grade, color, base_ml, pour=None):
    kept = Plan.objects.create(pour=pour or factories.make_pour())
    return PlannedBatch.objects.create(
        plan=kept,
        position=1,
        key="a",
        version=version,
        pattern=version.layers.get().pattern,
        base=micro(base_ml),
        detail={
            "fresh_ml": base_ml - 20,
            "grade": grade.pk,
            "doses": [{"item": color.pk, "draw": micro(1.5)}],
        },
    )


def test_what_a_plan_will_pour_is_not_needed_twice(colored, take_order):
    product, grade, color, version = colored
    take_order((product, 6))
    plan(version, grade, color, 80)
    # The plan takes 60 fresh; it pours 80 of the 100 that the order needs.
    assert sorted(needed(grade)) == [("open orders", micro(20)), ("planned batches", micro(60))]
    assert sorted(needed(color)) == [("open orders", micro(0.4)), ("planned batches", micro(1.5))]


def test_a_plan_of_a_closed_evening_needs_nothing(colored):
    _product, grade, color, version = colored
    waiting = plan(version, grade, color, 80)
    assert needed(grade)
    pour = waiting.plan.pour
    pour.closed_at = pour.started_at
    pour.save()
    assert needed(grade) == []


def test_needs_take_as_many_queries_for_four_orders_as_for_two(colored, take_order):
    def queries():
        with CaptureQueriesContext(connection) as taken:
            needs.by_item()
        return len(taken)

    product = colored[0]
    for _ in range(2):
        take_order((product, 3))
    two = queries()
    for _ in range(2):
        take_order((product, 3))
    assert queries() == two
