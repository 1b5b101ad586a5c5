"""The pages of a plan: what to make, the plan itself, its order, and the evening that follows it."""

import io
import re
from datetime import timedelta

import pypdf
import pytest
from django.urls import reverse
from django.utils import timezone

from inventory.models import Item
from production.models import Batch, Bench, Cup, LooseBait, Plan, PlannedBatch, Pour
from production.services import batches, leftovers, plans, products, shots
from tests import factories
from tests.factories import key, micro
from tests.inventory.pages import queries_of
from tests.production import bench_helpers
from tests.production.bench_helpers import text_of
from tests.production.plan_bench import PlanBench

pytestmark = pytest.mark.django_db
NEW = "/pours/plans/new/"


@pytest.fixture
def bench(shop):
    return PlanBench()


@pytest.fixture
def plan(bench, owner):
    bench.jar()
    return plans.make(wishes=[bench.wish("Deep", 20), bench.wish("Pale", 20)], by=owner)


def url(name, *args):
    return reverse(f"production:{name}", args=args)


def by_hand(bench, name="Deep", baits="20", line=0):
    return {
        f"bait-{line}-bait": str(bench.bait.pk),
        f"bait-{line}-pattern": str(bench.pattern(name).pk),
        f"bait-{line}-baits": baits,
    }


# --- What to make ------------------------------------------------------------


def test_the_owner_says_what_to_make_and_sees_the_plan(owner_client, bench):
    bench.jar()
    answer = owner_client.post(NEW, by_hand(bench), follow=True)
    text = text_of(answer)
    assert "Pale, puck" in text and "60.6 mL (62.4 g)" in text
    assert "Proven: no order and no mix of sources costs less." in text
    assert re.search(r"3\.12 USD saved: 6\.24 instead of 9\.36 with every color fresh", text), text


def test_nothing_wished_for_is_said_and_keeps_the_page(owner_client, bench):
    answer = owner_client.post(NEW, {})
    assert answer.status_code == 422
    assert "tick something, or fill in a line" in text_of(answer)
    assert not Plan.objects.exists()


def test_what_cannot_be_is_named_and_what_was_typed_stays(owner_client, bench):
    crab = factories.make_bait("Mud Crab")
    sent = by_hand(bench) | {"bait-0-bait": str(crab.pk), "bait-0-baits": "7"}
    answer = owner_client.post(NEW, sent)
    assert answer.status_code == 422
    assert "No mold casts Mud Crab. Add a mold for it under Setup" in text_of(answer)
    assert answer.context["form"].by_bait.forms[0]["baits"].value() == "7"
    assert not Plan.objects.exists()


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("0", "at least 1"),
        ("-3", "less than zero"),
        ("2.5", "whole number"),
        ("1e9", "without the e"),
        ("99999", "at most 2,000"),
        ("nan", "not an amount"),
        ("", "Fill this in"),
    ],
)
def test_a_count_that_cannot_be_is_refused_at_its_field(owner_client, bench, typed, words):
    answer = owner_client.post(NEW, by_hand(bench, baits=typed))
    assert answer.status_code == 422
    form = answer.context["form"].by_bait.forms[0]
    assert words in form.errors["baits"][0]
    assert form["baits"].value() == typed


def test_products_under_their_minimum_and_short_orders_are_offered(owner_client, bench):
    from shop.models import Customer
    from shop.services import orders

    product = products.create(
        name="Reed Eel Deep, 8", contents=[(bench.bait, bench.pattern("Deep"), 8)], price_minor=640
    )
    Item.objects.filter(pk=product.item_id).update(minimum=micro(5))
    factories.make_lot(product.item, 4, None)
    customer = Customer.objects.create(name="Hollis Perrin")
    orders.take(customer=customer, lines=[orders.Wanted(product, 3)])
    form = owner_client.get(NEW).context["form"]
    # The order takes three of the four bags: one stands free, and the minimum is five.
    assert [(tick.product, tick.initial["bags"]) for tick in form.low] == [(product, 4)]
    assert form.ordered == []
    sent = {f"low-{product.pk}-make": "on", f"low-{product.pk}-bags": ""}
    answer = owner_client.post(NEW, sent)
    assert "How many bags?" in text_of(answer)
    answer = owner_client.post(NEW, sent | {f"low-{product.pk}-bags": "2"})
    assert Plan.objects.get().wishes == [
        {"product": product.pk, "bags": 2, "why": "under its minimum of 5"}
    ]


def test_wishes_can_be_changed_and_stay_the_same_plan(owner_client, bench, plan):
    address = f"{NEW}?plan={plan.pk}"
    form = owner_client.get(address).context["form"]
    assert [row.initial["baits"] for row in form.by_bait.forms[:2]] == [20, 20]
    owner_client.post(address, by_hand(bench, baits="12"))
    assert [wish["baits"] for wish in Plan.objects.get().wishes] == [12]


# --- The plan ----------------------------------------------------------------


def test_up_and_down_change_the_order_and_say_what_it_costs(owner_client, plan):
    first = plan.outcome["order"][0]
    again = url("plan_again", plan.pk)
    text = text_of(owner_client.post(again, {"move": f"{first}:down"}, follow=True))
    told = re.search(r"costs (\d+\.\d\d) USD , (\d+\.\d\d) USD more than the best one", text)
    cost, more = (float(figure) for figure in told.groups())
    assert cost - more == pytest.approx(plan.outcome["cost"], abs=0.011)
    plan.refresh_from_db()
    assert plan.order[1] == first
    answer = owner_client.post(again, {"move": f"{first}:down"})
    assert answer.status_code == 422
    assert "already at the end" in text_of(answer)
    text = text_of(owner_client.post(again, {"best": "yes"}, follow=True))
    assert "Proven" in text


def test_an_order_as_it_was_dragged_is_planned(owner_client, plan):
    again, order = url("plan_again", plan.pk), list(reversed(plan.outcome["order"]))
    answer = owner_client.post(again, {"reorder": "yes", "order": order})
    assert answer.url == url("plan", plan.pk) + "#order"
    plan.refresh_from_db()
    assert plan.order == plan.outcome["order"] == order


@pytest.mark.parametrize("spoil", [lambda order: order[:1], lambda order: [*order, "p99"]])
def test_an_order_of_other_batches_is_refused_and_the_plan_shown(owner_client, plan, spoil):
    sent = {"reorder": "yes", "order": spoil(plan.outcome["order"])}
    answer = owner_client.post(url("plan_again", plan.pk), sent)
    assert answer.status_code == 422
    assert "The plan was changed meanwhile" in text_of(answer)
    plan.refresh_from_db()
    assert plan.order == []


def test_planning_around_nothing_says_to_lock_something(owner_client, plan):
    answer = owner_client.post(url("plan_again", plan.pk), {"around": "yes"})
    assert answer.status_code == 422
    assert "Nothing is locked" in text_of(answer)


def test_a_batch_mixed_larger_is_told_with_what_for_and_can_be_left(owner_client, bench, owner):
    Bench.objects.update(cold_cost_minor=200)
    plan = plans.make(wishes=[bench.wish("Deep", 12), bench.wish("Pale", 8)], by=owner)
    text = text_of(owner_client.get(url("plan", plan.pk)))
    pale, deep = plan.outcome["batches"]
    assert re.search(r"Batch 1 is mixed larger than the shots .* That saves \d\.\d\d USD", text)
    assert f"Mixed {pale['extra_total_ml']:.0f} mL larger than its shots need" in text
    assert pale["base_ml"] == pytest.approx(pale["shots_ml"] + pale["heel_ml"] + pale["extra_ml"])
    assert deep["fresh_ml"] == pytest.approx(0, abs=1e-3)
    again = url("plan_again", plan.pk)
    text = text_of(owner_client.post(again, {"larger": "no"}, follow=True))
    assert "mixed larger than the shots" not in text and "so you asked" in text
    plan.refresh_from_db()
    assert [batch["extra_ml"] for batch in plan.outcome["batches"]] == [0, 0]
    assert "is mixed larger" in text_of(owner_client.post(again, {"larger": "yes"}, follow=True))


def test_each_batch_stands_in_a_cup_that_holds_it(owner_client, bench, owner):
    """One cup is small: a laminate takes both, and a large batch the other one alone."""
    Cup.objects.filter(number=2).update(most_ml=120)
    pattern = factories.make_laminate(
        "Deep over Pale", [bench.deep, bench.pale], [800_000, 200_000]
    )
    wish = {"bait": bench.bait.pk, "pattern": pattern.pk, "baits": 44}
    plan = plans.make(wishes=[wish, bench.wish("Ink", 40)], by=owner)
    stands = {
        batch["name"]: (batch["cup_name"], batch["total_ml"] > 120)
        for batch in plan.outcome["batches"]
    }
    assert stands == {
        "Deep over Pale (back, up)": ("Cup 1", True),
        "Deep over Pale (belly, down)": ("Cup 2", False),
        "Ink": ("Cup 1", True),
    }
    assert "washed after batch" in text_of(owner_client.get(url("plan", plan.pk)))


def test_a_batch_that_finds_no_cup_is_said_with_what_stands_in_the_way(owner_client, plan):
    Plan.objects.update(
        outcome=plan.outcome | {"no_seat": "Batch 2, Deep, fills 166 mL, and no cup is free."}
    )
    text = text_of(owner_client.get(url("plan", plan.pk)))
    assert "no cup is free. Tip what waits into a smaller cup" in text


def test_a_lock_is_kept_and_shown(owner_client, plan):
    second = plan.outcome["order"][1]
    answer = owner_client.post(
        url("plan_again", plan.pk), {"around": "yes", "lock": [second]}, follow=True
    )
    plan.refresh_from_db()
    assert (plan.locked, plan.outcome["order"][1]) == ([second], second)
    assert f'name="lock" value="{second}" checked' in answer.content.decode()


def test_too_few_hours_say_what_to_leave_out_and_leaving_it_out_mends_it(owner_client, plan):
    minutes = url("plan_minutes", plan.pk)
    text = text_of(owner_client.post(minutes, {"minutes": "60"}, follow=True))
    assert "This takes 96 minutes, and the evening has 60. Leave out:" in text
    answer = owner_client.post(minutes, {"minutes": "soon"})
    assert answer.status_code == 422
    assert answer.context["minutes"]["minutes"].value() == "soon"
    piece = plan.outcome["order"][0]
    text = text_of(owner_client.post(url("plan_again", plan.pk), {"leave": piece}, follow=True))
    assert "This takes" not in text
    assert "Take in again" in text


def test_all_that_does_not_fit_is_left_out_with_one_press(owner_client, bench, owner):
    wishes = [bench.wish(name, 20) for name in ("Deep", "Pale", "Ink")]
    plan = plans.make(wishes=wishes, by=owner)
    page = owner_client.post(url("plan_minutes", plan.pk), {"minutes": "60"}, follow=True)
    gone = [one.piece["key"] for one in page.context["page"].drop]
    assert len(gone) == 2
    content = page.content.decode()
    assert all(f'<input type="hidden" name="leave" value="{key}">' in content for key in gone)
    owner_client.post(url("plan_again", plan.pk), {"leave": gone})
    plan.refresh_from_db()
    assert len(plan.outcome["batches"]) == 1 and set(plan.outcome["order"]).isdisjoint(gone)


def test_what_the_shelf_lacks_is_said_with_the_amount(owner_client, bench, owner):
    Item.objects.get(pk=bench.soot.pk).lots.update(on_hand=micro(2), made=micro(2))
    plan = plans.make(wishes=[bench.wish("Ink", 20)], by=owner)
    text = text_of(owner_client.get(url("plan", plan.pk)))
    # 166 mL of Ink hold 166 / 1.03 of base and 3 mL of soot to 100 of it.
    assert "Soot tint 4.83 mL 2 mL 2.83 mL" in text


def test_a_leftover_used_up_meanwhile_is_pointed_out(owner_client, plan):
    Batch.objects.get(lot__form="puck").lot.__class__.objects.filter(form="puck").update(on_hand=0)
    assert "Less is left than the plan takes: Pale, puck" in text_of(
        owner_client.get(url("plan", plan.pk))
    )


def test_a_helper_reads_the_plan_without_costs_and_changes_nothing(helper_client, plan):
    page = helper_client.get(url("plan", plan.pk))
    assert 'class="cost"' not in page.content.decode()
    assert "saved" not in text_of(page) and "Lock" not in text_of(page)
    for name in ("plan_again", "plan_minutes", "plan_adopt", "plan_discard"):
        assert helper_client.post(url(name, plan.pk)).status_code == 403
    assert helper_client.get(NEW).status_code == 403


@pytest.mark.parametrize("name", ["plan", "plan_again", "plan_minutes", "plan_adopt", "plan_sheet"])
def test_a_plan_that_is_gone_is_not_found(owner_client, shop, name):
    send = owner_client.get if name in ("plan", "plan_sheet") else owner_client.post
    assert send(url(name, 77)).status_code == 404


def test_letting_go_twice_is_no_error(owner_client, plan):
    for _press in range(2):
        assert owner_client.post(url("plan_discard", plan.pk)).status_code == 302
    assert not Plan.objects.exists()


def test_a_plan_of_ten_batches_asks_no_more_than_one_of_two(owner_client, bench, owner):
    few = plans.make(wishes=[bench.wish("Deep", 20), bench.wish("Pale", 20)], by=owner)
    before = queries_of(owner_client, url("plan", few.pk))
    new = queries_of(owner_client, NEW)
    for number in range(8):
        factories.make_recipe(f"Moss {number}", grade=bench.base, doses={bench.moss: 1 + number})
    names = ["Deep", "Pale", *(f"Moss {number}" for number in range(8))]
    many = plans.make(wishes=[bench.wish(name, 8) for name in names], by=owner)
    assert queries_of(owner_client, url("plan", many.pk)) == before
    assert queries_of(owner_client, NEW) == new


def test_the_plan_prints_as_a_pour_sheet_of_one_page(helper_client, plan):
    answer = helper_client.get(url("plan_sheet", plan.pk))
    assert answer["Content-Type"] == "application/pdf"
    [page] = pypdf.PdfReader(io.BytesIO(answer.content)).pages
    text = " ".join(page.extract_text().split())
    assert "1. Pale" in text and "2. Deep" in text
    assert "Cup 1, with what remains of batch 1" in text


# --- The evening that follows it ---------------------------------------------


@pytest.fixture
def pour(plan, owner):
    return plans.adopt(plan=plan, by=owner)


def mix(client, pour, row, **changes):
    answer = client.get(url("planned_mix", pour.pk, row.pk))
    page = client.get(answer.url)
    assert page.status_code == 200, text_of(page)
    sent = client.post(answer.url, bench_helpers.filled_in(page.context["form"]) | changes)
    row.refresh_from_db()
    assert sent.url == url("batch", pour.pk, row.batch_id)
    return row.batch


def test_one_button_makes_it_tonights_pour(owner_client, plan):
    answer = owner_client.post(url("plan_adopt", plan.pk), follow=True)
    plan.refresh_from_db()
    assert answer.redirect_chain[0][0] == url("pour", plan.pour_id)
    assert plan.batches.count() == 2


def test_the_pour_shows_what_waits_and_its_sheet_prints_it(helper_client, plan, pour):
    text = text_of(helper_client.get(url("pour", pour.pk)))
    assert "Waiting" in text and "1. Pale" in text and "Mix it : Deep" in text
    assert "Plan against actual" not in text
    mix(helper_client, pour, PlannedBatch.objects.order_by("position").first())
    text = text_of(helper_client.get(url("pour", pour.pk)))
    assert "Plan against actual" in text and "Mix it : Pale" not in text
    sheet = helper_client.get(url("pour_sheet", pour.pk))
    [page] = pypdf.PdfReader(io.BytesIO(sheet.content)).pages
    words = " ".join(page.extract_text().split())
    assert "Batch 1: Pale" in words and "2. Deep" in words


def test_a_waiting_batch_is_mixed_as_planned_from_all_its_sources(helper_client, bench, plan, pour):
    pale, deep = PlannedBatch.objects.order_by("position")
    first = mix(helper_client, pour, pale)
    assert (first.version, first.lot.made) == (bench.pale, pale.base)
    result = shots.Result(bench.bait, 20)
    shots.shoot(
        key=key(),
        pour=pour,
        mold=bench.mold,
        pattern=bench.pattern("Pale"),
        batches=[first],
        count=6,
        results=[result],
        by=None,
    )
    second = mix(helper_client, pour, deep)
    assert second.lot.made == pytest.approx(deep.base, abs=micro("0.3"))
    drawn = {
        line.lot.form: -line.quantity
        for line in second.entry.movements.filter(role="drawn", lot__item__kind="leftover")
    }
    # The puck, what remained of Pale in its cup, and the trim of its shots.
    assert set(drawn) == {"puck", "liquid", "trim"}
    assert drawn["puck"] == micro(60)
    assert second.cup == first.cup
    target = second.lot.made * 4 // 100
    held = dict(second.lot.contents.values_list("item", "quantity"))[bench.moss.pk]
    assert held == pytest.approx(target, rel=0.04)
    assert second.lot.melts == 2


def test_the_batch_leads_to_the_planned_shots_until_they_are_shot(helper_client, bench, pour):
    batch = mix(helper_client, pour, PlannedBatch.objects.order_by("position").first())
    address = url("batch", pour.pk, batch.pk)
    link = f"?batch={batch.pk}&amp;mold={bench.mold.pk}&amp;count=6"
    assert link in helper_client.get(address).content.decode()
    shots.shoot(
        key=key(),
        pour=pour,
        mold=bench.mold,
        pattern=bench.pattern("Pale"),
        batches=[batch],
        count=6,
        results=[shots.Result(bench.bait, 20)],
        by=None,
    )
    assert link not in helper_client.get(address).content.decode()
    text = text_of(helper_client.get(url("pour", pour.pk)))
    assert "6 of 6 20 of 21" in text


def test_a_waiting_batch_undone_waits_again_and_one_taken_off_does_not(helper_client, pour):
    from inventory.services import counts
    from production import plan_page

    pale, deep = PlannedBatch.objects.order_by("position")
    batch = mix(helper_client, pour, pale)
    assert plan_page.waiting(pale.plan) == [deep]
    counts.undo(key=key(), entry=batch.entry, by=None)
    assert plan_page.waiting(pale.plan) == [pale, deep]
    helper_client.post(url("planned_off", pour.pk, deep.pk))
    assert plan_page.waiting(pale.plan) == [pale]
    assert helper_client.get(url("planned_mix", pour.pk, deep.pk)).status_code == 404


def test_a_plan_with_a_mixed_batch_stays_with_its_evening(owner_client, plan, pour):
    mix(owner_client, pour, PlannedBatch.objects.order_by("position").first())
    answer = owner_client.post(url("plan_discard", plan.pk))
    assert answer.status_code == 422
    assert "1 of its batches was mixed" in text_of(answer)


def test_plan_and_what_was_poured_stand_beside_each_other(helper_client, bench, plan, pour):
    from production import plan_actual

    assert plan_actual.rows(plan) == []
    pale = PlannedBatch.objects.order_by("position").first()
    batch = mix(helper_client, pour, pale)
    shots.shoot(
        key=key(),
        pour=pour,
        mold=bench.mold,
        pattern=bench.pattern("Pale"),
        batches=[batch],
        count=5,
        results=[shots.Result(bench.bait, 18)],
        by=None,
    )
    first, second = plan_actual.rows(plan)
    assert (first.shots, first.good, first.real_shots, first.real_good) == (6, 21, 5, 18)
    assert (second.batch, second.real_shots) == (None, 0)


def test_three_measured_heels_teach_the_next_plan(helper_client, bench, owner):
    from production import plan_shelf

    for base in ("13", "12", "40"):
        plan = plans.make(wishes=[bench.wish("Ink", 20)], by=owner)
        pour = plans.adopt(plan=plan, by=owner)
        batch = mix(helper_client, pour, plan.batches.get())
        shots.shoot(
            key=key(),
            pour=pour,
            mold=bench.mold,
            pattern=bench.pattern("Ink"),
            batches=[batch],
            count=6,
            results=[shots.Result(bench.bait, 24)],
            by=None,
        )
        leftovers.settle(
            key=key(), batch=batch, measured=micro(base), then="throw", reason="Done.", by=None
        )
        pour.closed_at = pour.started_at
        pour.save()
    assert sorted(round(ml, 1) for ml in plan_shelf.heels()) == pytest.approx(
        [12 * 1.03, 13 * 1.03, 40 * 1.03], abs=0.1
    )
    # What was mixed larger, to go on, is no heel.
    row = PlannedBatch.objects.get(batch=Batch.objects.order_by("-id").first())
    PlannedBatch.objects.filter(pk=row.pk).update(detail=row.detail | {"extra_ml": 30.0})
    assert max(plan_shelf.heels()) == pytest.approx(13 * 1.03, abs=0.1)
    facts = plan_shelf.read({bench.pattern("Ink").pk}, {bench.bait.pk})
    assert (facts.heel.measured, round(facts.heel.ml, 1)) == (3, 12.4)
    assert facts.yields[f"m{bench.mold.pk}"].seen == 72
    # One evening of the three slips out of the twelve months, by its date and not by its number.
    old = Pour.objects.order_by("id")[1]
    for days, seen in ((plan_shelf.YIELD_DAYS, 72), (plan_shelf.YIELD_DAYS + 1, 48)):
        old.business_date = timezone.localdate() - timedelta(days=days)
        old.save()
        assert plan_shelf.yields_of([bench.mold.pk])[bench.mold.pk].seen == seen
    # A mold that was never shot learns nothing from the others.
    assert plan_shelf.yields_of([bench.mold.pk + 1])[bench.mold.pk + 1].seen == 0


def test_loose_baits_and_seconds_are_told_apart(bench, owner_client):
    item = Item.objects.create(kind="loose bait", name="Seconds", stock_unit="each")
    LooseBait.objects.create(bait=bench.bait, pattern=bench.pattern("Deep"), item=item, second=True)
    factories.make_lot(item, 50, None)
    product = products.create(
        name="Reed Eel Deep, 8", contents=[(bench.bait, bench.pattern("Deep"), 8)], price_minor=640
    )
    owner_client.post(NEW, {"product-0-product": str(product.pk), "product-0-bags": "1"})
    assert Plan.objects.get().outcome["notes"] == []
    assert batches.grades_in([]) == "none"


def test_a_plan_kept_before_plans_named_their_cups_is_shown_and_mixed(helper_client, plan, owner):
    import importlib

    from django.apps import apps

    pour = plans.adopt(plan=plan, by=owner)
    change = importlib.import_module("production.migrations.0008_plans_name_cups")
    new = {*change.BATCH, "cup_name", "cup_words", "most_melts"}

    def older(batch):
        return {name: value for name, value in batch.items() if name not in new}

    kept = {name: value for name, value in plan.outcome.items() if name not in change.OUTCOME}
    batches = [older(batch) for batch in kept["batches"]]
    Plan.objects.update(outcome=kept | {"batches": batches, "max_melts": 4})
    for row in PlannedBatch.objects.all():
        PlannedBatch.objects.filter(pk=row.pk).update(detail=older(row.detail))
    change.fill(apps, None)
    text = text_of(helper_client.get(url("plan", plan.pk)))
    assert "the cup of batch 1 · melt 2 of 4" in text
    assert helper_client.get(url("plan_sheet", plan.pk)).status_code == 200
    assert mix(helper_client, pour, PlannedBatch.objects.order_by("position").first()).cup
