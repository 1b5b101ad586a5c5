"""“Add more”: timed additions to a batch that stands in its cup, and what they do to its figures."""

import pytest

from inventory import lineage, queries
from inventory.models import Entry, Lot, NamedMeasure
from inventory.services import counts, thinning
from inventory.services.posting import KeyReused, LedgerError
from production.models import Batch
from production.services import batches, pours
from tests.factories import key, make_item, make_lot, micro
from tests.production import bench_helpers
from tests.production.live import Live, audited, fresh, send, url

pytestmark = pytest.mark.django_db


@pytest.fixture
def live(shop):
    return Live()


def test_a_dose_added_makes_the_batch_darker_and_no_larger_in_base(live):
    batch = live.mix(100, moss=2)
    live.add(batch, live.moss, 1)
    now = fresh(batch)
    assert (now.lot.on_hand, now.lot.made) == (micro(100), micro(100))
    assert now.total == micro(103)
    held = queries.composition(now.lot)
    assert held == {live.base.pk: micro(100), live.moss.pk: micro(3)}
    assert now.lot.cost == micro("5.6")  # 100 × .05 + 3 × .20
    assert now.lot.melts == 1
    assert audited() == []


def test_more_base_makes_it_larger_and_paler(live):
    batch = live.mix(100, moss=2)
    live.add(batch, live.base, 50)
    now = fresh(batch)
    assert (now.lot.on_hand, now.total) == (micro(150), micro(152))
    live.shoot(now)
    # 26 mL in the mold, of which 150/152 is base.
    assert micro(150) - fresh(batch).lot.on_hand == 25_657_895
    assert audited() == []


def test_a_leftover_added_counts_one_melt_more(live):
    old = live.mix(60, moss=1)
    batch = live.mix(100)
    live.add(batch, old.lot.item, 40, lot=old.lot)
    now = fresh(batch)
    assert (now.lot.melts, now.lot.on_hand) == (2, micro(140))
    assert queries.composition(now.lot)[live.moss.pk] == 2_666_667  # 2 + 40/60 of 1
    assert fresh(old.lot).on_hand == micro(20)
    assert audited() == []


def test_another_grade_added_makes_a_blend_of_its_own(live):
    firm = make_item("plastisol", "Firm base")
    make_lot(firm, 500)
    batch = live.mix(100)
    live.add(batch, firm, 20)
    assert fresh(batch).lot.item.name == "Poured Soft base + Firm base"
    assert audited() == []


def test_an_addition_undone_was_never_in_the_cup(live):
    old = live.mix(60, moss=1)
    batch = live.mix(100)
    before = (batch.total, fresh(batch).lot.melts)
    entry = live.add(batch, old.lot.item, 40, lot=old.lot)
    counts.undo(key=key(), entry=entry, by=None)
    now = fresh(batch)
    assert (now.total, now.lot.melts, now.lot.on_hand) == (*before, micro(100))
    assert audited() == []


def test_a_mix_is_not_undone_while_something_was_added_to_it(live):
    batch = live.mix(100)
    entry = live.add(batch, live.moss, 1)
    with pytest.raises(LedgerError, match="Added to batch 1"):
        counts.undo(key=key(), entry=batch.entry, by=None)
    counts.undo(key=key(), entry=entry, by=None)
    counts.undo(key=key(), entry=batch.entry, by=None)
    assert audited() == []


def test_the_same_press_adds_once_and_the_same_key_with_other_numbers_says_so(live):
    batch, one = live.mix(100), key()
    part = live.part(live.moss, 1)
    first = batches.add(key=one, batch=batch, parts=[part], by=None)
    assert batches.add(key=one, batch=batch, parts=[part], by=None) == first
    with pytest.raises(KeyReused):
        batches.add(key=one, batch=batch, parts=[live.part(live.moss, 2)], by=None)
    assert fresh(batch).total == micro(103)


def test_a_batch_that_was_shot_from_takes_no_addition_without_asking(live):
    batch = live.mix(100)
    live.shoot(batch)
    with pytest.raises(batches.AlreadyUsed, match="forgotten earlier, or is it the next color"):
        live.add(batch, live.moss, 1)


def test_a_batch_of_a_closed_evening_stays_as_it_is(live):
    batch = live.mix(100)
    pours.close(pour=live.pour)
    with pytest.raises(LedgerError, match="The owner can amend it"):
        live.add(batch, live.moss, 1)


def test_a_bit_of_something_that_was_never_on_the_shelf_keeps_the_books(live):
    batch, pearl = live.mix(100), make_item(name="Fog pearl")
    live.add(batch, pearl, 0, said="a bit", estimated=True)
    lot = pearl.lots.get()
    assert (lot.on_hand, lot.found, lot.count_me) == (0, True, True)
    assert fresh(batch.lot).cost == micro("5.4")
    assert audited() == []


# --- At the bench ------------------------------------------------------------


def test_three_drops_more_are_added_with_one_page(helper_client, live):
    batch = live.mix(100, moss=2)
    answer = send(
        helper_client, url("batch_add", batch), what=f"item-{live.moss.pk}", amount="3 drops"
    )
    assert answer.url == url("batch", batch)
    line = Entry.objects.get(kind="addition").movements.get(lot=live.moss_lot)
    assert (line.quantity, line.said) == (-micro("0.15"), "3 drops")
    assert "3 drops" in bench_helpers.text_of(helper_client.get(answer.url))


def test_a_bit_is_kept_as_said_and_asks_for_a_count(helper_client, live):
    batch = live.mix(100)
    send(helper_client, url("batch_add", batch), what=f"item-{live.ember.pk}", amount="")
    line = Entry.objects.get(kind="addition").movements.get(lot=live.ember_lot)
    assert (line.quantity, line.said, line.estimated) == (0, "a bit", True)
    assert fresh(live.ember_lot).count_me
    assert "≈ 0 g a bit" in bench_helpers.text_of(helper_client.get(url("batch", batch)))


def test_a_pinch_of_this_flake_is_so_much_because_its_measure_says_so(helper_client, live):
    NamedMeasure.objects.create(item=live.ember, name="pinch", quantity=micro("0.3"))
    batch = live.mix(100)
    send(helper_client, url("batch_add", batch), what=f"item-{live.ember.pk}", amount="2 pinches")
    line = Entry.objects.get(kind="addition").movements.get(lot=live.ember_lot)
    assert (line.quantity, line.said, line.estimated) == (-micro("0.6"), "2 pinches", True)


def test_all_of_a_puck_goes_in_once_however_often_it_is_pressed(helper_client, live):
    puck = live.mix(60, moss=1)
    Lot.objects.filter(pk=puck.lot_id).update(form="puck")
    batch = live.mix(100)
    page = helper_client.get(url("batch_add", batch))
    data = bench_helpers.filled_in(page.context["form"])
    data |= {"what": f"lot-{puck.lot_id}", "amount": "all of it"}
    answers = [helper_client.post(url("batch_add", batch), data) for _ in range(2)]
    assert [answer.status_code for answer in answers] == [302, 302]
    assert (fresh(puck.lot).on_hand, fresh(batch.lot).on_hand) == (0, micro(160))


def test_ten_times_the_dose_is_a_question_with_both_readings(helper_client, live):
    batch = live.mix(100, moss=2)
    answer = send(
        helper_client, url("batch_add", batch), what=f"item-{live.moss.pk}", amount="360 drops"
    )
    assert answer.status_code == 422
    text = bench_helpers.text_of(answer)
    assert "Moss tint: 20 mL in the cup, the recipe asks for 2 mL, so that is 10.0 times" in text
    assert not Entry.objects.filter(kind="addition").exists()
    data = bench_helpers.filled_in(answer.context["form"]) | {"really": "on"}
    assert data["amount"] == "360 drops"
    assert helper_client.post(url("batch_add", batch), data).status_code == 302
    assert "10.0 times" in Entry.objects.get(kind="addition").look_at


def test_more_than_the_cup_takes_is_a_question(helper_client, live):
    batch = live.mix(390)
    answer = send(
        helper_client, url("batch_add", batch), what=f"item-{live.base.pk}", amount="30 mL"
    )
    assert "422 mL is more than Cup 1 takes (400 mL). Yes, really?" in bench_helpers.text_of(answer)


@pytest.mark.parametrize("typed", ["-3 drops", "1e309", "NaN", "2,5 mL", "1e9 mL"])
def test_what_is_no_amount_is_said_at_its_field_and_kept(helper_client, live, typed):
    batch = live.mix(100)
    answer = send(helper_client, url("batch_add", batch), what=f"item-{live.moss.pk}", amount=typed)
    assert answer.status_code == 422
    assert answer.context["form"]["amount"].errors
    assert answer.context["form"]["amount"].value() == typed
    assert not Entry.objects.filter(kind="addition").exists()


def test_an_addition_after_the_first_shot_must_say_which_it_is(helper_client, live):
    batch = live.mix(100)
    live.shoot(batch)
    answer = send(
        helper_client, url("batch_add", batch), what=f"item-{live.soot.pk}", amount="1 mL"
    )
    assert answer.status_code == 422
    assert "the baits already made depend on it" in bench_helpers.text_of(answer)


def test_what_was_forgotten_belongs_before_the_shots(helper_client, live):
    batch = live.mix(100, moss=2)
    baits = live.shoot(batch).results.get().good_lot
    answer = send(
        helper_client,
        url("batch_add", batch),
        what=f"item-{live.soot.pk}",
        amount="1 mL",
        when="forgotten",
    )
    assert answer.status_code == 302
    now = fresh(batch)
    assert now.entry.amends == batch.entry
    assert now.total == micro(103)
    held = queries.composition(baits)
    # 26 mL were taken from the cup with 100 mL of base; the bait lot has its part of the soot.
    assert held[live.soot.pk] / held[live.base.pk] == pytest.approx(0.01, rel=1e-5)
    assert audited() == []


def test_the_next_color_is_a_new_batch_into_which_the_leftover_moves(helper_client, live):
    batch = live.mix(100, moss=2)
    live.shoot(batch)
    left = fresh(batch.lot).on_hand
    answer = send(
        helper_client,
        url("batch_add", batch),
        what=f"item-{live.soot.pk}",
        amount="1 mL",
        when="next",
    )
    new = Batch.objects.get(number=2)
    assert answer.url == url("batch", new)
    assert (new.lot.on_hand, new.lot.melts, new.cup) == (left, 2, live.cup)
    assert fresh(batch.lot).on_hand == 0
    assert queries.composition(new.lot)[live.soot.pk] == micro(1)
    assert audited() == []


# --- Trade facts: common practice, no source ---------------------------------


def test_a_thick_colorant_thinned_with_oil_doses_differently_from_then_on(helper_client, live):
    oil = make_lot(make_item("additive", "Worm oil"), 50, 3)
    entry = thinning.thin(
        key=key(),
        lot=live.moss_lot,
        quantity=micro(100),
        oil_lot=oil,
        oil_quantity=micro(25),
        by=None,
    )
    bottle = entry.movements.get(role="made").lot
    page = helper_client.get(
        bench_helpers.plan_url(live.pour, live.recipe.pk, base="100 mL", cup=live.cup.pk)
    )
    dose = page.context["plan"].doses[0]
    # 4 parts of colorant in 5: 2 mL of it are in 2.5 mL of the thinned bottle.
    assert (dose.lot, dose.add, dose.draw) == (bottle, micro(2), micro("2.5"))


def test_two_sizes_of_one_flake_were_mixed(helper_client, live):
    coarse = make_item("flake", "Ember flake .040", "g", density_g_per_ml="1.37")
    make_lot(coarse, 20, 5)
    batch = live.mix(100, more=[live.part(live.ember, "0.5", said="½ g")])
    send(helper_client, url("batch_add", batch), what=f"item-{coarse.pk}", amount="0.5 g")
    held = queries.composition(fresh(batch.lot))
    assert held[live.ember.pk] == held[coarse.pk] == micro("0.5")
    text = bench_helpers.text_of(helper_client.get(url("batch", batch)))
    assert "Ember flake .040 0.5 g not in the recipe" in text


def test_a_size_at_hand_stood_in_for_the_recipe_s_flake(live):
    coarse = make_item("flake", "Ember flake .040", "g", density_g_per_ml="1.37")
    lot = make_lot(coarse, 20, 5)
    batch = live.mix(100, more=[live.part(coarse, 1)])
    live.shoot(batch)
    assert fresh(batch).version == live.recipe
    assert lot in lineage.trace_back(batch.lot)
