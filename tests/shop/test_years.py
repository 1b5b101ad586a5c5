"""Years of the demo shop: written in bulk as the services would have written them, and always the same."""

import re
from collections import Counter
from collections.abc import Callable
from datetime import UTC, date, datetime
from io import StringIO

import pytest
import time_machine
from django.apps import apps
from django.core.management import CommandError, call_command
from django.db import models, transaction
from django.test import TestCase

from inventory.models import Entry, Item, Lot, Movement, PurchaseOrder
from production.models import Batch, Pour, ShotResult, Shots
from shop.demo.years import seasons, story
from shop.models import Order, User
from tests.shop.services_house import ServicesHouse

#: Two months, with the change to daylight saving time of 9 March 2025 in the United States.
TODAY, MONTHS, FEW = date(2025, 4, 8), 2, 0.75
APPS = ("inventory", "production", "shop")
#: When a row was written, and the digest of facts that name rows by number.
ASIDE = {"posted_at", "added_at", "created_at", "date_joined", "digest", "stored_as", "password"}


def books() -> dict[str, list]:
    """Every row of every table in order of writing, with what it points to by place instead of number."""
    tables = [
        m for app in APPS for m in apps.get_app_config(app).get_models(include_auto_created=True)
    ]
    place = {
        (model, pk): number
        for model in tables
        for number, pk in enumerate(model._base_manager.order_by("pk").values_list("pk", flat=True))
    }

    def told(row: models.Model, field: models.Field):
        value = getattr(row, field.attname)
        if field.is_relation:
            return place.get((field.related_model, value))
        if field.name == "reference" and ":" in value:
            return value.split(":")[0]
        if field.name == "grades":
            codes = value.replace("none", "").split("+")
            return [place.get((Item, int(code))) for code in codes if code]
        if field.name == "title":
            return re.sub(r"(?<=order )\d+", "", value)
        return value

    found = {}
    for model in tables:
        fields = [
            f for f in model._meta.concrete_fields if not f.primary_key and f.name not in ASIDE
        ]
        found[model.__name__] = [
            tuple(told(row, field) for field in fields)
            for row in model._base_manager.order_by("pk")
        ]
        if model._meta.auto_created:
            # Which of two batches of a laminate is linked first is up to their numbers.
            found[model.__name__].sort()
    return found


class Undone(Exception):
    """Ends a savepoint without keeping what was done in it."""


def lived(months: float, house: Callable = story.House) -> dict[str, list]:
    """The books of a shop that lived so long, which is then taken back."""
    found = {}
    with pytest.raises(Undone), transaction.atomic():
        owner = User.objects.create_user(username="wren", role="owner")
        story.load(owner=owner, years=months / 12, today=TODAY, house=house)
        found = books()
        raise Undone
    return found


def test_what_is_written_in_bulk_is_what_the_services_would_have_written_whenever_it_is_told(db):
    bulk = lived(FEW)
    with time_machine.travel(datetime(2025, 7, 9, 4, 44, tzinfo=UTC), tick=True):
        services = lived(FEW, ServicesHouse)
    assert len(bulk["Movement"]) > 400
    assert {"batch", "shots", "bagging", "shipment", "receipt", "count", "waste"} <= {
        row[0] for row in bulk["Entry"]
    }
    for table, rows in services.items():
        for ours, theirs in zip(bulk[table], rows, strict=False):
            assert ours == theirs, table
        assert len(bulk[table]) == len(rows), table


class TestTwoMonths(TestCase):
    @classmethod
    def setUpTestData(cls):
        owner = User.objects.create_user(username="wren", role="owner")
        story.load(owner=owner, years=MONTHS / 12, today=TODAY)

    def test_their_books_are_right(self):
        said = StringIO()
        call_command("audit", stdout=said)
        assert said.getvalue().startswith("Green")

    def test_leftovers_and_trim_go_into_the_next_colors(self):
        drawn = Movement.objects.filter(
            entry__kind="batch", role="drawn", lot__item__kind="leftover"
        )
        assert drawn.filter(lot__form=Lot.Form.TRIM).count() > 10
        assert drawn.exclude(lot__form=Lot.Form.TRIM).count() > 10
        assert Batch.objects.filter(lot__melts__gte=3).exists()

    def test_laminates_are_shot_from_two_batches(self):
        laminates = Shots.objects.alias(n=models.Count("batches")).filter(n=2)
        assert laminates.exists()

    def test_every_cup_holds_its_batch(self):
        for batch in Batch.objects.select_related("cup"):
            assert batch.total <= batch.cup.most_ml * 1_000_000

    def test_yields_are_those_of_a_workshop(self):
        """Nine of ten cavities and more: common practice, no source."""
        sums = ShotResult.objects.aggregate(good=models.Sum("good"), of=models.Sum("cavities"))
        assert 0.9 < sums["good"] / sums["of"] < 0.98

    def test_the_shelf_never_runs_dry_for_long(self):
        found = Movement.objects.filter(role="found").count()
        assert found < Movement.objects.filter(role="drawn").count() / 100

    def test_what_is_ordered_comes_and_what_is_wanted_leaves(self):
        states = set(PurchaseOrder.objects.values_list("state", flat=True))
        assert "received" in states
        shipped = Order.objects.filter(status="shipped").count()
        assert shipped > Order.objects.count() / 2

    def test_they_end_yesterday(self):
        assert Entry.objects.latest("business_date").business_date < TODAY
        assert not Pour.objects.filter(closed_at=None).exists()


def test_spring_asks_for_most():
    by_month = {month: seasons.season(date(2025, month, 15)) for month in range(1, 13)}
    assert max(by_month, key=by_month.get) in (3, 4, 5)
    assert min(by_month, key=by_month.get) in (11, 12, 1)


def test_a_color_rises_and_falls():
    life = {"rises": 2, "peak": 4, "lasts": 3}
    assert seasons.favor(1.9, **life) == 0
    assert seasons.favor(3, **life) < seasons.favor(4, **life) == 1
    assert seasons.favor(7, **life) == pytest.approx(0.5)


def test_the_command_tells_years_of_many_benches_and_refuses_what_makes_no_sense(db):
    for given, answer in (
        (["--years", "-1"], "--years"),
        (["--years", "1", "--scale", "0"], "--scale"),
        (["--scale", "3"], "how many years"),
    ):
        with pytest.raises(CommandError, match=answer):
            call_command("demo", *given)
    assert not User.objects.exists()
    said = StringIO()
    call_command("demo", "--owner", "ada", "--years", "0.06", "--scale", "3", stdout=said)
    assert "Sign in as ada" in said.getvalue()
    lit = Counter(Pour.objects.values_list("business_date", flat=True))
    assert len(lit) > 1
    assert set(lit.values()) == {3}
