"""The demo shop: its books are right, and it shows what the trade is about."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from io import StringIO
from zoneinfo import ZoneInfo

import pypdf
import pytest
import time_machine
from django.core.management import CommandError, call_command
from django.db import transaction
from django.test import TestCase

from inventory import lineage, queries, servicing, units
from inventory.models import (
    Entry,
    Item,
    ItemFile,
    Lot,
    Movement,
    PackBreak,
    PurchaseOrder,
    StoredFile,
)
from inventory.services import files
from production import batch_balance, gtin
from production import queries as bench
from production.models import Bagging, Batch, MoldPicture, Pour, Product, Recipe, Shots
from shop import queries as front
from shop import stall
from shop.demo import build
from shop.models import Customer, Order, Shipment, Shop, StallDay, User
from tests import demo_shop, factories
from tests.demo_shop import TODAY


def sources(batch: Batch) -> set[Batch]:
    """The batches whose leftover or trim went into this one."""
    lots = batch.entry.movements.filter(role="drawn", lot__item__kind="leftover").values("lot")
    from_cups = Batch.objects.filter(lot__in=lots)
    from_trim = Batch.objects.filter(shots__trim_lot__in=lots)
    return {*from_cups, *from_trim}


def generations(batch: Batch) -> int:
    return 1 + max((generations(source) for source in sources(batch)), default=0)


def story() -> list[tuple]:
    """Every line of the ledger without the database's own numbers, and what is in every file."""
    return list(StoredFile.objects.order_by("id").values_list("name", "sha256")) + list(
        Movement.objects.order_by("entry_id", "id").values_list(
            "entry__key",
            "entry__kind",
            "entry__happened_at",
            "entry__business_date",
            "lot__number",
            "lot__supplier_lot",
            "role",
            "quantity",
            "cost",
            "said",
        )
    )


class TestDemo(TestCase):
    @classmethod
    def setUpTestData(cls):
        cls.loading = demo_shop.lay_in().loading
        cls.owner = User.objects.get(username="wren")
        cls.shop = Shop.objects.get()

    def test_its_books_are_right(self):
        said = StringIO()
        call_command("audit", stdout=said)
        assert said.getvalue().startswith("Green")

    def test_every_batch_closes_within_its_uncertainty(self):
        standing = Batch.objects.filter(entry__reversed_by=None).select_related("lot__item")
        found = batch_balance.of(standing)
        assert len(found) > 20
        assert {pk: one.sentence for pk, one in found.items() if not one.closes} == {}

    def test_its_data_sheet_says_that_it_is_invented(self):
        sheet = ItemFile.objects.get().file
        text = pypdf.PdfReader(files.path_of(sheet.stored_as)).pages[0].extract_text()
        assert "Invented for the demo shop" in text
        assert "invented" in sheet.name

    def test_a_mold_has_a_picture(self):
        drawn = MoldPicture.objects.get().file
        assert drawn.is_picture
        assert files.path_of(drawn.stored_as).stat().st_size == drawn.size

    def test_a_cup_goes_on_through_three_colors_and_more(self):
        deepest = max(Batch.objects.all(), key=generations)
        assert generations(deepest) >= 4
        assert deepest.lot.melts >= 4

    def test_one_cup_turns_from_mist_to_lantern_to_sedge_by_additions_only(self):
        chains = [
            (light, middle, dark)
            for dark in Batch.objects.filter(version__recipe__name="Deep Sedge")
            for middle in sources(dark)
            for light in sources(middle)
            if light.pour == middle.pour == dark.pour
        ]
        light, middle, dark = chains[0]
        assert str(light.version.recipe) == "Sedge Mist"
        assert str(middle.version.recipe) == "Marsh Lantern"
        green = Item.objects.get(name="Reed green").pk
        doses = [queries.composition(b.lot)[green] / b.lot.made for b in (light, middle, dark)]
        assert doses[0] < doses[1] < doses[2]

    def test_every_batch_comes_near_its_recipe(self):
        """Within a tenth, where the design suggests a bigger batch; a pinch of flake may go over."""
        for batch in Batch.objects.select_related("lot", "version"):
            holds = queries.composition(batch.lot)
            for dose in batch.version.doses.select_related("item"):
                if dose.item.kind != Item.Kind.COLORANT:
                    continue
                target = dose.quantity / units.to_micro(batch.version.reference_ml)
                assert holds[dose.item_id] / batch.lot.made == pytest.approx(target, rel=0.1)

    def test_every_cup_holds_its_batch(self):
        for batch in Batch.objects.select_related("cup"):
            assert batch.cup.least_ml <= units.from_micro(batch.total) <= batch.cup.most_ml

    def test_a_laminate_was_shot_from_two_batches(self):
        laminates = [shots for shots in Shots.objects.all() if shots.batches.count() == 2]
        assert {str(shots.pattern) for shots in laminates} == {
            "Sedge over Fog",
            "Kettle over Amber",
        }
        for shots in laminates:
            assert shots.pattern.layers.count() == 2

    def test_trim_went_back_in(self):
        assert Movement.objects.filter(
            entry__kind="batch", role="drawn", lot__form=Lot.Form.TRIM
        ).exists()

    def test_a_wrong_count_of_shots_was_undone_and_entered_again(self):
        undone = Entry.objects.get(reverses__isnull=False)
        assert undone.reverses.kind == Entry.Kind.SHOTS
        right = Entry.objects.filter(kind="shots", id__gt=undone.pk).earliest("id").shots
        assert right.mold == undone.reverses.shots.mold
        assert right.count == undone.reverses.shots.count + 1

    def test_a_pinch_is_marked_as_estimated(self):
        assert Movement.objects.get(estimated=True).said == "a pinch"

    def test_the_bench_used_more_flake_than_the_shelf_knew_of_and_more_was_bought(self):
        found = Movement.objects.filter(role="found")
        assert {line.lot.item.name for line in found} == {"Violet spark"}
        assert found[0].lot.count_me
        bought = Lot.objects.filter(item__name="Violet spark", id__gt=found[0].lot_id)
        assert bought.get().received_on > found[0].entry.business_date

    def test_a_scorched_rest_was_thrown_away_with_its_reason(self):
        scorched = Entry.objects.get(kind="waste", note__startswith="Scorched")
        assert scorched.wasted > 0

    def test_counts_found_a_little_less(self):
        counted = Entry.objects.filter(kind="count", title__startswith="Counted", reference="")
        assert counted.count() == 2
        assert all(entry.movements.get().quantity < 0 for entry in counted)

    def test_bags_were_sold_away_from_home_and_one_was_given_away(self):
        day = StallDay.objects.get()
        assert day.closed_at and stall.cash(day).difference_minor == 0
        assert stall.takings(day).bags > 1 and stall.takings(day).card_minor
        assert stall.standing_sales().filter(how="settled", commission_minor__gt=0).exists()
        assert Lot.objects.in_stock().filter(place__kind="consignee").exists()
        assert not Lot.objects.in_stock().filter(place__kind="stall").exists()
        assert Entry.objects.filter(kind=Entry.Kind.GIFT).exists()

    def test_a_used_recipe_was_changed_into_a_second_version(self):
        revised = [recipe for recipe in Recipe.objects.all() if recipe.versions.count() > 1]
        assert [recipe.name for recipe in revised] == ["Marsh Lantern"]
        assert all(version.batches.exists() for version in revised[0].versions.all())

    def test_one_open_order_is_ready_and_one_lacks_bags(self):
        waiting = list(front.open_orders())
        states = front.line_states(waiting)
        ready = [all(line.ready for line in states[order.pk]) for order in waiting]
        assert ready == [True, False]
        assert Order.objects.filter(status="shipped").count() == Shipment.objects.count() == 8

    def test_some_things_are_to_be_bought(self):
        low = {item.name for item in queries.low_items()}
        assert {"Stillpool medium", "Injector seal"} <= low
        assert len(low) < 8
        assert all(item.packs.exists() for item in queries.low_items())

    def test_an_order_is_on_its_way_and_a_material_has_two_suppliers_with_price_breaks(self):
        order = PurchaseOrder.objects.get()
        assert order.state == "open" and order.expected_on > TODAY
        medium = Item.objects.get(name="Stillpool medium")
        assert medium.packs.values("supplier").distinct().count() == 2
        assert PackBreak.objects.filter(pack__item=medium).exists()

    def test_a_mold_is_due_for_service(self):
        assert [tool.label for tool in servicing.due()] == ["Reed Eel eight"]

    def test_the_last_evening_was_yesterday_and_left_plastic_in_a_cup(self):
        last = Pour.objects.first()
        assert last.business_date == TODAY - timedelta(days=1)
        assert bench.open_pour() is None
        kept = bench.leftovers().filter(form=Lot.Form.LIQUID)
        assert [lot.batch.pour for lot in kept] == [last]

    def test_evenings_are_evenings_in_the_shops_time_zone(self):
        zone = ZoneInfo(self.shop.time_zone)
        assert 14 <= Pour.objects.count() <= 18
        for entry in Entry.objects.filter(kind__in=["batch", "shots"]):
            local = entry.happened_at.astimezone(zone)
            assert 19 <= local.hour < 22
            assert local.date() == entry.business_date
        times = list(Entry.objects.order_by("id").values_list("happened_at", flat=True))
        assert times == sorted(times)
        assert times[-1] < datetime.combine(TODAY, datetime.min.time(), zone)

    def test_every_event_is_booked_on_its_day_in_the_shop(self):
        """Whatever the hour of UTC, as nothing in the demo goes on past midnight."""
        zone = ZoneInfo(self.shop.time_zone)
        for entry in Entry.objects.all():
            assert entry.business_date == entry.happened_at.astimezone(zone).date()
        for pour in Pour.objects.all():
            assert pour.business_date == pour.started_at.astimezone(zone).date()
            assert pour.started_at < pour.closed_at
        baggings = {lot.number: lot.bagging for lot in Lot.objects.filter(bagging__isnull=False)}
        for lot in Lot.objects.filter(form=Lot.Form.BAG):
            assert lot.received_on == baggings[lot.printed].entry.business_date

    def test_it_tells_when_things_happened_and_was_posted_when_it_was_loaded(self):
        posted = Entry.objects.all()
        assert posted.exists()
        assert not posted.filter(posted_at__lt=self.loading).exists()

    def test_a_bag_leads_back_to_a_bottle_and_the_bottle_forward_to_the_customer(self):
        shipment = Shipment.objects.get(order__customer__name="Marta Quill")
        bag = shipment.entry.movements.filter(lot__form=Lot.Form.BAG).earliest("id").lot
        bottles = [lot for lot in lineage.trace_back(bag) if lot.item.kind == "colorant"]
        assert all(bottle.supplier_lot for bottle in bottles)
        assert "Reed green" in {bottle.item.name for bottle in bottles}
        reached = [lot.pk for lot in lineage.trace_forward(bottles[0])]
        orders = {entry.reference for entry in queries.departures_of(reached)}
        assert f"order:{shipment.order_id}" in orders

    def test_every_kind_of_bought_item_is_on_the_shelf(self):
        assert {str(kind) for kind in Item.BOUGHT} <= set(
            Item.objects.filter(lots__on_hand__gt=0).values_list("kind", flat=True)
        )

    def test_barcodes_are_right_and_nobodys(self):
        """GS1 keeps numbers that begin with 2 for use inside one company (GS1 General
        Specifications, restricted circulation numbers)."""
        codes = [product.barcode for product in Product.objects.exclude(barcode="")]
        assert len(codes) > 3
        for code in codes:
            assert gtin.validate(code) == code
            assert code.startswith("2") and len(code) == 13

    def test_two_people_work_in_it(self):
        self.owner.refresh_from_db()
        assert self.owner.get_full_name() == "Wren Halloway"
        helper = User.objects.get(role="helper")
        assert not helper.has_usable_password()
        assert set(Bagging.objects.values_list("entry__by", flat=True)) == {helper.pk}

    def test_it_never_goes_over_a_shop_that_has_data(self):
        before = (Entry.objects.count(), Customer.objects.count(), Item.objects.count())
        with pytest.raises(build.NotEmpty):
            build.load(owner=self.owner, today=TODAY)
        with pytest.raises(CommandError, match="Nothing was changed"):
            call_command("demo", "--owner", "tobin.two")
        assert (Entry.objects.count(), Customer.objects.count(), Item.objects.count()) == before
        assert not User.objects.filter(username="tobin.two").exists()

    def test_what_is_posted_afterwards_has_the_real_time(self):
        before = datetime.now(UTC)
        entry = factories.make_lot(Item.objects.first()).movements.get().entry
        assert entry.happened_at >= before


class Undone(Exception):
    """Ends a savepoint without keeping what was done in it."""


def told(load: Callable[[], object]) -> list[tuple]:
    """The story of a shop, loaded and taken back again."""
    told = []
    with pytest.raises(Undone), transaction.atomic():
        load()
        told = story()
        raise Undone
    return told


def test_the_same_day_gives_the_same_shop_whenever_it_is_loaded(django_user_model, db):
    first = told(demo_shop.lay_in)
    assert len(first) > 700
    owner = django_user_model.objects.create_user(username="wren", role="owner")
    with time_machine.travel(datetime(2025, 7, 9, 4, 44, tzinfo=UTC), tick=True):
        assert told(lambda: build.load(owner=owner, today=TODAY)) == first


def test_items_alone_are_data_too(db):
    factories.make_item("flake", "Ember flake", "g")
    with pytest.raises(CommandError, match="data here already"):
        call_command("demo")
    assert not User.objects.exists()
    assert not Shop.objects.exists()


def test_a_name_nobody_could_sign_in_with_is_refused(db):
    with pytest.raises(CommandError, match="--owner"):
        call_command("demo", "--owner", "wren halloway!")
    assert not User.objects.exists()
