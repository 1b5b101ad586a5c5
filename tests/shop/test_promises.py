"""What the shop can promise from its own books: by hand, beside others, and carried out to the last bag."""

import datetime

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory.models import Lot, Place
from inventory.services import holding
from production import promise, promise_shelf
from production.models import Cup, Dose, DoseStandIn, Pattern
from production.services import bait_lots, plans, pours
from shop import promise_page, promises
from shop.services import holds, shipping
from tests import factories
from tests.factories import key, micro
from tests.shop.promising import GOOD, Shelf, bags

pytestmark = pytest.mark.django_db


def _day(number: int) -> datetime.date:
    return timezone.localdate() + datetime.timedelta(days=number)


def _bagged(product, count, **facts):
    return factories.make_lot(product.item, count, 5, **facts)


def _loose(shelf, pattern, count):
    item = bait_lots.loose_item(shelf.bait, Pattern.objects.get(name=pattern))
    return factories.make_lot(item, count, 5)


def test_a_line_is_bagged_then_loose_then_poured():
    shelf = Shelf()
    _bagged(shelf.pale, 4)
    _loose(shelf, "Pale", 10)
    answer = shelf.ask(shelf.order((shelf.pale, 10)))
    assert bags(answer) == [(4, 3, 3, 0)]
    assert answer.promise.ready_on == _day(1)
    # 10 - 9 baits are left over; 8 more are three shots of 4 × .857 good ones
    assert [shots.count for shots in answer.promise.plan.shots] == [3]


def test_two_lines_possible_alone_are_not_together_and_the_item_says_by_how_much():
    """By hand: 10 bags are 30 baits, at 4 × .25^(1/9) = 3.429 a shot nine shots, 234 mL of the mix.

    Pale takes 234/101 = 2.3168 mL of moss, Deep 234 × 4/104 = 9 mL: together 11.3168 of the 10 there."""
    shelf = Shelf(moss=10, minutes=180)
    for product in (shelf.pale, shelf.deep):
        alone = shelf.order((product, 10))
        assert shelf.ask(alone).promise.whole
        alone.delete()
    answer = shelf.ask(shelf.order((shelf.pale, 10), (shelf.deep, 10)))
    (short,) = answer.promise.shorts
    assert answer.facts.name(short.key) == "Moss tint"
    assert short.amount == pytest.approx(234 / 101 + 9 - 10, abs=1e-6)
    assert answer.promise.proven and answer.promise.least


def test_two_lines_possible_alone_are_not_together_for_want_of_mold_minutes():
    """By hand: an hour is 10 cycles of 6 minutes; nine shots each are 18, eight cycles beyond: 48 minutes.
    The hands have 60 minutes for 2 × 12 + 18."""
    shelf = Shelf()
    for product in (shelf.pale, shelf.deep):
        alone = shelf.order((product, 10))
        assert shelf.ask(alone).promise.whole
        alone.delete()
    (short,) = shelf.ask(shelf.order((shelf.pale, 10), (shelf.deep, 10))).promise.shorts
    assert (short.what, short.amount) == (promise.MOLD_MINUTES, 48)
    # the next evening has room
    assert short.on == _day(2)


def test_nothing_that_is_held_on_hold_or_out_of_the_house_is_promised():
    shelf = Shelf(base=0, moss=0)
    held, recalled, away, free = (_bagged(shelf.pale, n) for n in (8, 4, 2, 1))
    holding.hold_of_lot("order:999", held, micro(8))
    Lot.objects.filter(pk=recalled.pk).update(held=True)
    stall = Place.objects.create(name="Saturday stall", kind=Place.Kind.STALL)
    Lot.objects.filter(pk=away.pk).update(place=stall)
    loose = _loose(shelf, "Pale", 9)
    Lot.objects.filter(pk=loose.pk).update(held=True)
    assert bags(shelf.ask(shelf.order((shelf.pale, 16)))) == [(1, 0, 0, 15)]


def test_plastic_that_is_on_hold_is_not_poured():
    shelf = Shelf()
    Lot.objects.filter(item__in=[shelf.base, shelf.moss]).update(held=True)
    assert bags(shelf.ask(shelf.order((shelf.pale, 1)))) == [(0, 0, 0, 1)]


def test_what_the_order_holds_itself_is_its_own():
    shelf = Shelf(base=0, moss=0)
    _bagged(shelf.pale, 5)
    order = shelf.order((shelf.pale, 8))
    holds.hold_line(order.lines.get(), 3)
    other = shelf.order((shelf.pale, 1), ago=1)
    answer = shelf.ask(order)
    (row,) = promise_page.show(answer).rows
    assert [(part.kind, part.bags) for part in row.parts] == [
        ("held", 3),
        ("bagged", 1),
        ("short", 4),
    ]
    assert answer.earlier == 1 and bags(shelf.ask(other)) == [(1, 0, 0, 0)]


def test_what_has_left_is_not_asked_for_again():
    shelf = Shelf()
    _bagged(shelf.pale, 4)
    order = shelf.order((shelf.pale, 6))
    line = order.lines.get()
    shipping.ship(key=key(), order=order, packed=[shipping.Packed(line, 4)], by=None)
    answer = shelf.ask(order)
    assert bags(answer) == [(0, 0, 2, 0)]
    (row,) = promise_page.show(answer).rows
    assert [(part.kind, part.bags) for part in row.parts] == [("shipped", 4), ("pour", 2)]


def test_first_accepted_is_first_served_whatever_is_due_first():
    shelf = Shelf(base=0, moss=0)
    _bagged(shelf.pale, 5)
    early = shelf.order((shelf.pale, 4), days=9, ago=2)
    late = shelf.order((shelf.pale, 4), days=1, ago=1)
    assert bags(shelf.ask(early)) == [(4, 0, 0, 0)]
    assert bags(shelf.ask(late)) == [(1, 0, 0, 3)]


def test_a_lot_that_expires_before_the_day_does_not_count():
    shelf = Shelf(moss=0)
    factories.make_lot(shelf.moss, 50, 5, expires_on=_day(3))
    assert shelf.ask(shelf.order((shelf.pale, 2), days=2)).promise.whole
    late = shelf.ask(shelf.order((shelf.pale, 2), days=5))
    assert [late.facts.name(short.key) for short in late.promise.shorts] == ["Moss tint"]


def test_a_thinned_bottle_counts_at_its_strength():
    shelf = Shelf(moss=10)
    Lot.objects.filter(pk=shelf.moss_lot.pk).update(strength="0.5")
    answer = shelf.ask(shelf.order((shelf.deep, 10)))
    # 9 mL at full strength are wanted, 10 mL at half are 5
    assert answer.promise.shorts[0].amount == pytest.approx(4, abs=1e-6)


def test_only_the_evenings_on_which_the_shop_pours_count():
    today = timezone.localdate()
    tomorrow = today + datetime.timedelta(days=1)
    shelf = Shelf(weekdays=str(tomorrow.isoweekday()))
    assert bags(shelf.ask(shelf.order((shelf.pale, 2), days=1))) == [(0, 0, 0, 2)]
    answer = shelf.ask(shelf.order((shelf.pale, 2), days=2))
    assert answer.promise.ready_on == _day(2) and answer.promise.whole


def test_a_closed_evening_pours_nothing_more():
    shelf = Shelf()
    pour = pours.start(by=None)
    assert shelf.ask(shelf.order((shelf.pale, 2))).promise.whole
    pour.closed_at = timezone.now()
    pour.save()
    assert bags(shelf.ask(shelf.order((shelf.pale, 2)))) == [(0, 0, 0, 2)]


def test_a_bag_of_seconds_is_not_poured_for():
    shelf = Shelf()
    seconds = shelf.product("Pale", second=True)
    answer = shelf.ask(shelf.order((seconds, 2)))
    assert bags(answer) == [(0, 0, 0, 2)]
    shown = promise_page.show(answer)
    assert [limit.never for limit in shown.limits][:1] == [True]
    assert answer.promise.whole_on is None


def test_a_product_whose_mold_was_put_away_is_still_sold_from_stock():
    shelf = Shelf()
    _bagged(shelf.pale, 2)
    shelf.mold.archived = True
    shelf.mold.save()
    answer = shelf.ask(shelf.order((shelf.pale, 3)))
    assert bags(answer) == [(2, 0, 0, 1)]
    assert any("its mold is put away" in limit.name for limit in promise_page.show(answer).limits)


def test_a_supplier_and_its_days_say_when_what_is_short_could_be_here():
    shelf = Shelf(moss=0)
    supplier = factories.make_supplier(lead_time_days=5)
    shelf.moss.packs.create(supplier=supplier, name="bottle", quantity=micro(60), price_minor=900)
    shown = promise_page.show(shelf.ask(shelf.order((shelf.pale, 2))))
    (limit,) = shown.limits
    assert (limit.name, limit.supplier, limit.on) == ("Moss tint", "Gray Heron Supply", _day(5))
    assert shown.whole_on == _day(6)


def test_a_flake_of_another_size_stands_in_where_the_author_allows_it():
    shelf = Shelf()
    fine, coarse = factories.make_flake("Fine flake"), factories.make_flake("Coarse flake")
    version = factories.make_recipe("Glint", grade=shelf.base, doses={fine: 2})
    factories.make_lot(coarse, 100, 5)
    product = shelf.product("Glint")
    order = shelf.order((product, 3))
    assert bags(shelf.ask(order)) == [(0, 0, 0, 3)]
    DoseStandIn.objects.create(dose=Dose.objects.get(version=version), item=coarse)
    answer = shelf.ask(order)
    assert answer.promise.whole
    (row,) = promise_page.show(answer).rows
    assert "of Coarse flake in place of Fine flake, in Glint" in row.stand_ins[0]


def test_the_quick_yes_is_a_yes_and_the_quick_no_says_that_it_is_not_sure():
    shelf = Shelf()
    order = shelf.order((shelf.pale, 4))
    quick = shelf.ask(order, quick=True)
    assert quick.promise.whole and quick.promise.proven
    none = shelf.ask(shelf.order((shelf.pale, 400)), quick=True)
    assert not none.promise.whole and not none.promise.proven and not none.promise.least


def test_the_best_part_is_worth_most_or_keeps_the_rank():
    shelf = Shelf(moss=10, minutes=600)
    shelf.deep.price_minor = 5000
    shelf.deep.save()
    order = shelf.order((shelf.pale, 40), (shelf.deep, 10))
    by_value = bags(shelf.ask(order, worth=promise.VALUE))
    by_rank = bags(shelf.ask(order, worth=promise.RANK))
    assert by_value[1][2] == 10 and by_rank[0][2] == 40
    assert by_value[0][2] < 40 and by_rank[1][2] < 10


def test_the_most_of_one_product_is_what_its_scarcest_part_gives():
    """By hand: 10 mL of moss are 1010 mL of Pale, 38 shots of 26 mL; 38 × 3.429 = 130 baits, 43 bags."""
    shelf = Shelf(moss=10, minutes=600)
    found, _, _ = promises.most(shelf.pale, _day(1), seconds=60)
    assert found.bags == int(int(1010 / 26) * 4 * GOOD / 3) == 43
    assert [short.key for short in found.answer.shorts] == [str(shelf.moss.pk)]


def test_the_message_says_what_comes_when():
    shelf = Shelf(base=0, moss=0)
    _bagged(shelf.pale, 3)
    answer = shelf.ask(shelf.order((shelf.pale, 3), (shelf.deep, 2)))
    text = promise_page.message(promise_page.show(answer), customer="Juniper", shop="Lantern Cove")
    assert "Hello Juniper," in text and "3 of the 5 bags" in text
    assert "Reed Eel, Pale, 3: 3 bags" in text and "Reed Eel, Deep, 3: 0 of 2 bags" in text
    assert text.endswith("Lantern Cove")


def test_a_shop_without_cups_pours_nothing():
    shelf = Shelf()
    Cup.objects.all().delete()
    assert bags(shelf.ask(shelf.order((shelf.pale, 1)))) == [(0, 0, 0, 1)]


def test_the_shelf_costs_the_same_queries_for_one_line_and_for_twelve(
    django_assert_max_num_queries,
):
    shelf = Shelf()

    def cost(order) -> int:
        with django_assert_max_num_queries(60) as seen:
            promises.ask(promises.of_order(order))
        return len(seen)

    shelf.order((shelf.deep, 1), ago=2)
    before = cost(shelf.order((shelf.pale, 2)))
    for number in range(6):
        dye = factories.make_item(name=f"Dye {number}")
        factories.make_lot(dye, 50)
        factories.make_recipe(f"Color {number}", grade=shelf.base, doses={dye: 1})
    many = [shelf.product(f"Color {number}") for number in range(6)]
    for product in many:
        _bagged(product, 1)
        shelf.order((product, 3), ago=1)
    assert (
        cost(shelf.order(*[(product, 2) for product in [shelf.pale, shelf.deep, *many]])) == before
    )


def test_a_shelf_of_no_products_is_a_shelf_too():
    assert promise_shelf.read([], _day(1)).shelf.products == {}


def _plan_tonight(product, count):
    plan = plans.make(wishes=[{"product": product.pk, "bags": count, "why": ""}], by=None)
    return plans.adopt(plan=plan, by=None)


def test_tonights_plan_takes_its_plastic_first_and_its_baits_count_as_loose():
    shelf = Shelf(moss=10, minutes=180)
    order = shelf.order((shelf.deep, 6))
    _plan_tonight(shelf.deep, 4)
    answer = shelf.ask(order, quick=True)
    # four shots are planned, 104 mL of the mix with 4 mL of moss to 100 of base, 4 mL of it spoken for
    there = sum(lot.amount for lot in answer.facts.shelf.items[str(shelf.moss.pk)].lots)
    assert there == pytest.approx(10 - 4 * 26 * 4 / 104, abs=0.2)
    (row,) = promise_page.show(answer).rows
    assert [(part.kind, part.bags) for part in row.parts] == [("planned", 4), ("short", 2)]
    # the plan fills tonight; with another evening the rest is poured too
    order.delete()
    assert shelf.ask(shelf.order((shelf.deep, 6), days=3), quick=True).promise.whole


def test_tonight_says_which_orders_its_pour_finishes(owner_client):
    shelf = Shelf(minutes=180)
    shelf.order((shelf.deep, 4), customer="First Vale")
    shelf.order((shelf.pale, 2), customer="Other Vale")
    page = owner_client.get(reverse("tonight")).content.decode()
    assert "pour finishes it" not in page
    _plan_tonight(shelf.deep, 4)
    page = owner_client.get(reverse("tonight")).content.decode()
    assert page.count("pour finishes it") == 1
    before, after = page.split("pour finishes it")
    assert "First Vale" in before and "Other Vale" in after
    assert "4 of them tonight" in page


def test_only_what_is_poured_tonight_is_finished_tonight(owner_client):
    shelf = Shelf(minutes=180)
    shelf.order((shelf.deep, 9), (shelf.pale, 1))
    _plan_tonight(shelf.deep, 9)
    assert "pour finishes it" not in owner_client.get(reverse("tonight")).content.decode()
