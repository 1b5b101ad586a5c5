"""Shots put right afterwards, also when their baits were bagged already."""

import pytest
from django.urls import reverse

import inventory.audit
import production.audit
from inventory.models import Entry, Lot
from inventory.services.posting import LedgerError
from production.models import Product, ProductContent, Shots, Sorting
from production.services import bagging, batches, pours, shots, sorting
from tests import factories
from tests.factories import key, micro
from tests.production import bench_helpers as bench

pytestmark = pytest.mark.django_db


def audited() -> list[str]:
    return [*inventory.audit.findings(), *production.audit.findings()]


@pytest.fixture
def evening(shop):
    return factories.make_pour()


@pytest.fixture
def version():
    base = factories.make_plastisol()
    factories.make_lot(base, 2000, 40)
    return factories.make_recipe("Bare Reed", grade=base, doses={})


@pytest.fixture
def mold():
    return factories.make_mold(cavities=4, bait_ml=5, shot_ml=26)


@pytest.fixture
def batch(evening, version):
    part = batches.Part(version.grade, micro(300))
    return batches.mix(key=key(), pour=evening, version=version, parts=[part], by=None).batch


@pytest.fixture
def pattern(version):
    return version.layers.get().pattern


def shoot(evening, mold, pattern, batch, good=12, count=3) -> Shots:
    bait = mold.cavities.get().bait
    entry = shots.shoot(
        key=key(),
        pour=evening,
        mold=mold,
        pattern=pattern,
        batches=[batch],
        count=count,
        results=[shots.Result(bait, good)],
        by=None,
    )
    return entry.shots


def amend(one, batch, good, count=3, **more):
    bait = one.mold.cavities.get().bait
    return shots.amend(
        key=key(),
        shots=one,
        batches=[batch],
        count=count,
        results=[shots.Result(bait, good, **more)],
        by=None,
    )


def bagged(pattern, mold, bags, count=4):
    item = factories.make_item("bagged product", "Reed Eel, Bare Reed", "each")
    product = Product.objects.create(item=item, price_minor=450)
    bait = mold.cavities.get().bait
    ProductContent.objects.create(product=product, bait=bait, pattern=pattern, count=count)
    return bagging.bag(key=key(), product=product, bags=bags, by=None)


def test_a_wrong_count_of_shots_is_put_right_after_its_baits_were_bagged(
    evening, mold, pattern, batch
):
    one = shoot(evening, mold, pattern, batch)
    bagged(pattern, mold, 3)
    amend(one, batch, good=16, count=4)
    assert Lot.objects.get(form="loose").on_hand == micro(4)
    batch.lot.refresh_from_db()
    assert batch.lot.on_hand == micro(300 - 4 * 26)
    assert audited() == []


def test_fewer_baits_than_were_bagged_are_found_and_to_be_counted(evening, mold, pattern, batch):
    one = shoot(evening, mold, pattern, batch)
    bagged(pattern, mold, 3)
    amend(one, batch, good=10)
    loose = Lot.objects.get(form="loose")
    assert (loose.on_hand, loose.count_me) == (0, True)
    assert audited() == []


def test_both_versions_of_the_shots_stay(evening, mold, pattern, batch):
    one = shoot(evening, mold, pattern, batch)
    entry = amend(one, batch, good=11)
    assert Shots.objects.count() == 2
    assert (entry.amends, entry.shots.results.get().rejects) == (one.entry, 1)


def test_hooks_follow_the_baits_that_they_are_in(evening, mold, pattern, batch):
    hook = factories.make_item("part", "Keel hook", "each")
    factories.make_lot(hook, 100, 20)
    mold.cavities.update(part=hook, parts_each=1)
    one = shoot(evening, mold, pattern, batch, good=12)
    entry = amend(one, batch, good=8)
    assert Lot.objects.get(item=hook).on_hand == micro(100 - 12)
    loose = Lot.objects.get(form="loose")
    assert loose.contents.filter(item=hook).count() >= 1
    assert sum(c.quantity for c in loose.contents.filter(item=hook)) == micro(8)
    amend(entry.shots, batch, good=0)
    assert sum(c.quantity for c in loose.contents.filter(item=hook)) == 0
    assert audited() == []


def test_baits_sorted_out_stay_sorted_out(evening, mold, pattern, batch):
    one = shoot(evening, mold, pattern, batch)
    bait = mold.cavities.get().bait
    sorting.sort_out(key=key(), shots=one, bait=bait, fate=Sorting.Fate.SECOND, count=2, by=None)
    with pytest.raises(LedgerError, match="2 Reed Eel were sorted out"):
        amend(one, batch, good=1)
    entry = amend(one, batch, good=11)
    assert Sorting.objects.get().shots == entry.shots
    assert audited() == []


def _page(evening, one):
    return reverse("production:shots_amend", args=[evening.pk, one.pk])


def test_the_page_shows_the_shots_as_written_and_puts_them_right(
    owner_client, evening, mold, pattern, batch
):
    one = shoot(evening, mold, pattern, batch)
    page = owner_client.get(_page(evening, one))
    data = bench.filled_in(page.context["form"])
    bait = mold.cavities.get().bait_id
    assert (data["count"], data[f"good_{bait}"]) == (3, 12)
    data |= {f"good_{bait}": "11", "reason": "counted one twice"}
    answer = owner_client.post(_page(evening, one), data)
    assert answer.url == reverse("production:pour", args=[evening.pk])
    assert Entry.objects.latest("pk").note in ("counted one twice", "")
    again = owner_client.post(_page(evening, one), data)
    assert again.status_code == 302
    assert Entry.objects.filter(amends__isnull=False).count() == 1


def test_no_reason_is_asked_for_at_its_field_and_the_rest_is_kept(
    owner_client, evening, mold, pattern, batch
):
    one = shoot(evening, mold, pattern, batch)
    data = bench.filled_in(owner_client.get(_page(evening, one)).context["form"])
    bait = mold.cavities.get().bait_id
    answer = owner_client.post(_page(evening, one), data | {f"good_{bait}": "7", "reason": ""})
    assert answer.status_code == 422
    assert answer.context["form"][f"good_{bait}"].value() == "7"


def test_a_closed_evening_is_amended_by_the_owner_only(
    owner_client, helper_client, evening, mold, pattern, batch
):
    one = shoot(evening, mold, pattern, batch)
    assert helper_client.get(_page(evening, one)).status_code == 200
    pours.close(pour=evening)
    assert helper_client.get(_page(evening, one)).status_code == 403
    assert owner_client.get(_page(evening, one)).status_code == 200
    assert owner_client.get(_page(evening, Shots(pk=99_999))).status_code == 404
