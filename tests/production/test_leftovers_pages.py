"""What is left in a cup: measured, kept, set aside, thrown away, and gone on with."""

from decimal import Decimal

import pytest
from django.urls import reverse

from inventory.models import Entry, Lot
from inventory.services import counts
from production import queries
from production.models import Batch
from production.services import batches
from tests import factories
from tests.production import bench_helpers as bench

pytestmark = pytest.mark.django_db


@pytest.fixture
def base():
    item = factories.make_plastisol()
    factories.make_lot(item, 2000, 40)
    return item


@pytest.fixture
def green():
    item = factories.make_item(name="Moss tint", density_g_per_ml=Decimal("1.1"))
    factories.make_lot(item, 100, 20)
    return item


@pytest.fixture
def pepper():
    item = factories.make_flake("Pepper flake")
    factories.make_lot(item, 100, 12)
    return item


@pytest.fixture
def ember():
    item = factories.make_flake("Ember flake")
    factories.make_lot(item, 100, 12)
    return item


@pytest.fixture
def pale(base, green, pepper):
    return factories.make_recipe("Moss Pale", grade=base, doses={green: 1, pepper: 0.4})


@pytest.fixture
def dark(base, green, pepper, ember):
    doses = {green: 2, pepper: 0.4, ember: 0.6}
    return factories.make_recipe("Moss Dark", grade=base, doses=doses)


@pytest.fixture
def pour(shop):
    return factories.make_pour()


def mixed(pour, version, base_ml=60, cup=None):
    parts = [batches.Part(version.grade, factories.micro(base_ml))]
    parts += [
        batches.Part(dose.item, dose.quantity * base_ml // 100) for dose in version.doses.all()
    ]
    return batches.mix(
        key=factories.key(), pour=pour, version=version, parts=parts, cup=cup, by=None
    ).batch


def leftover_url(batch) -> str:
    return reverse("production:leftover", args=[batch.pour_id, batch.pk])


def settle(client, batch, amount, **changes):
    data = bench.filled_in(client.get(leftover_url(batch)).context["form"])
    return client.post(leftover_url(batch), data | {"amount": amount} | changes)


def on_hand(batch) -> int:
    return Lot.objects.get(pk=batch.lot_id).on_hand


def test_leftover_turns_into_darker_color_by_additions_only(
    owner_client, pour, pale, dark, green, pepper, ember
):
    cup = mixed(pour, pale, 60)
    url = bench.plan_url(pour, dark.pk, base="180 mL", leftover=cup.lot_id)
    plan = owner_client.get(url).context["plan"]
    # The design's check value: use 60, fresh 120, add green 3.00, pepper 0.48, ember 1.08.
    assert (plan.use, plan.fresh) == (factories.micro(60), factories.micro(120))
    assert {dose.item: dose.add for dose in plan.doses} == {
        green: factories.micro(3),
        pepper: factories.micro("0.48"),
        ember: factories.micro("1.08"),
    }
    assert bench.mix(owner_client, url).status_code == 302
    batch = Batch.objects.get(version=dark)
    assert batch.lot.on_hand == factories.micro(180)
    assert batch.lot.melts == 2
    assert on_hand(cup) == 0


def test_dark_leftover_goes_into_pale_only_as_far_as_its_color_allows(
    owner_client, pour, base, green
):
    soot = factories.make_recipe("Soot", grade=base, doses={green: 3})
    faint = factories.make_recipe("Faint", grade=base, doses={green: 0.5})
    cup = mixed(pour, soot, 120)
    url = bench.plan_url(pour, faint.pk, base="240 mL", leftover=cup.lot_id)
    page = owner_client.get(url)
    # The design's check value: ρ .175, use 42, fresh 198, add 0.
    plan = page.context["plan"]
    assert (plan.use, plan.fresh) == (factories.micro(42), factories.micro(198))
    assert [dose.add for dose in plan.doses] == [0]
    assert "At most 17 % of the batch, because of its Moss tint" in bench.text_of(page)
    bench.mix(owner_client, url)
    assert on_hand(cup) == factories.micro(78)


def test_flake_may_go_a_quarter_over_its_target(owner_client, pour, base, pepper):
    rich = factories.make_recipe("Rich", grade=base, doses={pepper: 1})
    thin = factories.make_recipe("Thin", grade=base, doses={pepper: 0.4})
    cup = mixed(pour, rich, 100)
    url = bench.plan_url(pour, thin.pk, base="100 mL", leftover=cup.lot_id)
    # (1 + .25) × .004 ÷ .010 = .5, the shop's starting tolerance for flake.
    assert owner_client.get(url).context["plan"].use == factories.micro(50)


def test_leftover_that_cannot_become_the_color_is_left_alone(
    owner_client, pour, base, pale, pepper
):
    plain = factories.make_recipe("Bare", grade=base, doses={})
    cup = mixed(pour, pale)
    page = owner_client.get(bench.plan_url(pour, plain.pk, base="50 mL", leftover=cup.lot_id))
    assert page.context["plan"].use == 0
    assert "can't become this color by adding" in bench.text_of(page)


def test_remelt_counts_against_the_grade_s_limit(owner_client, pour, pale, dark, base):
    base.melt_limit = 4
    base.save()
    cup = mixed(pour, pale)
    page = owner_client.get(bench.plan_url(pour, dark.pk, base="180 mL", leftover=cup.lot_id))
    assert "Melt 2 of your limit 4." in bench.text_of(page)


def test_trim_is_a_leftover_that_names_its_pattern(owner_client, pour, pale):
    mold = factories.make_mold()
    mixed(pour, pale, 200)
    bench.shoot(owner_client, bench.shots_url(pour, mold, pale.layers.get().pattern), mold, "4")
    form = owner_client.get(reverse("production:batch_new", args=[pour.pk])).context["form"]
    labels = [label for _pk, label in form.fields["leftover"].choices]
    assert any(label.startswith("Moss Pale · trim") for label in labels)


def test_measured_leftover_is_what_stays_on_hand(owner_client, pour, pale):
    batch = mixed(pour, pale, 100)
    # In 41 mL of mix the base has the batch's own share.
    assert settle(owner_client, batch, "41 mL").status_code == 302
    assert on_hand(batch) == pytest.approx(
        factories.micro(41) * batch.lot.made / batch.total, abs=1
    )
    assert Entry.objects.get(kind="count").reference == f"pour:{pour.pk}"


def test_leftover_weighed_in_its_cup_loses_the_cup_s_weight(owner_client, pour, base):
    plain = factories.make_recipe("Bare", grade=base, doses={})
    cup = factories.make_cup()
    cup.tare_g = Decimal(120)
    cup.save()
    batch = mixed(pour, plain, 100, cup)
    settle(owner_client, batch, "171.5 g", in_cup="on")
    # 51.5 g of plastic at 1.03 g/mL.
    assert on_hand(batch) == factories.micro(50)


def test_leftover_read_hot_is_less_when_cold(owner_client, pour, base):
    batch = mixed(pour, factories.make_recipe("Bare", grade=base, doses={}), 100)
    settle(owner_client, batch, "50 mL", hot="on")
    # The shop's starting factor .91, from memory.
    assert on_hand(batch) == factories.micro("45.5")


def test_cup_lighter_than_its_own_weight_is_said_at_the_field(owner_client, pour, pale):
    cup = factories.make_cup()
    cup.tare_g = Decimal(120)
    cup.save()
    answer = settle(owner_client, mixed(pour, pale, 100, cup), "90 g", in_cup="on")
    assert answer.status_code == 422
    assert "The empty cup alone weighs" in answer.context["form"]["amount"].errors[0]


def test_leftover_larger_than_the_batch_is_a_question_that_leaves_a_mark(owner_client, pour, pale):
    batch = mixed(pour, pale, 60)
    answer = settle(owner_client, batch, "90 mL")
    assert answer.status_code == 422
    assert "more than this batch can have left. Yes, really?" in bench.text_of(answer)
    assert not Entry.objects.filter(kind="count").exists()
    data = bench.filled_in(answer.context["form"])
    assert data["amount"] == "90 mL"
    assert owner_client.post(leftover_url(batch), data | {"really": "on"}).status_code == 302
    assert Entry.objects.get(kind="count").look_at
    assert on_hand(batch) > factories.micro(60)


def test_puck_frees_its_cup_and_stays_on_hand(owner_client, pour, pale):
    batch = mixed(pour, pale)
    settle(owner_client, batch, "60 mL", then="puck")
    assert Lot.objects.get(pk=batch.lot_id).form == "puck"
    page = owner_client.get(reverse("production:pour_close", args=[pour.pk]))
    assert "No cup holds anything." in bench.text_of(page)
    assert batch.lot in queries.leftovers()


def test_throwing_away_needs_a_reason(owner_client, pour, pale):
    batch = mixed(pour, pale)
    answer = settle(owner_client, batch, "20 mL", then="throw")
    assert answer.status_code == 422
    assert answer.context["form"]["reason"].errors
    assert on_hand(batch) == factories.micro(60)


def test_thrown_away_leaves_nothing_and_is_told_in_the_evening_s_sums(owner_client, pour, pale):
    batch = mixed(pour, pale)
    settle(owner_client, batch, "20 mL", then="throw", reason="browned")
    assert on_hand(batch) == 0
    waste = Entry.objects.get(kind="waste")
    assert waste.note == "browned"
    page = owner_client.get(reverse("production:pour", args=[pour.pk]))
    assert page.context["sums"].wasted == waste.wasted > 0


@pytest.mark.parametrize(
    "typed", ["-5 mL", "1e309", "NaN", "4,5 mL", "some", "3 drops", "5 each", "", "2000 gal"]
)
def test_what_is_no_measure_is_said_at_the_field_and_kept(owner_client, pour, pale, typed):
    batch = mixed(pour, pale)
    answer = settle(owner_client, batch, typed)
    assert answer.status_code == 422
    assert answer.context["form"]["amount"].errors
    assert answer.context["form"]["amount"].value() == typed
    assert on_hand(batch) == factories.micro(60)


def test_same_press_twice_settles_once(owner_client, pour, pale):
    batch = mixed(pour, pale)
    data = bench.filled_in(owner_client.get(leftover_url(batch)).context["form"])
    data |= {"amount": "20 mL", "then": "throw", "reason": "browned"}
    first, second = (owner_client.post(leftover_url(batch), data) for _ in range(2))
    assert (first.status_code, second.status_code) == (302, 302)
    assert Entry.objects.filter(kind__in=["count", "waste"]).count() == 2


def test_leftover_of_an_undone_batch_or_another_evening_is_not_found(
    owner_client, owner, pour, pale
):
    batch = mixed(pour, pale)
    other = factories.make_pour()
    wrong = reverse("production:leftover", args=[other.pk, batch.pk])
    assert owner_client.get(wrong).status_code == 404
    counts.undo(key=factories.key(), entry=batch.entry, by=owner)
    assert owner_client.get(leftover_url(batch)).status_code == 404


def test_helper_can_settle_a_leftover(helper_client, pour, pale):
    assert settle(helper_client, mixed(pour, pale), "10 mL").status_code == 302


def test_same_press_twice_goes_on_with_a_leftover_once(owner_client, pour, pale, dark):
    cup = mixed(pour, pale, 60)
    url = bench.plan_url(pour, dark.pk, base="180 mL", leftover=cup.lot_id)
    data = bench.filled_in(owner_client.get(url).context["form"])
    first, second = owner_client.post(url, data), owner_client.post(url, data)
    assert (first.status_code, second.status_code) == (302, 302)
    assert Batch.objects.filter(version=dark).count() == 1


def test_whole_leftover_is_drawn_to_the_last_drop(owner_client, pour, pale, dark):
    # A third of a mL has no short decimal: the page rounds it, the ledger must not.
    cup = mixed(pour, pale, 60)
    mold = factories.make_mold(shot_ml="7.777")
    bench.shoot(owner_client, bench.shots_url(pour, mold, pale.layers.get().pattern), mold, "1")
    assert on_hand(cup) % 1000
    bench.mix(owner_client, bench.plan_url(pour, dark.pk, base="180 mL", leftover=cup.lot_id))
    cup.lot.refresh_from_db()
    assert (cup.lot.on_hand, cup.lot.count_me) == (0, False)


def test_what_went_on_into_another_color_cannot_be_left(owner_client, pour, pale, dark):
    cup = mixed(pour, pale, 60)
    bench.mix(owner_client, bench.plan_url(pour, dark.pk, base="180 mL", leftover=cup.lot_id))
    answer = settle(owner_client, cup, "20 mL")
    assert answer.status_code == 422
    assert "more than this batch can have left" in bench.text_of(answer)
