"""Shots are undone in one press with what lay in their cavities; refused while their baits are used."""

import pytest
from django.urls import reverse

from inventory.models import Entry, Lot
from production.models import Product, ProductContent
from production.services import bagging, pours
from tests import factories
from tests.factories import key, micro
from tests.production.bench_helpers import filled_in, text_of
from tests.production.small_bench import Bench, books, lots_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def hook():
    item = factories.make_item("part", "Keel hook 3/0", "each")
    factories.make_lot(item, 100, 20)
    return item


@pytest.fixture
def bench(shop, hook):
    made = Bench()
    made.mold.cavities.update(part=hook, parts_each=1)
    return made


def address(shots) -> str:
    return reverse("production:shots_undo", args=[shots.pour_id, shots.pk])


def undo(client, shots, **changes):
    return client.post(
        address(shots), filled_in(client.get(address(shots)).context["form"]) | changes
    )


def bagged(bench, count=4):
    item = factories.make_item("bagged product", "Reed Eel, Bare Reed", "each")
    product = Product.objects.create(item=item, price_minor=450)
    ProductContent.objects.create(
        product=product, bait=bench.bait, pattern=bench.pattern, count=count
    )
    return bagging.bag(key=key(), product=product, bags=1, by=None)


@pytest.mark.parametrize("client", ["owner_client", "helper_client"])
def test_one_press_takes_back_shots_hooks_and_rejects(request, client, bench):
    client, before = request.getfixturevalue(client), lots_of()
    logged = bench.shoot(count=3, good=9, seconds=1)
    page = client.get(reverse("production:pour", args=[bench.pour.pk])).content.decode()
    assert address(logged) in page
    assert "what lay in their cavities returns to it" in text_of(client.get(address(logged)))
    answer = undo(client, logged, note="wrong mold")
    assert answer.url == reverse("production:pour", args=[bench.pour.pk])
    assert lots_of() == before
    assert set(Entry.objects.filter(kind="reversal").values_list("note", flat=True)) == {
        "wrong mold"
    }
    assert books() == []


def test_a_second_press_undoes_nothing_more(owner_client, bench):
    logged = bench.shoot()
    data = filled_in(owner_client.get(address(logged)).context["form"])
    for _ in range(2):
        assert owner_client.post(address(logged), data).status_code == 302
    assert Entry.objects.filter(kind="reversal").count() == 2  # the shots and their hooks
    assert owner_client.get(address(logged)).status_code == 302


def test_shots_whose_baits_are_bagged_name_what_is_in_the_way(owner_client, bench):
    logged = bench.shoot()
    bag = bagged(bench)
    page = owner_client.get(address(logged))
    assert page.context["users"] == [bag]
    assert bag.title in text_of(page)
    assert reverse("production:shots_amend", args=[bench.pour.pk, logged.pk]) in (
        page.content.decode()
    )
    answer = undo(owner_client, logged)
    assert answer.status_code == 422
    assert bag.title in text_of(answer)
    assert not Entry.objects.filter(kind="reversal").exists()


def test_the_hooks_of_later_shots_stand_for_those_shots(owner_client, bench):
    first, second = bench.shoot(), bench.shoot()
    page = owner_client.get(address(first))
    assert page.context["users"] == [second.entry]
    undo(owner_client, second)
    assert owner_client.get(address(first)).context["users"] == []
    undo(owner_client, first)
    assert Lot.objects.get(pk=bench.batch.lot_id).on_hand == micro(400)
    assert books() == []


def test_shots_of_a_closed_evening_can_be_undone_too(helper_client, bench):
    logged = bench.shoot()
    pours.close(pour=bench.pour)
    assert undo(helper_client, logged).status_code == 302
    assert books() == []


def test_shots_of_another_evening_are_not_found(owner_client, bench):
    logged = bench.shoot()
    other = factories.make_pour()
    wrong = reverse("production:shots_undo", args=[other.pk, logged.pk])
    assert owner_client.get(wrong).status_code == 404
    assert owner_client.get(address(logged).replace(str(logged.pk), "999")).status_code == 404


def test_a_lost_key_is_said_and_nothing_undone(owner_client, bench):
    logged = bench.shoot()
    answer = owner_client.post(address(logged), {"note": "hm"})
    assert answer.status_code == 422
    assert not Entry.objects.filter(kind="reversal").exists()
