"""One product with several baits and patterns: bagged, finished, doubted, labelled and traced."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory import audit, lineage
from inventory.models import Entry, Lot
from inventory.services import ledger, lots
from inventory.services.posting import Key
from production import label_facts, printing
from production.models import Bagging, Bench, Pattern
from production.services import products
from production.services.bait_lots import loose_item
from tests import factories
from tests.factories import key, micro
from tests.production import bench_helpers as bench

pytestmark = pytest.mark.django_db


class Box:
    """Six baits a bag: 2 eels in each of two colors, 2 grubs in one; two hooks and half a mL of oil."""

    def __init__(self, second=False) -> None:
        base = factories.make_plastisol()
        for name in ("Moss Lantern", "Fog Bell"):
            factories.make_recipe(name, grade=base, doses={})
        self.moss, self.fog = (Pattern.objects.get(name=n) for n in ("Moss Lantern", "Fog Bell"))
        self.eel, self.grub = factories.make_bait("Reed Eel"), factories.make_bait("Pond Grub")
        self.hook = factories.make_item("part", "Hook", "each")
        self.oil = factories.make_item("additive", "Scent oil", "mL")
        self.eyes = factories.make_item("part", "Eye", "each")
        for item in (self.hook, self.oil, self.eyes):
            factories.make_lot(item, 100, 10)
        self.second = second
        self.product = products.create(
            name="Bank box, 6",
            contents=[(self.eel, self.moss, 2), (self.eel, self.fog, 2), (self.grub, self.fog, 2)],
            packaging=[(self.hook, micro(2)), (self.oil, micro("0.5"))],
            finishing=[products.Step("glue on eyes", 2, self.eyes, micro(12))],
            price_minor=900,
            second=second,
        )

    def loose(self, bait, pattern, count, hours_ago=None) -> Lot:
        """Baits brought in; `hours_ago` they left the mold (None: long ago)."""
        item = loose_item(bait, pattern, self.second)
        lot = lots.open_lot(item, Lot.Form.LOOSE, timezone.localdate(), melts=1)
        event = ledger.Event(
            Entry.Kind.SORTING if hours_ago is not None else Entry.Kind.OPENING,
            "Baits",
            happened_at=timezone.now() - timedelta(hours=hours_ago or 0),
            makes=[ledger.Make(lot, micro(count), cost=0)],
        )
        ledger.post(Key(key(), ""), event, by=None)
        return lot


def press(client, product, bags, **changes):
    page = reverse("production:bag")
    data = bench.filled_in(client.get(page).context["form"])
    return client.post(page, data | {"product": product.pk, "bags": bags} | changes)


def gone(item):
    return 100 - sum(lot.on_hand for lot in item.lots.all()) / 1_000_000


@pytest.mark.parametrize("second", [False, True])
def test_every_bait_part_dose_and_step_of_an_assortment_is_taken_and_traced(
    helper_client, owner_client, shop, second
):
    box = Box(second)
    kept = [
        box.loose(box.eel, box.moss, 4),
        box.loose(box.eel, box.moss, 3),
        box.loose(box.eel, box.fog, 9),
        box.loose(box.grub, box.fog, 6),
    ]
    text = bench.text_of(helper_client.get(reverse("production:bag")))
    assert "Bank box, 6" in text and "3 bags" in text
    assert "1 Reed Eel in Moss Lantern, 3 Reed Eel in Fog Bell would stay loose" in text
    assert "Before bagging Bank box, 6" in text and "glue on eyes: 12 Eye" in text
    assert press(helper_client, box.product, 3).status_code == 302
    lot = Bagging.objects.get().lot
    assert lot.on_hand == micro(3)
    assert Bagging.objects.get().minutes == 6, "two minutes a bag"
    page = helper_client.get(reverse("production:bagging", args=[lot.pk]))
    assert "Finishing 6 minutes by its steps" in bench.text_of(page)
    assert [Lot.objects.get(pk=each.pk).on_hand for each in kept] == [0, micro(1), micro(3), 0]
    assert (gone(box.hook), gone(box.oil), gone(box.eyes)) == (6, 1.5, 36)
    assert {each.pk for each in kept} < {each.pk for each in lineage.trace_back(lot)}
    assert list(audit.findings()) == []


def test_an_assortment_names_every_bait_that_is_short(helper_client, shop):
    box = Box()
    box.loose(box.eel, box.moss, 4)
    box.loose(box.eel, box.fog, 1)
    answer = press(helper_client, box.product, 2)
    text = bench.text_of(answer)
    assert answer.status_code == 422
    assert "Reed Eel · Fog Bell: 4 wanted, 1 loose" in text
    assert "Pond Grub · Fog Bell: 4 wanted, 0 loose" in text
    assert "Moss Lantern: 4 wanted" not in text


def test_baits_that_still_cure_are_asked_about_by_name(helper_client, shop):
    box = Box()
    hours = Bench.ours().cure_hours
    box.loose(box.eel, box.moss, 2)
    box.loose(box.eel, box.fog, 2, hours_ago=hours - 1)
    box.loose(box.grub, box.fog, 2, hours_ago=hours + 1)
    answer = press(helper_client, box.product, 1)
    text = bench.text_of(answer)
    assert answer.status_code == 422
    assert f"2 of Reed Eel in Fog Bell left the mold less than {hours} hours ago" in text
    assert "Pond Grub in Fog Bell left" not in text and "Moss Lantern left" not in text
    data = bench.filled_in(answer.context["form"]) | {"really": "on"}
    assert helper_client.post(reverse("production:bag"), data).status_code == 302
    assert "left the mold" in Entry.objects.get(kind="bagging").look_at


def test_the_label_of_an_assortment_says_assorted_and_counts_all(shop):
    box = Box()
    for bait, pattern in ((box.eel, box.moss), (box.eel, box.fog), (box.grub, box.fog)):
        box.loose(bait, pattern, 2)
    from production.services import bagging

    lot = bagging.bag(key=key(), product=box.product, bags=1, by=None).bagging.lot
    label = label_facts.label(printing.lots("bag").get(pk=lot.pk), shop)
    assert (label.bait, label.length, label.color) == ("Bank box, 6", "", "Assorted colors")
    assert label.count_text == "6 baits"
