"""An evening planned from the shelf as it is: what is reused, what it saves by hand, and the order."""

import json
from decimal import Decimal

import pytest

from inventory.models import Item, Lot
from production import allowance, batch_plan, plan_shelf, planning, wants
from production.models import Bench, Cup, LooseBait, Plan
from production.planning import PlanError
from production.services import plans, recipes
from tests import factories
from tests.factories import micro
from tests.production.plan_bench import PlanBench

pytestmark = pytest.mark.django_db
MOSS = 0.20
BASE = 0.05


@pytest.fixture
def bench(shop):
    return PlanBench()


def by_name(outcome):
    return {batch["name"]: batch for batch in outcome["batches"]}


def test_a_kept_leftover_goes_in_and_saves_what_it_would_have_cost(bench):
    lot = bench.jar()
    outcome = planning.think([bench.wish("Deep", 20)])
    [batch] = outcome["batches"]
    assert [(s["kind"], s["lot"], round(s["ml"], 6)) for s in batch["sources"]] == [
        ("jar", lot.pk, 60)
    ]
    # 60 mL of base at .05, and .6 mL of moss in it at .20: nothing else changes.
    assert outcome["fresh_cost"] - outcome["cost"] == pytest.approx(60 * BASE + 0.6 * MOSS)
    # Six shots of 26 mL (twenty baits, 85 % good) and 10 mL of heel; 4 mL of moss to 100 of base.
    assert batch["total_ml"] == pytest.approx(6 * 26 + 10)
    assert batch["base_ml"] == pytest.approx(166 / 1.04)
    whole = batch["base_ml"] * (BASE + 0.04 * MOSS)
    assert outcome["fresh_cost"] == pytest.approx(whole + 0.10)
    assert outcome["proven"] and outcome["gap"] < 1e-6
    assert batch["doses"][0]["quantity"] == pytest.approx(
        (batch["base_ml"] * 0.04 - 0.6) * 1e6, abs=2
    )


def test_the_outcome_is_kept_word_for_word(bench):
    bench.jar()
    outcome = planning.think([bench.wish("Deep", 20), bench.wish("Pale", 20)])
    assert json.loads(json.dumps(outcome)) == outcome


def test_pale_is_poured_first_and_what_remains_goes_on_in_its_cup(bench):
    outcome = planning.think([bench.wish("Deep", 20), bench.wish("Pale", 20)])
    found = by_name(outcome)
    assert [batch["number"] for batch in (found["Pale"], found["Deep"])] == [1, 2]
    assert {source["kind"] for source in found["Deep"]["sources"]} == {"rest", "trim"}
    assert (found["Deep"]["clean_cup"], found["Deep"]["cup_of"], found["Deep"]["melts"]) == (
        False,
        1,
        2,
    )


def test_another_order_costs_more_and_says_how_much(bench, owner):
    plan = plans.make(wishes=[bench.wish("Deep", 20), bench.wish("Pale", 20)], by=owner)
    best = plan.outcome["cost"]
    plan = plans.move(plan=plan, piece=plan.outcome["order"][0], up=False)
    assert [batch["name"] for batch in plan.outcome["batches"]] == ["Deep", "Pale"]
    assert plan.outcome["best_cost"] == pytest.approx(best)
    # Dark into pale: a little is all that the limits allow.
    assert plan.outcome["cost"] > best + 0.5
    plan = plans.again(plan=plan)
    assert (plan.order, plan.outcome["cost"]) == ([], pytest.approx(best))


def test_a_locked_batch_keeps_its_place_and_the_rest_is_planned_around_it(bench, owner):
    wishes = [bench.wish(name, 20) for name in ("Ink", "Deep", "Pale")]
    plan = plans.make(wishes=wishes, by=owner)
    ink = next(piece["key"] for piece in plan.outcome["pieces"] if piece["name"] == "Ink")
    order = [ink, *(key for key in plan.outcome["order"] if key != ink)]
    order.reverse()
    plan = plans.again(plan=plan, order=order, locked=[order[0]])
    assert plan.outcome["order"][0] == order[0]
    assert plan.locked == [order[0]]
    assert sorted(plan.outcome["order"]) == sorted(order)


def test_more_than_a_cup_holds_is_split_over_cups_and_numbered_in_their_order(bench):
    outcome = planning.think([bench.wish("Deep", 110)])
    # 33 shots of 26 mL and a heel each, 400 mL to a cup: three cups.
    names = [batch["name"] for batch in outcome["batches"]]
    assert names == ["Deep, filling 1", "Deep, filling 2", "Deep, filling 3"]
    assert all(batch["total_ml"] <= 400 + 1e-6 for batch in outcome["batches"])
    assert sum(piece["shots"][0]["shots"] for piece in outcome["pieces"]) == 33


def test_two_layers_share_the_smaller_of_the_two_largest_cups(bench):
    bench.forget_cups()
    factories.make_cup(1, 400)
    factories.make_cup(2, 120)
    pattern = factories.make_laminate(
        "Deep over Pale", [bench.deep, bench.pale], [500_000, 500_000]
    )
    wish = {"bait": bench.bait.pk, "pattern": pattern.pk, "baits": 40}
    outcome = planning.think([wish])
    assert max(batch["total_ml"] for batch in outcome["batches"]) <= 120 + 1e-6
    assert outcome["batches"][0]["name"] == "Deep over Pale (back, up), filling 1"


def test_without_time_the_plan_is_not_called_proven_and_says_its_gap(bench):
    bench.jar()
    bench.jar(bench.deep)
    # Ten batches: their proof takes seconds, a hundredth of one is what the solver is given at least.
    for number in range(8):
        doses = {bench.moss: 1 + number, bench.soot: 1}
        factories.make_recipe(f"Moss {number}", grade=bench.base, doses=doses)
    names = ["Deep", "Pale", *(f"Moss {number}" for number in range(8))]
    outcome = planning.think([bench.wish(name, 20) for name in names], seconds=0.0)
    assert not outcome["proven"]
    assert 0 < outcome["gap"] <= 1


def test_the_mold_is_shot_more_often_the_more_it_spoils(bench):
    # Nobody counted yet: forty baits at .857 good are 11.7 shots of four.
    assert allowance.good_share(0, 0).share == pytest.approx(0.857, abs=0.001)
    outcome = planning.think([bench.wish("Deep", 40)])
    assert outcome["pieces"][0]["shots"][0]["shots"] == 12
    assert (outcome["yields"][0]["least"], outcome["yields"][0]["more"]) == (85, 17)


# --- What is wanted ----------------------------------------------------------


@pytest.fixture
def product(bench, make_bag):
    return make_bag(bench)


@pytest.fixture
def make_bag():
    from production.services import products

    def make(bench, name="Reed Eel Deep, 8", count=8):
        pattern = bench.pattern("Deep")
        return products.create(name=name, contents=[(bench.bait, pattern, count)], price_minor=640)

    return make


def test_bags_are_baits_less_the_loose_ones_on_hand(bench, product):
    item = Item.objects.create(kind="loose bait", name="Reed Eel, Deep", stock_unit="each")
    LooseBait.objects.create(bait=bench.bait, pattern=bench.pattern("Deep"), item=item)
    factories.make_lot(item, 5, None)
    needs, notes = planning.needed([{"product": product.pk, "bags": 3, "why": ""}])
    assert [(need.baits, need.worth) for need in needs] == [(19, 0.8)]
    assert notes == ["5 loose Reed Eel, Deep on hand were taken off."]
    # Baits by hand are so many, whatever lies loose.
    needs, notes = planning.needed([bench.wish("Deep", 10)])
    assert [(need.baits, need.worth) for need in needs] == [(10, 0.8)]


def test_what_lies_loose_is_bagged_and_not_poured_again(bench, product):
    item = Item.objects.create(kind="loose bait", name="Reed Eel, Deep", stock_unit="each")
    LooseBait.objects.create(bait=bench.bait, pattern=bench.pattern("Deep"), item=item)
    factories.make_lot(item, 50, None)
    with pytest.raises(PlanError, match="Bag them instead"):
        planning.think([{"product": product.pk, "bags": 3, "why": ""}])


def test_open_orders_say_how_many_bags_they_are_short_of(bench, product):
    from shop.models import Customer
    from shop.services import orders

    customer = Customer.objects.create(name="Hollis Perrin")
    orders.take(customer=customer, lines=[orders.Wanted(product, 4)])
    factories.make_lot(product.item, 1, None)
    assert wants.found() == [wants.Want(product.pk, 3, 1, "3 for Hollis Perrin")]


# --- Prices, melts, tolerances -----------------------------------------------


def test_what_a_lot_cost_goes_before_the_price_of_a_pack_and_unknown_is_said(bench):
    facts = plan_shelf.read({bench.pattern("Ink").pk}, {bench.bait.pk})
    assert facts.prices[str(bench.soot.pk)] == pytest.approx(0.2)
    Lot.objects.filter(item=bench.soot).update(cost=None)
    supplier = factories.make_supplier()
    bench.soot.packs.create(supplier=supplier, name="60 mL", quantity=micro(60), price_minor=1800)
    facts = plan_shelf.read({bench.pattern("Ink").pk}, {bench.bait.pk})
    assert facts.prices[str(bench.soot.pk)] == pytest.approx(0.3)
    bench.soot.packs.all().delete()
    notes = planning.think([bench.wish("Ink", 20)])["notes"]
    assert notes == ["Nobody knows what Soot tint cost: it counts as nothing here."]


def test_a_leftover_at_its_last_melt_stays_on_the_shelf(bench):
    lot = bench.jar()
    Lot.objects.filter(pk=lot.pk).update(melts=4)
    assert planning.think([bench.wish("Deep", 20)])["batches"][0]["sources"] == []


def test_plastic_without_papers_goes_into_no_recipe(bench):
    lot = bench.jar()
    grades = f"{bench.base.pk}+none"
    item = Item.objects.create(
        kind="leftover", name="poured, unrecorded", stock_unit="mL", grades=grades
    )
    Lot.objects.filter(pk=lot.pk).update(item=item)
    assert planning.think([bench.wish("Deep", 20)])["batches"][0]["sources"] == []


def test_the_owners_tolerance_sets_how_much_of_a_darker_leftover_goes_in(bench):
    bench.jar(bench.deep)
    taken = []
    for percent in (5, 100):
        Bench.objects.update(colorant_tolerance=percent)
        batch = planning.think([bench.wish("Pale", 20)])["batches"][0]
        taken.append((batch["sources"][0]["ml"], batch["base_ml"]))
    # Deep is four times as strong: (1 + tolerance) / 4 of the batch, and 60 mL is all there is.
    assert taken[0][0] == pytest.approx(taken[0][1] * 1.05 / 4)
    assert taken[1][0] == pytest.approx(60)
    jar = Lot.objects.get(form="puck")
    found = batch_plan.plan(bench.pale, micro(100), jar)
    assert found.use == micro(50)


# --- What cannot be ----------------------------------------------------------


def refused(wishes) -> str:
    with pytest.raises(PlanError) as error:
        planning.think(wishes)
    return str(error.value)


def test_a_bait_that_no_mold_casts_is_named(bench):
    crab = factories.make_bait("Mud Crab")
    wish = bench.wish("Deep", 20) | {"bait": crab.pk}
    assert "Mud Crab" in refused([wish])


def test_layers_of_different_grades_are_named(bench):
    hard = factories.make_plastisol("Hard base")
    other = factories.make_recipe("Hard Pale", grade=hard, doses={bench.moss: 1})
    pattern = factories.make_laminate("Two grades", [bench.deep, other], [500_000, 500_000])
    text = refused([{"bait": bench.bait.pk, "pattern": pattern.pk, "baits": 8}])
    assert text.startswith("The layers of Two grades are of different grades. Change one")


def test_more_layers_than_cups_are_named(bench):
    Cup.objects.filter(number=2).delete()
    pattern = factories.make_laminate(
        "Deep over Pale", [bench.deep, bench.pale], [500_000, 500_000]
    )
    text = refused([{"bait": bench.bait.pk, "pattern": pattern.pk, "baits": 8}])
    assert text.startswith("Deep over Pale needs 2 cups at once and there are 1. Add a cup")


def test_a_shot_larger_than_the_largest_cup_is_named(bench):
    Cup.objects.update(most_ml=Decimal(35))
    assert refused([bench.wish("Deep", 8)]).startswith(
        "One shot of Reed Eel four with its heel takes 36 mL and the largest cup holds 35. Add a larger"
    )


def test_no_cups_and_too_many_batches_are_said(bench):
    text = refused([bench.wish("Deep", 1000), bench.wish("Pale", 60)])
    # 292 and 18 shots of 26 mL, fifteen to a cup with its heel.
    assert (
        "makes 22 batches, and an evening's plan takes 14 at most: Deep takes 20, Pale 2." in text
    )
    bench.forget_cups()
    assert "no cups yet" in refused([bench.wish("Deep", 8)])


# --- Becoming tonight's pour -------------------------------------------------


def test_a_plan_is_adopted_once_and_its_batches_wait(bench, owner):
    plan = plans.make(wishes=[bench.wish("Deep", 20), bench.wish("Pale", 20)], by=owner)
    pour = plans.adopt(plan=plan, by=owner)
    assert plans.adopt(plan=plan, by=owner) == pour
    plan.refresh_from_db()
    assert [(row.position, row.version) for row in plan.batches.all()] == [
        (1, bench.pale),
        (2, bench.deep),
    ]
    second = plans.make(wishes=[bench.wish("Ink", 20)], by=owner)
    with pytest.raises(PlanError, match="already follows a plan"):
        plans.adopt(plan=second, by=owner)
    with pytest.raises(PlanError, match="being poured already"):
        plans.again(plan=plan)


def test_the_same_wishes_sent_twice_are_one_plan(bench, owner):
    first = plans.make(wishes=[bench.wish("Ink", 20)], by=owner)
    assert plans.make(wishes=[bench.wish("Ink", 20)], by=owner) == first
    plans.discard(plan=first)
    plans.discard(plan=first)
    assert not Plan.objects.exists()


def test_what_is_left_out_can_be_taken_in_again(bench, owner):
    plan = plans.make(wishes=[bench.wish("Deep", 20), bench.wish("Ink", 20)], by=owner)
    whole = plan.outcome["cost"]
    ink = next(piece["key"] for piece in plan.outcome["pieces"] if piece["name"] == "Ink")
    plan = plans.leave_out(plan=plan, pieces=[ink])
    assert [batch["name"] for batch in plan.outcome["batches"]] == ["Deep"]
    plan = plans.take_in(plan=plan)
    assert plan.outcome["cost"] == pytest.approx(whole)


def test_a_recipe_changed_meanwhile_is_planned_by_its_newest_version(bench, owner):
    recipes.revise(
        bench.ink,
        grade=bench.base,
        reference_amount=Decimal(100),
        reference_unit="mL",
        doses=[recipes.DoseSpec(bench.soot, Decimal(5), "mL")],
    )
    batch = planning.think([bench.wish("Ink", 20)])["batches"][0]
    assert batch["doses"][0]["quantity"] == pytest.approx(batch["base_ml"] * 0.05 * 1e6, abs=2)


# --- Measures ----------------------------------------------------------------


def _dose(bench, target, add):
    hand = batch_plan.AtHand({}, Decimal("0.1"))
    return batch_plan.dose(bench.moss, micro(target), micro(add), hand)


def test_a_trifle_that_no_drop_measures_is_left_out(bench):
    # A drop is .05 mL: .02 of the 1 mL wanted is nearer to none than to one.
    left_out = _dose(bench, "1", "0.02")
    assert (left_out.add, left_out.text, left_out.error_percent) == (0, "", 0)
    # Where it is half of the color, one drop goes in and is called rough.
    kept = _dose(bench, "0.04", "0.02")
    assert (kept.text, kept.error_percent, kept.rough) == ("1 drop", 75, True)


def test_the_error_of_an_addition_is_of_the_whole_dose(bench):
    # 1.4 drops become one: .02 mL astray, of .5 mL wanted in all.
    part = _dose(bench, "0.5", "0.07")
    assert (part.text, part.error_percent, part.rough) == ("1 drop", 4, False)
    whole = _dose(bench, "0.07", "0.07")
    assert (whole.text, whole.error_percent, whole.rough) == ("1 drop", 29, True)
