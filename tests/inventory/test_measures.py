"""An item's own measures: two pinches of this are not two pinches of that."""

from decimal import Decimal

import pytest
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from inventory import amounts, forms_base, measures, units
from inventory.models import Item, NamedMeasure
from inventory.services import named_measures
from production.forms import bench_amounts
from tests import factories
from tests.inventory.pages import page, queries_of

pytestmark = pytest.mark.django_db


def _pepper(**facts):
    flake = factories.make_flake("Pepper flake", **facts)
    named_measures.add(item=flake, name="pinch", quantity=factories.micro("0.2"))
    named_measures.add(item=flake, name="scoop", quantity=factories.micro("1.5"))
    return flake


def _url(item):
    return reverse("inventory:measures", args=[item.pk])


def _clean(text, item, **facts):
    return forms_base.AmountField(item=item, **facts).clean(text)


@pytest.mark.parametrize(
    ("said", "grams"),
    [
        ("2 pinches", "0.4"),
        ("1 pinch", "0.2"),
        ("a pinch", "0.2"),
        ("1½ scoops", "2.25"),
        ("3 Scoop", "4.5"),
        ("½ pinch", "0.1"),
    ],
)
def test_an_amount_of_one_item_may_be_said_in_its_own_measures(said, grams):
    typed = _clean(said, _pepper())
    assert typed.millionths == factories.micro(grams)
    assert (typed.said, typed.estimated) == (said, True)
    assert str(typed) == f"≈ {grams} g"


def test_a_unit_stays_exact_beside_them():
    typed = _clean("2 g", _pepper())
    assert (typed.millionths, typed.estimated) == (2_000_000, False)


def test_another_items_pinch_is_not_taken_for_it():
    _pepper()
    with pytest.raises(Exception, match="not a known unit"):
        _clean("2 pinches", factories.make_flake("Ember flake"))


def test_where_only_a_scale_will_do_an_estimate_is_refused():
    with pytest.raises(Exception, match="Weigh or measure it"):
        _clean("2 pinches", _pepper(), exact=True)


def test_more_pinches_than_can_be_kept_are_refused():
    with pytest.raises(Exception, match="too large"):
        _clean("999999999999 scoops", _pepper())


def test_a_handful_of_hooks_is_a_whole_number_of_them():
    hooks = factories.make_item("part", "Wide hook", "each")
    named_measures.add(item=hooks, name="handful", quantity=factories.micro(12))
    assert _clean("1/5 handful", hooks).millionths == factories.micro(2)


def test_at_the_bench_two_pinches_are_posted_as_an_estimate_of_what_they_hold():
    said = bench_amounts.understand("2 pinches", _pepper())
    assert said == bench_amounts.Said(factories.micro("0.4"), "2 pinches", guessed=True)
    mixed = bench_amounts.understand("1 g + a scoop", _pepper_again())
    assert mixed == bench_amounts.Said(factories.micro("2.5"), "1 g + a scoop", guessed=True)
    three = bench_amounts.understand("3 × 1 pinch", _pepper_again())
    assert three.millionths == factories.micro("0.6")


def _pepper_again():
    return Item.objects.get(name="Pepper flake")


def test_at_the_bench_a_measure_nobody_defined_is_still_kept_in_its_words():
    said = bench_amounts.understand("2 smidgens", _pepper())
    assert (said.millionths, said.guessed) == (0, True)


@given(count=st.integers(1, 60), name=st.sampled_from(["pinch", "squirt", "dash", "wood spoon"]))
def test_one_and_many_are_read_alike(count, name):
    amount = amounts.parse(f"{count} {measures.many(name)}", measures=[name])
    assert (amount.value, amount.unit) == (Decimal(count), name)
    assert amounts.parse(f"{count} {name}", measures=[name]).unit == name


def test_what_is_thrown_away_by_the_scoop_is_posted_in_those_words_as_an_estimate(
    owner_client, shop
):
    lot = factories.make_lot(_pepper(), 20)
    data = {"amount": "2 scoops", "reason": "spilled", "key": factories.key()}
    answer = owner_client.post(reverse("inventory:waste", args=[lot.pk]), data, follow=True)
    assert answer.status_code == 200
    moved = lot.movements.latest("pk")
    assert (moved.quantity, moved.said, moved.estimated) == (-3_000_000, "2 scoops", True)
    assert "≈ 2 scoops" in answer.content.decode()


def test_a_friends_scoop_is_received_as_an_estimate(owner_client, shop):
    flake = _pepper()
    url = f"{reverse('inventory:receive')}?item={flake.pk}"
    owner_client.post(url, {"amount": "a scoop", "key": factories.key()})
    moved = flake.lots.get().movements.get()
    assert (moved.quantity, moved.said, moved.estimated) == (1_500_000, "a scoop", True)


# --- The page --------------------------------------------------------------------


def test_an_empty_page_says_what_a_measure_is_for(owner_client, shop):
    text = page(owner_client, _url(factories.make_flake()))
    assert "None yet" in text
    assert "2 pinches" in text


def test_a_pinch_is_added_and_taken_away_again(owner_client, shop):
    flake = factories.make_flake(g_per_tsp=Decimal("3.2"))
    answer = owner_client.post(_url(flake), {"name": "pinch", "quantity": "1/8 tsp"}, follow=True)
    assert "2 pinches of Ember flake" in answer.content.decode()
    measure = flake.measures.get()
    # 3.2 g per teaspoon ÷ 8, by hand.
    assert measure.quantity == factories.micro("0.4")
    assert "≈ 0.4 g" in page(owner_client, _url(flake))
    assert "≈ 0.4 g" in page(owner_client, reverse("inventory:item", args=[flake.pk]))
    remove = reverse("inventory:measure_remove", args=[measure.pk])
    assert owner_client.get(remove).status_code == 405
    assert owner_client.post(remove).status_code == 302
    assert not NamedMeasure.objects.exists()
    assert owner_client.post(remove).status_code == 404


@pytest.mark.parametrize(
    ("data", "field", "words"),
    [
        ({"name": "cup"}, "name", "is a unit of its own already"),
        ({"name": "g"}, "name", "is a unit of its own already"),
        ({"name": "c"}, "name", "is a unit of its own already"),
        ({"name": "2 pinch"}, "name", "letters only"),
        ({"name": "pinches"}, "name", "has a pinch already"),
        ({"name": "PINCH"}, "name", "has a pinch already"),
        ({"name": "x" * 31}, "name", "at most 30"),
        ({"name": ""}, "name", "Fill this in"),
        ({"quantity": "1 tsp"}, "quantity", ""),
        ({"quantity": "0"}, "quantity", "more than zero"),
        ({"quantity": "NaN g"}, "quantity", ""),
    ],
)
def test_a_measure_that_could_not_be_understood_is_refused(owner_client, shop, data, field, words):
    flake = factories.make_item("flake", "Pepper flake", "g")
    named_measures.add(item=flake, name="pinch", quantity=factories.micro("0.2"))
    data = {"name": "dab", "quantity": "0.3 g"} | data
    response = owner_client.post(_url(flake), data)
    assert response.status_code == 422
    errors = response.context["form"].errors
    assert list(errors) == [field]
    assert words in errors[field][0]
    assert flake.measures.count() == 1


def test_the_stock_unit_stays_once_a_measure_counts_in_it(owner_client, shop):
    flake = _pepper()
    url = reverse("inventory:item_edit", args=[flake.pk])
    response = owner_client.post(url, {"name": flake.name, "stock_unit": "mL"})
    assert response.status_code == 422
    assert "stock_unit" in response.context["form"].errors


def test_only_the_owner_names_measures(owner_client, helper_client, shop):
    flake = _pepper()
    assert helper_client.get(_url(flake)).status_code == 403
    remove = reverse("inventory:measure_remove", args=[flake.measures.first().pk])
    assert helper_client.post(remove).status_code == 403
    assert flake.measures.count() == 2


def test_more_measures_take_no_more_queries(owner_client, shop):
    flake = factories.make_flake()
    for letter in "abcdefghij":
        named_measures.add(item=flake, name=f"spoon {letter}", quantity=units.MICRO)
    ten = queries_of(owner_client, _url(flake))
    on_item = queries_of(owner_client, reverse("inventory:item", args=[flake.pk]))
    for letter in "klmnopqrst":
        named_measures.add(item=flake, name=f"spoon {letter}", quantity=units.MICRO)
    assert queries_of(owner_client, _url(flake)) == ten
    assert queries_of(owner_client, reverse("inventory:item", args=[flake.pk])) == on_item
