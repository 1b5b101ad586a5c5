"""How much hot plastic shrinks: read twice, or weighed; and what a cup weighs empty."""

from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from production import batch_plan, dose_table, hot_cold
from production.models import Bench, Cup
from production.services import gear
from tests import factories

MEASURES = "production:bench"
GUIDE = "production:hot_factor"


def test_a_cup_that_read_200_hot_and_182_cold_gives_0_91():
    assert hot_cold.by_reading(Decimal(200), Decimal(182)) == Decimal("0.910")


def test_weighing_it_gives_the_same_as_letting_it_cool():
    # 187.46 g of plastic of 1.03 g/mL are 182 mL cold, by hand.
    assert hot_cold.by_weight(Decimal(200), Decimal("187.46"), Decimal("1.03")) == Decimal("0.910")


@given(
    st.decimals("50", "400", places=1), st.decimals("0.7", "1", places=3), st.decimals("0.9", "1.2")
)
def test_both_ways_agree_on_any_cup(hot_ml, factor, density):
    cold_ml = hot_ml * factor
    read = hot_cold.by_reading(hot_ml, cold_ml)
    assert abs(read - factor) <= Decimal("0.0005")
    assert abs(hot_cold.by_weight(hot_ml, cold_ml * density, density) - read) <= Decimal("0.001")


@pytest.mark.parametrize(
    ("hot_ml", "cold_ml", "words"),
    [("182", "200", "swapped"), ("200", "90", "poured out"), ("0", "90", "more than nothing")],
)
def test_readings_that_no_plastic_gives_are_refused(hot_ml, cold_ml, words):
    with pytest.raises(hot_cold.HotColdError, match=words):
        hot_cold.by_reading(Decimal(hot_ml), Decimal(cold_ml))


def send(client, name, data, *args, status=302):
    response = client.post(reverse(name, args=args), data)
    assert response.status_code == status, response.content.decode()
    return response


@pytest.mark.django_db
def test_until_somebody_measures_it_the_usual_figure_is_used(owner_client, shop):
    text = owner_client.get(reverse(MEASURES)).content.decode()
    assert "0.91" in text
    assert "not measured here yet" in text
    assert not Bench.objects.exists()


@pytest.mark.django_db
def test_one_cup_read_hot_and_cold_measures_the_factor(owner_client, shop):
    response = send(owner_client, GUIDE, {"hot_ml": "1 US cup", "way": "read", "cold_ml": "213 mL"})
    assert response.url == reverse(MEASURES)
    bench = Bench.ours()
    # 213 / 236.5882365 = 0.9003, by hand; the US cup: NIST Handbook 44, appendix C.
    assert bench.hot_factor == Decimal("0.900")
    assert bench.hot_factor_measured_on == timezone.localdate()
    assert "measured" in owner_client.get(reverse(GUIDE)).content.decode()


@pytest.mark.django_db
def test_a_weighed_cup_measures_the_factor_too(owner_client, shop):
    cup = Cup.objects.create(number=3, tare_g=Decimal("112.54"))
    grade = factories.make_plastisol()
    data = {"hot_ml": "200", "way": "weigh", "grams": "300", "cup": cup.pk, "grade": grade.pk}
    send(owner_client, GUIDE, data)
    assert Bench.ours().hot_factor == Decimal("0.910")  # (300 − 112.54) / 1.03 / 200, by hand


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("data", "field", "words"),
    [
        ({"cold_ml": ""}, "cold_ml", "once it was cold"),
        ({"cold_ml": "250"}, "cold_ml", "swapped"),
        ({"cold_ml": "50 g"}, "cold_ml", "Write a volume"),
        ({"hot_ml": ""}, "hot_ml", "Fill this in"),
        ({"hot_ml": "NaN"}, "hot_ml", "not an amount"),
        ({"way": "weigh"}, "grams", "What does it weigh?"),
        ({"way": "weigh", "grams": "200"}, "grade", "Choose the plastisol"),
        ({"way": "guess"}, "way", "valid choice"),
    ],
)
def test_what_is_missing_is_said_at_its_field_and_nothing_is_kept(
    owner_client, shop, data, field, words
):
    data = {"hot_ml": "200", "way": "read", "cold_ml": "182"} | data
    response = send(owner_client, GUIDE, data, status=422)
    assert words in response.context["form"].errors[field][0]
    assert not Bench.objects.exists()


@pytest.mark.django_db
def test_a_cup_lighter_than_its_own_empty_weight_is_refused(owner_client, shop):
    cup = Cup.objects.create(number=3, tare_g=Decimal("112.5"))
    grade = factories.make_plastisol()
    data = {"hot_ml": "200", "way": "weigh", "grams": "100", "cup": cup.pk, "grade": grade.pk}
    response = send(owner_client, GUIDE, data, status=422)
    assert "alone weighs 112.5 g" in response.context["form"].errors["grams"][0]


@pytest.mark.django_db
def test_the_scale_and_a_factor_by_hand_are_kept(owner_client, shop):
    gear.save_bench(hot_factor=Decimal("0.9"), measured_on=timezone.localdate())
    send(owner_client, MEASURES, {"hot_factor": "0.9", "scale_step_g": "0.01 g"})
    bench = Bench.ours()
    assert bench.scale_step_g == Decimal("0.01")
    assert bench.hot_factor_measured_on, "the same factor stays a measured one"
    send(owner_client, MEASURES, {"hot_factor": "0.93", "scale_step_g": "0.01 g"})
    bench = Bench.ours()
    assert (bench.hot_factor, bench.hot_factor_measured_on) == (Decimal("0.93"), None)


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("data", "field", "words"),
    [
        ({"hot_factor": "1.1"}, "hot_factor", "at most 1"),
        ({"hot_factor": "0.5"}, "hot_factor", "at least 0.7"),
        ({"hot_factor": "0,9"}, "hot_factor", "Write 0.9 with a point"),
        ({"scale_step_g": "1 lb"}, "scale_step_g", "more than 10 g"),
        ({"scale_step_g": "0"}, "scale_step_g", "above 0"),
    ],
)
def test_a_bench_that_cannot_be_is_refused_at_its_field(owner_client, shop, data, field, words):
    data = {"hot_factor": "0.9", "scale_step_g": "0.1"} | data
    response = send(owner_client, MEASURES, data, status=422)
    assert words in response.context["form"].errors[field][0]
    assert not Bench.objects.exists()


@pytest.mark.django_db
def test_an_empty_cup_is_weighed(owner_client, shop):
    cup = factories.make_cup(4)
    page = reverse("production:cup_tare", args=[cup.pk])
    assert page in owner_client.get(reverse("production:cups")).content.decode()
    assert "never weighed" in owner_client.get(page).content.decode()
    send(owner_client, "production:cup_tare", {"tare_g": "4 oz"}, cup.pk)
    cup.refresh_from_db()
    assert cup.tare_g == Decimal("113.40")  # 4 × 28.349523125 g: NIST Handbook 44, appendix C
    send(owner_client, "production:cup_tare", {"tare_g": "1 tsp"}, cup.pk, status=422)
    send(owner_client, "production:cup_tare", {"tare_g": "4 oz"}, 999, status=404)


@pytest.mark.django_db
@pytest.mark.parametrize("name", [MEASURES, GUIDE, "production:injectors"])
def test_a_helper_does_not_change_how_the_bench_measures(helper_client, shop, name):
    assert helper_client.get(reverse(name)).status_code == 403
    assert helper_client.post(reverse(name), {}).status_code == 403


@pytest.mark.django_db
def test_doses_are_rounded_to_the_shops_own_scale():
    # 0.37 g in 100 mL: a scale of 0.1 g makes 0.4 of it, one of 0.01 g makes it exactly.
    flake = factories.make_flake()
    version = factories.make_recipe(grade=factories.make_plastisol(), doses={flake: 0.37})
    ways = []
    for step in ("0.1", "0.01"):
        gear.save_bench(scale_step_g=Decimal(step))
        measured = dose_table.measured(version, Decimal(100))[0]
        planned = batch_plan.plan(version, factories.micro(100)).doses[0].measures[0].text
        ways.append((measured.by_hand, planned))
    assert ways == [("0.4 g", "0.4 g"), ("0.37 g", "0.37 g")]
