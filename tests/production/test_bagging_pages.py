"""From loose baits to bags, and the whole evening from plastisol to a label."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from inventory import lineage
from inventory.models import Entry, Lot, Place
from inventory.services import ledger, lots
from inventory.services.posting import Key
from production import loose
from production.models import (
    Bagging,
    Batch,
    FinishingStep,
    Pour,
    Product,
    ProductContent,
    ProductPackaging,
)
from production.services.bait_lots import loose_item
from tests import factories
from tests.production import bench_helpers as bench

pytestmark = pytest.mark.django_db


@pytest.fixture
def base(shop):
    item = factories.make_plastisol()
    factories.make_lot(item, 2000, 40)
    return item


@pytest.fixture
def version(base):
    moss = factories.make_item(name="Moss tint", color="#2f6b3a")
    factories.make_lot(moss, 50, 10)
    return factories.make_recipe("Moss Lantern", grade=base, doses={moss: 2})


def make_product(version, count=8, name="", packaging=None, **facts) -> Product:
    pattern = version.layers.get().pattern
    item = factories.make_item("bagged product", name or f"Reed Eel, {pattern}", "each")
    product = Product.objects.create(item=item, price_minor=695, **facts)
    bait = factories.make_bait(length_mm="101.6")
    ProductContent.objects.create(product=product, bait=bait, pattern=pattern, count=count)
    if packaging:
        ProductPackaging.objects.create(
            product=product, item=packaging, quantity=factories.micro(1)
        )
    return product


def make_loose(product, count):
    """Loose baits brought in by an entry of their own."""
    content = product.contents.get()
    day = factories.timezone.localdate()
    item = loose_item(content.bait, content.pattern, product.second)
    lot = lots.open_lot(item, Lot.Form.LOOSE, day, melts=1)
    event = ledger.Event(
        Entry.Kind.OPENING,
        "Baits from before",
        makes=[ledger.Make(lot, factories.micro(count), cost=0)],
    )
    ledger.post(Key(factories.key(), ""), event, by=None)
    return lot


def bag(client, product, bags, **changes):
    url = reverse("production:bag")
    data = bench.filled_in(client.get(url).context["form"])
    return client.post(url, data | {"product": product.pk, "bags": bags} | changes)


def test_bags_page_says_how_many_bags_the_loose_baits_fill(owner_client, version):
    product = make_product(version, count=8)
    make_loose(product, 30)
    found = owner_client.get(reverse("production:bags")).context["page_obj"][0]
    assert (found.most, found.on_hand) == (3, 0)


def test_bagging_turns_loose_baits_into_bags(owner_client, version):
    product = make_product(version, count=8)
    loose = make_loose(product, 30)
    answer = bag(owner_client, product, "3")
    done = Bagging.objects.get()
    assert answer.url == reverse("production:bagging", args=[done.lot_id])
    loose.refresh_from_db()
    assert (loose.on_hand, done.lot.on_hand) == (factories.micro(6), factories.micro(3))
    text = bench.text_of(owner_client.get(answer.url))
    assert done.lot.number in text
    assert loose.number in text
    assert "Print labels" in text
    assert owner_client.get(reverse("production:bags")).context["page_obj"][0].on_hand == 3


def test_missing_baits_are_refused_by_name_and_number(owner_client, version):
    product = make_product(version, count=8)
    make_loose(product, 30)
    answer = bag(owner_client, product, "4")
    assert answer.status_code == 422
    assert "Reed Eel · Moss Lantern: 32 wanted, 30 loose" in bench.text_of(answer)
    assert answer.context["form"]["bags"].value() == "4"
    assert not Bagging.objects.exists()
    assert not Lot.objects.filter(form="bag").exists()


def test_missing_packaging_never_stops_bagging(owner_client, version):
    empty_bag = factories.make_item("packaging", "Clear bag", "each")
    stock = factories.make_lot(empty_bag, 1)
    product = make_product(version, packaging=empty_bag)
    make_loose(product, 30)
    assert bag(owner_client, product, "3").status_code == 302
    stock.refresh_from_db()
    assert (stock.on_hand, stock.count_me) == (0, True)


@pytest.mark.parametrize("typed", ["-1", "0", "1e309", "NaN", "1,5", "2.5", "two", "", "99999999"])
def test_what_is_no_number_of_bags_is_said_at_the_field_and_kept(owner_client, version, typed):
    product = make_product(version)
    make_loose(product, 30)
    answer = bag(owner_client, product, typed)
    assert answer.status_code == 422
    assert answer.context["form"]["bags"].errors
    assert answer.context["form"]["bags"].value() == typed
    assert not Bagging.objects.exists()


def test_same_press_twice_bags_once(owner_client, version):
    product = make_product(version)
    make_loose(product, 30)
    url = reverse("production:bag")
    data = bench.filled_in(owner_client.get(url).context["form"])
    data |= {"product": product.pk, "bags": "1"}
    assert owner_client.post(url, data).url == owner_client.post(url, data).url
    assert Bagging.objects.count() == 1


def test_product_can_be_chosen_before_the_page_opens(owner_client, version):
    product = make_product(version)
    page = owner_client.get(reverse("production:bag"), {"product": product.pk})
    assert f'<option value="{product.pk}" selected>' in page.content.decode()


def test_product_that_is_no_choice_is_refused(owner_client, version):
    product = make_product(version)
    make_loose(product, 30)
    url = reverse("production:bag")
    data = bench.filled_in(owner_client.get(url).context["form"])
    answer = owner_client.post(url, data | {"product": "999", "bags": "1"})
    assert answer.status_code == 422
    assert answer.context["form"]["product"].errors


def test_unknown_bagging_is_not_found(owner_client):
    assert owner_client.get(reverse("production:bagging", args=[99])).status_code == 404


def test_helper_can_bag(helper_client, version):
    product = make_product(version)
    make_loose(product, 30)
    assert bag(helper_client, product, "1").status_code == 302


def test_bags_page_asks_the_database_as_often_for_many_products(
    owner_client, base, version, django_assert_num_queries
):
    url = reverse("production:bags")
    first = make_product(version)
    make_loose(first, 30)
    bag(owner_client, first, "1")
    owner_client.get(url)
    with CaptureQueriesContext(connection) as seen:
        owner_client.get(url)
    few = len(seen)
    for number in range(8):
        other = factories.make_recipe(f"Color {number}", grade=base, doses={})
        product = make_product(other)
        make_loose(product, 30)
        bag(owner_client, product, "2")
    with django_assert_num_queries(few):
        owner_client.get(url)


def test_bags_page_says_what_would_stay_loose(owner_client, version):
    make_loose(make_product(version, count=8), 30)
    page = bench.text_of(owner_client.get(reverse("production:bags")))
    assert "3 can be bagged now" in page
    assert "6 would stay loose" in page


def test_seconds_are_bagged_apart_from_good_baits(owner_client, version):
    good = make_product(version, count=4)
    seconds = make_product(version, count=4, name="Reed Eel seconds", second=True)
    make_loose(good, 8)
    assert "4 wanted, 0 loose" in bench.text_of(bag(owner_client, seconds, "1"))
    lot = make_loose(seconds, 8)
    assert bag(owner_client, seconds, "2").status_code == 302
    lot.refresh_from_db()
    assert lot.on_hand == 0
    assert bag(owner_client, good, "2").status_code == 302


def test_finishing_uses_up_what_its_steps_take(owner_client, version):
    eyes = factories.make_item("part", "Amber eye", "each")
    stock = factories.make_lot(eyes, 100)
    product = make_product(version, count=4)
    FinishingStep.objects.create(
        product=product, position=1, name="glue on eyes", minutes=2, item=eyes, quantity=8_000_000
    )
    make_loose(product, 12)
    page = bench.text_of(owner_client.get(reverse("production:bag")))
    assert "glue on eyes: 8 Amber eye" in page
    assert bag(owner_client, product, "3").status_code == 302
    stock.refresh_from_db()
    assert stock.on_hand == factories.micro(76)


def test_baits_on_hold_or_at_a_stall_are_not_bagged(owner_client, version):
    product = make_product(version, count=4)
    held, away = make_loose(product, 8), make_loose(product, 8)
    Lot.objects.filter(pk=held.pk).update(held=True)
    stall = Place.objects.create(name="Harbor market", kind=Place.Kind.STALL)
    Lot.objects.filter(pk=away.pk).update(place=stall)
    assert "4 wanted, 0 loose" in bench.text_of(bag(owner_client, product, "1"))


def test_cured_baits_go_first_then_the_oldest(version):
    product = make_product(version, count=4)
    old, new = make_loose(product, 8), make_loose(product, 8)
    now = timezone.now()
    lots_of = [loose.LooseLot(new, None), loose.LooseLot(old, now - timedelta(hours=5))]
    picked = loose.take(reversed(lots_of), factories.micro(12), now, cure_hours=24)
    assert [(each.lot, part) for each, part in picked] == [
        (new, factories.micro(8)),
        (old, factories.micro(4)),
    ]


def test_a_mixed_bag_is_traced_to_each_of_its_lots(owner_client, version):
    product = make_product(version, count=8)
    first, second = make_loose(product, 10), make_loose(product, 10)
    assert bag(owner_client, product, "2").status_code == 302
    assert set(lineage.trace_back(Bagging.objects.get().lot)) >= {first, second}


def test_an_evening_from_plastisol_to_a_label(owner_client, base, version, tmp_path):
    """Start, mix, shoot, leftover into the next batch, a mistake undone, bag, label, trace."""
    dark = factories.make_recipe("Moss Night", grade=base, doses={version.doses.get().item: 4})
    mold = factories.make_mold(cavities=4, bait_ml=5, shot_ml=26)
    product = make_product(dark, count=5)

    owner_client.post(reverse("production:pour_start"))
    pour = Pour.objects.get()
    bench.mix(owner_client, bench.plan_url(pour, version.pk, base="120 mL"))
    pale = Batch.objects.get(version=version)
    pale_shots = bench.shots_url(pour, mold, version.layers.get().pattern)
    bench.shoot(owner_client, pale_shots, mold, "8", count="2")
    bench.shoot(owner_client, pale_shots, mold, "4", count="1")
    mistake = Entry.objects.filter(kind="shots").first()
    owner_client.post(
        reverse("inventory:entry_undo", args=[mistake.pk]), {"key": factories.key(), "note": ""}
    )
    assert Entry.objects.filter(reverses=mistake).exists()

    pale.lot.refresh_from_db()
    left = pale.lot.on_hand
    # Two shots of 26 mL of mix are gone; of the rest, the base's share is left.
    expected = (pale.total - factories.micro(52)) * pale.lot.made / pale.total
    assert left == pytest.approx(expected, abs=2)
    url = bench.plan_url(pour, dark.pk, base="160 mL", leftover=pale.lot_id)
    bench.mix(owner_client, url)
    pale.lot.refresh_from_db()
    assert pale.lot.on_hand == 0
    bench.shoot(
        owner_client, bench.shots_url(pour, mold, dark.layers.get().pattern), mold, "20", count="5"
    )
    owner_client.post(reverse("production:pour_close", args=[pour.pk]))
    assert "Yes, really?" in bench.text_of(bag(owner_client, product, "4"))
    bag(owner_client, product, "4", really="on")
    bagging = Bagging.objects.get()
    assert "left the mold less than 24 hours ago" in bagging.entry.look_at
    assert pale.lot in lineage.trace_back(bagging.lot)

    asked = {f"lot_{bagging.lot_id}": "4", "look": "sheet:letter-2x7", "start": "1"}
    page = owner_client.post(reverse("production:labels"), asked, follow=True)
    answer = owner_client.get(reverse("production:label_job_pdf", args=[page.context["job"].pk]))
    assert answer["Content-Type"] == "application/pdf"
    path = tmp_path / "labels.pdf"
    path.write_bytes(answer.content)
    text = " ".join(PdfReader(path).pages[0].extract_text().split())
    assert text.count(f"Lot {bagging.lot.number}") == 4
    assert list(_audit()) == []


def _audit():
    from inventory import audit
    from production import audit as bench_audit

    yield from audit.findings()
    yield from bench_audit.findings()
