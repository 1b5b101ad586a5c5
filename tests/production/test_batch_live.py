"""One batch's page: steps in any order, pale or right or dark, the real doses, amending, closed evenings."""

from decimal import Decimal

import pytest

from inventory import queries
from inventory.models import Entry, Lot
from production.models import Batch, Recipe
from production.services import batches, heats, pours
from tests import factories
from tests.factories import key, micro
from tests.inventory.pages import queries_of
from tests.production import bench_helpers
from tests.production.live import Live, audited, fresh, send, url

pytestmark = pytest.mark.django_db


@pytest.fixture
def live(shop):
    return Live()


def text(client, batch) -> str:
    return bench_helpers.text_of(client.get(url("batch", batch)))


def test_the_page_says_what_is_in_the_cup(helper_client, live):
    batch = live.mix(100, moss=2)
    said = text(helper_client, batch)
    for part in (
        "Batch 1: Moss Lantern",
        "102 mL left in Cup 1",
        "3.38 fl oz (100 mL) of it base",
        "1 of 4 melts",
    ):
        assert part in said
    assert "Cup 1 takes 400 mL" in said
    assert "Soft base 100 mL" in said


def test_steps_come_in_any_order_until_the_evening_is_closed(helper_client, live):
    batch = live.mix(100)
    live.shoot(batch)
    helper_client.post(url("batch_degas", batch), {"degassed": "yes"})
    helper_client.post(url("batch_verdict", batch), {"verdict": "right"})
    heats.warm(key=key(), batch=batch, minutes=Decimal(3), by=None)
    helper_client.post(url("batch_done", batch))
    now = fresh(batch)
    assert (now.degassed, now.verdict, now.heats.count()) == (True, "right", 1)
    assert now.mixed_at
    pours.close(pour=live.pour)
    helper_client.post(url("batch_verdict", batch), {"verdict": "dark"})
    assert fresh(batch).verdict == "right"
    assert "Only the owner can amend it." in text(helper_client, batch)


def test_that_s_it_said_twice_keeps_the_first_time(helper_client, live):
    batch = live.mix(100)
    helper_client.post(url("batch_done", batch))
    first = fresh(batch).mixed_at
    helper_client.post(url("batch_done", batch))
    assert fresh(batch).mixed_at == first


def test_a_second_device_asks_for_the_state_alone(helper_client, live):
    batch = live.mix(100)
    answer = helper_client.get(url("batch", batch), headers={"HX-Request": "true"})
    assert [template.name for template in answer.templates][0] == "production/_batch_live.html"
    assert b'id="batch-state" hx-swap-oob="true"' in answer.content
    assert b"<form" not in answer.content


@pytest.mark.parametrize("verdict", ["pale", "dark"])
def test_pale_or_dark_proposes_the_next_version_from_the_real_doses(owner_client, live, verdict):
    batch = live.mix(100, moss=2)
    live.add(batch, live.moss, 1)
    live.add(batch, live.ember, "0.5")
    owner_client.post(url("batch_verdict", batch), {"verdict": verdict})
    page = owner_client.get(url("batch", batch))
    assert "Make the next version from these doses" in bench_helpers.text_of(page)
    revise = f"/colors/recipes/{live.recipe.recipe_id}/revise/?batch={batch.pk}"
    assert revise in page.content.decode()
    form = owner_client.get(revise)
    rows = [row.initial for row in form.context["rows"].forms if row.initial]
    # Per 100 mL of base, as the version is written.
    assert rows == [
        {"item": str(live.moss.pk), "amount": "3 mL"},
        {"item": str(live.ember.pk), "amount": "0.5 g"},
    ]
    assert "Filled in with what really went into Batch 1" in bench_helpers.text_of(form)


def test_a_helper_is_told_that_the_owner_makes_the_next_version(helper_client, live):
    batch = live.mix(100)
    helper_client.post(url("batch_verdict", batch), {"verdict": "pale"})
    assert "The owner can make the recipe's next version" in text(helper_client, batch)


def test_a_verdict_that_is_none_is_said(helper_client, live):
    batch = live.mix(100)
    answer = helper_client.post(url("batch_verdict", batch), {"verdict": "blue"}, follow=True)
    assert "Tap pale, right or dark." in bench_helpers.text_of(answer)
    assert fresh(batch).verdict == ""


def test_a_free_hand_batch_is_kept_as_a_recipe_with_what_really_went_in(owner_client, live):
    batch = live.mix(200, moss=3, version=None)
    live.add(batch, live.ember, 1)
    answer = send(owner_client, url("batch_recipe", batch), name="Ember Moss", reference="100 mL")
    recipe = Recipe.objects.get(name="Ember Moss")
    assert answer.url == f"/colors/recipes/{recipe.pk}/"
    version = recipe.versions.get()
    assert {d.item: d.quantity for d in version.doses.select_related("item")} == {
        live.moss: micro("1.5"),
        live.ember: micro("0.5"),
    }
    assert (fresh(batch).version, version.grade) == (version, live.base)
    assert version.frozen_at
    assert not any(
        dose.off for dose in owner_client.get(url("batch", batch)).context["record"].doses
    )


def test_a_name_that_is_taken_is_said_at_its_field_and_kept(owner_client, live):
    batch = live.mix(100, version=None)
    answer = send(owner_client, url("batch_recipe", batch), name="moss lantern")
    assert answer.status_code == 422
    assert answer.context["form"]["name"].errors
    assert answer.context["form"]["name"].value() == "moss lantern"
    assert fresh(batch).version is None


def test_plastic_without_papers_makes_no_recipe(owner_client, live):
    from production.services import unrecorded

    entry = unrecorded.take_in(key=key(), quantity=micro(50), shape="puck", by=None)
    lot = entry.movements.get().lot
    batch = live.mix(0, moss=0, version=None, more=[batches.Part(lot.item, micro(50), lot)])
    answer = send(owner_client, url("batch_recipe", batch), name="Shed Brown")
    assert "nobody could mix it again" in bench_helpers.text_of(answer)


# --- Amending ----------------------------------------------------------------


def test_a_mix_written_wrong_is_put_right_after_its_baits_were_made(helper_client, live):
    batch = live.mix(100, moss=2)
    baits = live.shoot(batch).results.get().good_lot
    page = helper_client.get(url("batch_amend", batch))
    lines = {
        field.label.split(" · ")[0]: field.html_name for field in page.context["form"].line_fields
    }
    answer = send(
        helper_client,
        url("batch_amend", batch),
        **{lines["Moss tint"]: "4 mL", "reason": "misread the dropper"},
    )
    assert answer.url == url("batch", batch)
    now = fresh(batch)
    assert (now.total, now.entry.amends) == (micro(104), batch.entry)
    held = queries.composition(baits)
    assert held[live.moss.pk] / held[live.base.pk] == pytest.approx(0.04, rel=1e-5)
    assert fresh(live.moss_lot).on_hand == micro(96)
    assert audited() == []


def test_a_line_left_as_it_was_keeps_its_exact_quantity(helper_client, live):
    third = batches.Part(live.base, 33_333_333, said="33.3 mL")
    batch = live.mix(0, moss=1, more=[third])
    send(
        helper_client,
        url("batch_amend", batch),
        extra_1=str(live.soot.pk),
        extra_amount_1="1 mL",
        reason="soot",
    )
    assert fresh(batch.lot).made == 33_333_333
    assert queries.composition(batch.lot)[live.soot.pk] == micro(1)


def test_amending_twice_with_one_press_amends_once(helper_client, live):
    batch = live.mix(100)
    data = bench_helpers.filled_in(helper_client.get(url("batch_amend", batch)).context["form"])
    data |= {"line_1": "3 mL", "reason": "misread"}
    answers = [helper_client.post(url("batch_amend", batch), data) for _ in range(2)]
    assert [answer.status_code for answer in answers] == [302, 302]
    assert Entry.objects.filter(amends__isnull=False).count() == 1


def test_amending_needs_its_reason_and_some_base(helper_client, live):
    batch = live.mix(100)
    answer = send(helper_client, url("batch_amend", batch), line_0="", reason="")
    assert answer.status_code == 422
    assert answer.context["form"]["reason"].errors
    assert fresh(batch).entry == batch.entry


def test_after_the_evening_only_the_owner_amends(helper_client, owner_client, live):
    batch = live.mix(100)
    pours.close(pour=live.pour)
    assert helper_client.get(url("batch_amend", batch)).status_code == 403
    assert owner_client.get(url("batch_amend", batch)).status_code == 200
    send(owner_client, url("batch_amend", batch), line_1="3 mL", reason="misread")
    assert fresh(batch).total == micro(103)


def test_amending_the_first_of_a_chain_reaches_the_total_of_the_next(helper_client, live):
    first = live.mix(100, moss=2)
    second = live.mix(50, moss=0, more=[batches.Part(first.lot.item, micro(50), first.lot)])
    assert second.total == micro(101)
    send(helper_client, url("batch_amend", first), line_1="4 mL", reason="misread")
    assert fresh(second).total == micro(102)
    assert audited() == []


# --- What remains, the door, and the count of queries ------------------------


def test_what_became_of_the_rest_is_kept_with_the_batch(helper_client, live):
    batch = live.mix(100)
    send(helper_client, url("leftover", batch), amount="90 mL", then="puck")
    assert fresh(batch).settled == "puck"
    assert Lot.objects.get(pk=batch.lot_id).form == "puck"
    assert "Said so far: set aside." in text(helper_client, batch)


def test_a_batch_of_another_evening_or_an_undone_one_is_not_found(helper_client, live):
    from inventory.services import counts

    batch = live.mix(100)
    other = factories.make_pour()
    assert helper_client.get(url("batch", batch, pk=other.pk)).status_code == 404
    counts.undo(key=key(), entry=batch.entry, by=None)
    for name in ("batch", "batch_add", "batch_next", "batch_amend", "heat_new"):
        assert helper_client.get(url(name, batch)).status_code == 404, name


def test_the_page_takes_as_many_queries_for_20_additions_as_for_10(owner_client, live):
    batch = live.mix(100)

    def more():
        for _ in range(10):
            live.add(batch, live.moss, "0.1")
            heats.warm(key=key(), batch=batch, minutes=Decimal(1), by=None)

    more()
    ten = queries_of(owner_client, url("batch", batch))
    more()
    assert queries_of(owner_client, url("batch", batch)) == ten


def test_costs_are_no_business_of_this_page(helper_client, live):
    assert b'"cost' not in helper_client.get(url("batch", live.mix(100))).content


def test_batches_keep_their_numbers(live):
    assert [live.mix(10).number for _ in range(3)] == [1, 2, 3]
    assert Batch.objects.count() == 3


def test_what_was_added_stays_when_the_mix_is_amended_after_the_shots(helper_client, live):
    batch = live.mix(100, moss=2)
    live.add(batch, live.ember, 1)
    live.add(batch, live.base, 50)
    baits = live.shoot(batch).results.get().good_lot
    send(helper_client, url("batch_amend", batch), line_1="4 mL", reason="misread")
    held = queries.composition(fresh(batch).lot)
    assert held == {live.base.pk: micro(150), live.moss.pk: micro(4), live.ember.pk: micro(1)}
    held = queries.composition(baits)
    assert held[live.moss.pk] / held[live.base.pk] == pytest.approx(4 / 150, rel=1e-5)
    assert audited() == []
