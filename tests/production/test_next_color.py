"""The next color from what is in a cup: measured, ranked, mixed; leftovers joined; plastic without papers."""

from decimal import Decimal

import pytest
from django.urls import reverse

from inventory import lineage, queries
from inventory.models import Entry, Lot
from inventory.services.posting import KeyReused
from production.models import Batch, Bench
from production.services import batches, next_color, pours, unrecorded
from tests import factories
from tests.factories import key, micro
from tests.inventory.pages import queries_of
from tests.production import bench_helpers
from tests.production.live import Live, audited, fresh, send, url

pytestmark = pytest.mark.django_db


@pytest.fixture
def live(shop):
    return Live()


@pytest.fixture
def dark(live):
    doses = {live.moss: 4, live.ember: "0.6"}
    return factories.make_recipe("Moss Dark", grade=live.base, doses=doses)


def go_on(live, batch, measured=None, use=None, **facts):
    use = batch.lot.on_hand if use is None else use
    parts = [batches.Part(batch.lot.item, use, batch.lot), live.part(live.moss, 1)]
    return next_color.go_on(
        key=facts.pop("key", None) or key(),
        source=batch,
        measured=measured,
        pour=live.pour,
        version=None,
        parts=parts,
        cup=live.cup,
        by=None,
    )


def test_what_the_cup_really_held_is_counted_and_then_moves_on(live):
    batch = live.mix(100)
    entry = go_on(live, batch, measured=micro(90), use=micro(90))
    assert entry.batch.lot.on_hand == micro(90)
    assert fresh(batch.lot).on_hand == 0
    count = Entry.objects.get(kind="count")
    assert count.title == "Left of Batch 1: Moss Lantern: 90 mL of base"
    assert audited() == []


def test_a_second_press_finds_the_new_batch_and_not_the_count(live):
    batch, one = live.mix(100), key()
    first = go_on(live, batch, measured=micro(90), use=micro(90), key=one)
    assert go_on(live, batch, measured=micro(90), use=micro(90), key=one) == first
    with pytest.raises(KeyReused):
        go_on(live, batch, measured=micro(80), use=micro(80), key=one)
    assert Entry.objects.filter(kind="count").count() == 1


# --- At the bench ------------------------------------------------------------


def test_the_page_ranks_what_the_leftover_can_become_by_adding_only(helper_client, live, dark):
    faint = factories.make_recipe("Faint", grade=live.base, doses={live.moss: 1})
    factories.make_recipe("Bare", grade=live.base, doses={})
    batch = live.mix(100)
    page = helper_client.get(url("batch_next", batch))
    found = {color.version.recipe.name: color for color in page.context["colors"]}
    # Dark and its own color take all of it; Faint at most 1.05 × 1/2; Bare none.
    assert [c.version.recipe.name for c in page.context["colors"]] == [
        "Moss Lantern",
        "Moss Dark",
        "Faint",
    ]
    assert found["Faint"].plan.use == micro("52.5")
    assert found["Faint"].plan.limiting == live.moss
    # All of it goes into 100 ÷ .525 mL.
    assert found["Faint"].whole == pytest.approx(micro("190.476190"), abs=5)
    assert [dose.add for dose in found["Moss Dark"].plan.doses] == [micro(2), micro("0.6")]
    text = bench_helpers.text_of(page)
    assert "its Moss tint allows no more" in text
    assert "All of it: 190.5 mL" in text
    assert faint.recipe.name in text


def test_leftover_turns_into_darker_color_by_additions_only(helper_client, live, dark):
    # Common practice, no source: a light color becomes a darker one by more colorant and another flake.
    batch = live.mix(100)
    page = helper_client.get(url("batch_next", batch))
    color = next(c for c in page.context["colors"] if c.version == dark)
    address = f"{reverse('production:batch_mix', args=[live.pour.pk])}?{color.query}"
    answer = send(helper_client, address)
    new = Batch.objects.get(version=dark)
    assert answer.url == url("batch", new)
    assert new.cup == batch.cup
    assert queries.composition(new.lot) == {
        live.base.pk: micro(100),
        live.moss.pk: micro(4),
        live.ember.pk: micro("0.6"),
    }
    assert new.lot.cost == micro("5.4") + micro("0.4") + micro("0.072")
    assert fresh(batch.lot).on_hand == 0
    assert "Went on as" in bench_helpers.text_of(helper_client.get(url("batch", batch)))


def test_the_page_says_which_shots_use_it_up(helper_client, live):
    # 102 mL of the mix in the cup: three shots of 26 mL leave 24.
    text = bench_helpers.text_of(helper_client.get(url("batch_next", live.mix(100))))
    assert "Shot as it is, 3 × Reed Eel four leave least: 24 mL." in text
    text = bench_helpers.text_of(helper_client.get(url("batch_next", live.mix(20))))
    assert "It fills no mold any more." in text


@pytest.mark.parametrize(
    ("asked", "base"),
    [
        ({"amount": "51 mL"}, "50"),
        # 51 mL hot are 46.41 mL cold by the shop's starting factor .91, from memory.
        ({"amount": "51 mL", "hot": "on"}, "45.5"),
        # 171.53 g less the cup's 119 g are 52.53 g: 51 mL at 1.03 g/mL.
        ({"amount": "171.53 g", "in_cup": "on"}, "50"),
    ],
)
def test_the_cup_is_read_or_weighed_before_it_goes_on(helper_client, live, dark, asked, base):
    live.cup.tare_g = Decimal(119)
    live.cup.save()
    batch = live.mix(100)
    page = helper_client.get(url("batch_next", batch), asked)
    assert page.context["left"] == pytest.approx(micro(base), abs=1)
    color = next(c for c in page.context["colors"] if c.version == dark)
    address = f"{reverse('production:batch_mix', args=[live.pour.pk])}?{color.query}"
    assert send(helper_client, address).status_code == 302
    assert Batch.objects.get(version=dark).lot.on_hand == pytest.approx(micro(base), abs=1)
    assert Entry.objects.filter(kind="count").count() == 1
    assert fresh(batch.lot).on_hand == 0
    assert audited() == []


def test_the_shop_s_own_hot_factor_is_used(helper_client, live):
    Bench.objects.create(pk=1, hot_factor=Decimal("0.900"))
    batch = live.mix(100, moss=0)
    page = helper_client.get(url("batch_next", batch), {"amount": "60 mL", "hot": "on"})
    assert page.context["left"] == micro(54)


def test_more_left_than_was_poured_is_a_question_before_it_is_mixed(helper_client, live):
    batch = live.mix(100)
    address = bench_helpers.plan_url(
        live.pour, "free", base="120 mL", leftover=batch.lot_id, left="125 mL"
    )
    answer = send(helper_client, address)
    assert answer.status_code == 422
    assert "more than this batch can have left. Yes, really?" in bench_helpers.text_of(answer)
    data = bench_helpers.filled_in(answer.context["form"]) | {"really": "on"}
    answers = [helper_client.post(address, data) for _ in range(2)]
    assert [one.status_code for one in answers] == [302, 302]
    assert Batch.objects.count() == 2
    assert Batch.objects.get(number=2).entry.look_at


@pytest.mark.parametrize("typed", ["-5 mL", "NaN", "1e309", "some", "3 drops", "2000 gal"])
def test_what_is_no_measure_is_said_at_the_field_and_kept(helper_client, live, typed):
    batch = live.mix(100)
    answer = helper_client.get(url("batch_next", batch), {"amount": typed})
    assert answer.status_code == 422
    assert answer.context["form"]["amount"].errors
    assert answer.context["form"]["amount"].value() == typed


def test_a_bit_more_of_this_and_some_of_that_needs_no_recipe(helper_client, live):
    batch = live.mix(100)
    page = helper_client.get(url("batch_next", batch))
    address = f"{reverse('production:batch_mix', args=[live.pour.pk])}?{page.context['free']}"
    answer = send(helper_client, address, extra_1=str(live.soot.pk), extra_amount_1="a bit")
    new = Batch.objects.get(number=2)
    assert answer.url == url("batch", new)
    assert (new.version, new.lot.on_hand) == (None, micro(100))


def test_leftover_trim_and_a_puck_are_joined_in_one_batch(helper_client, live):
    batch = live.mix(130)
    trim = live.shoot(batch, good=2).trim_lot
    puck = live.mix(60, moss=1)
    Lot.objects.filter(pk=puck.lot_id).update(form="puck")
    address = bench_helpers.plan_url(live.pour, "free", leftover=batch.lot_id)
    held = fresh(trim).on_hand
    left = fresh(batch.lot).on_hand
    answer = send(
        helper_client,
        address,
        source_1=str(trim.pk),
        source_amount_1="all of it",
        source_2=str(puck.lot_id),
        source_amount_2="30.5 mL",
    )
    assert answer.status_code == 302
    new = Batch.objects.get(number=3)
    # 30.5 mL of a mix of 60 mL base in 61 mL.
    assert new.lot.on_hand == left + held + micro(30)
    assert new.lot.melts == 2
    assert fresh(trim).on_hand == 0
    assert audited() == []


def test_a_puck_is_melted_again_weeks_later(helper_client, live, dark):
    batch = live.mix(100)
    Lot.objects.filter(pk=batch.lot_id).update(form="puck")
    pours.close(pour=live.pour)
    later = factories.make_pour()
    page = helper_client.get(url("batch_next", batch))
    assert page.context["pour"] == later
    color = next(c for c in page.context["colors"] if c.version == dark)
    address = f"{reverse('production:batch_mix', args=[later.pk])}?{color.query}"
    assert send(helper_client, address).status_code == 302
    new = Batch.objects.get(version=dark)
    assert (new.pour, new.lot.melts) == (later, 2)


def test_melts_over_the_grade_s_limit_are_a_question(helper_client, live, dark):
    batch = live.mix(100)
    Lot.objects.filter(pk=batch.lot_id).update(melts=4)
    address = bench_helpers.plan_url(live.pour, dark.pk, base="100 mL", leftover=batch.lot_id)
    answer = send(helper_client, address)
    assert answer.status_code == 422
    assert "This is melt 5; its grade takes 4." in bench_helpers.text_of(answer)


def test_ten_times_a_dose_in_a_new_batch_is_a_question(helper_client, live):
    address = bench_helpers.plan_url(live.pour, live.recipe.pk, base="100 mL")
    answer = send(helper_client, address, **{f"dose_{live.moss.pk}": "400 drops"})
    assert "Moss tint: 20 mL in the cup, the recipe asks for 2 mL" in bench_helpers.text_of(answer)
    assert not Batch.objects.exists()


def test_the_page_takes_as_many_queries_for_20_recipes_as_for_10(helper_client, live):
    batch = live.mix(100)
    for number in range(9):
        factories.make_recipe(f"Color {number}", grade=live.base, doses={live.moss: 2 + number})
    ten = queries_of(helper_client, url("batch_next", batch))
    for number in range(9, 19):
        factories.make_recipe(f"Color {number}", grade=live.base, doses={live.moss: 2 + number})
    assert queries_of(helper_client, url("batch_next", batch)) == ten


# --- Plastic without papers --------------------------------------------------


def take_in(live, amount=80, **facts):
    facts = {"shape": "puck", "note": "brown, from the shed"} | facts
    entry = unrecorded.take_in(key=key(), quantity=micro(amount), by=None, **facts)
    return entry.movements.get().lot


def test_plastic_without_papers_reaches_no_recipe_but_goes_into_a_free_hand_batch(live, dark):
    lot = take_in(live)
    assert (lot.item.name, lot.melts, lot.cost) == ("Poured unrecorded plastic", 1, None)
    batch = live.mix(20, moss=0, version=None, more=[batches.Part(lot.item, micro(80), lot)])
    assert batch.lot.item.name == "Poured Soft base + unrecorded plastic"
    assert (batch.lot.on_hand, batch.total, batch.lot.melts) == (micro(100), micro(100), 2)
    assert batch.lot.cost is None
    assert lot in lineage.trace_back(batch.lot)
    assert audited() == []


def test_trim_of_plastic_without_papers_has_none_either(live):
    lot = take_in(live)
    batch = live.mix(60, moss=0, version=None, more=[batches.Part(lot.item, micro(60), lot)])
    assert live.shoot(batch).trim_lot.item == batch.lot.item
    assert audited() == []


def test_unknown_color_limits_every_recipe(helper_client, live, dark):
    lot = take_in(live, grade=live.base)
    assert lot.item.name == "Poured Soft base + unrecorded plastic"
    page = helper_client.get(
        bench_helpers.plan_url(live.pour, dark.pk, base="100 mL", leftover=lot.pk)
    )
    assert page.context["plan"].use == 0
    assert page.context["plan"].limiting == lot.item


def test_plastic_without_papers_is_taken_in_with_one_page(helper_client, live):
    answer = send(
        helper_client, reverse("production:plastic_new"), amount="103 g", note="brown", shape="trim"
    )
    assert answer.url == reverse("production:batch_new", args=[live.pour.pk])
    lot = Lot.objects.get(number__startswith="U")
    assert (lot.on_hand, lot.form) == (micro(100), "trim")  # at the base's 1.03 g/mL
    labels = [
        label
        for _pk, label in helper_client.get(answer.url).context["form"].fields["leftover"].choices
    ]
    assert any(lot.number in label for label in labels)


@pytest.mark.parametrize("typed", ["0 mL", "-3 mL", "1e309", "a heap", "4,5 mL", "9999999 mL"])
def test_an_amount_without_papers_or_sense_is_said_at_its_field(helper_client, live, typed):
    answer = send(helper_client, reverse("production:plastic_new"), amount=typed, note="brown")
    assert answer.status_code == 422
    assert answer.context["form"]["amount"].errors
    assert not Lot.objects.filter(number__startswith="U").exists()
