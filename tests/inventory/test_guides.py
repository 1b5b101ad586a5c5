"""Two minutes on the bench: a spoon of flake, the density of a bottle."""

from decimal import Decimal

import pytest
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from inventory import measuring, units
from tests import factories
from tests.inventory.pages import page, queries_of

TSP = units.TEASPOON_ML


def test_a_level_teaspoon_weighs_what_the_scale_says():
    weighed = measuring.spoon_weight([Decimal("3.1")], TSP)
    assert (weighed.g_per_tsp, weighed.spread, weighed.readings) == (Decimal("3.1"), 0, 1)


def test_three_readings_are_averaged_and_their_spread_is_told():
    weighed = measuring.spoon_weight([Decimal("2.9"), Decimal("3.0"), Decimal("3.1")], TSP)
    assert weighed.g_per_tsp == Decimal("3")
    assert round(weighed.spread, 4) == Decimal("0.0667")  # 0.2 / 3.0, by hand
    assert not weighed.doubtful
    assert measuring.spoon_weight([Decimal(2), Decimal(3)], TSP).doubtful


@pytest.mark.parametrize(("spoon_ml", "times"), [(TSP / 4, 4), (TSP * 3, Decimal(1) / 3)])
def test_any_spoon_gives_the_weight_of_a_teaspoon(spoon_ml, times):
    weighed = measuring.spoon_weight([Decimal("0.75")], spoon_ml)
    assert abs(weighed.g_per_tsp - Decimal("0.75") * times) <= Decimal("0.000001")


def test_a_metric_spoon_of_five_ml_is_a_little_more_than_a_us_teaspoon():
    # The US teaspoon is 4.92892159375 mL: NIST Handbook 44, appendix C. 3 × 4.92892… / 5.
    assert measuring.spoon_weight([Decimal(3)], Decimal(5)).g_per_tsp == Decimal("2.957353")


@given(
    st.lists(st.decimals("0.01", "50", places=2), min_size=1, max_size=3),
    st.decimals("0.5", "15", places=2),
)
def test_a_mean_lies_among_its_readings(grams, spoon_ml):
    try:
        weighed = measuring.spoon_weight(grams, spoon_ml)
    except measuring.MeasuringError:
        return
    back = weighed.g_per_tsp * spoon_ml / TSP
    slack = Decimal("0.00001")
    assert min(grams) - slack <= back <= max(grams) + slack
    assert weighed.spread >= 0


@pytest.mark.parametrize(
    ("grams", "spoon", "words"),
    [([], 5, "at least one"), (["0"], 5, "more than nothing"), (["3"], 0, "spoon holds")],
)
def test_no_spoon_is_weighed_out_of_nothing(grams, spoon, words):
    with pytest.raises(measuring.MeasuringError, match=words):
        measuring.spoon_weight([Decimal(gram) for gram in grams], Decimal(spoon))


def test_a_density_is_the_weight_of_what_is_in_the_syringe():
    # 10 mL of water at 20 °C weigh 9.98 g (0.998 g/mL, from memory).
    assert measuring.density(Decimal("18.08"), Decimal("8.10"), Decimal(10)) == Decimal("0.998")


@pytest.mark.parametrize(
    ("full", "empty", "ml", "words"),
    [("5", "5", "1", "weigh more than empty"), ("5", "1", "0", "more than nothing")],
)
def test_a_syringe_that_got_no_heavier_has_no_density(full, empty, ml, words):
    with pytest.raises(measuring.MeasuringError, match=words):
        measuring.density(Decimal(full), Decimal(empty), Decimal(ml))


# --- The pages -------------------------------------------------------------------


def spoon_url(item):
    return reverse("inventory:spoon", args=[item.pk])


def density_url(item):
    return reverse("inventory:density", args=[item.pk])


def send(client, url, data, status=302):
    response = client.post(url, data, follow=status == 302)
    assert response.status_code == (200 if status == 302 else status)
    return response.content.decode()


@pytest.mark.django_db
def test_an_items_page_leads_its_owner_to_what_can_be_measured_of_it(
    owner_client, helper_client, shop
):
    flake, base = factories.make_flake(), factories.make_plastisol()
    text = page(owner_client, reverse("inventory:item", args=[flake.pk]))
    assert spoon_url(flake) in text
    assert density_url(flake) not in text
    assert density_url(base) in page(owner_client, reverse("inventory:item", args=[base.pk]))
    assert spoon_url(flake) not in page(helper_client, reverse("inventory:item", args=[flake.pk]))
    page(owner_client, spoon_url(base), status=404)
    page(owner_client, density_url(flake), status=404)
    assert helper_client.get(spoon_url(flake)).status_code == 403
    assert helper_client.post(density_url(base), {}).status_code == 403


@pytest.mark.django_db
def test_three_quarter_spoons_are_kept_as_the_weight_of_a_teaspoon(owner_client, shop):
    flake = factories.make_flake()
    data = {"spoon": "¼ tsp", "reading_1": "0.78", "reading_2": "0.74", "reading_3": "0.76"}
    text = send(owner_client, spoon_url(flake), data)
    flake.refresh_from_db()
    assert flake.g_per_tsp == Decimal("3.04")  # (0.78 + 0.74 + 0.76) / 3 × 4, by hand
    assert "weighs 3.04 g: the mean of 3, 5 % apart" in text
    assert "taken for 3.04 g now" in page(owner_client, spoon_url(flake))


@pytest.mark.django_db
def test_readings_far_apart_are_asked_about_and_may_be_kept(owner_client, shop):
    flake = factories.make_flake()
    data = {"spoon": "1 tsp", "reading_1": "2", "reading_2": "3"}
    text = send(owner_client, spoon_url(flake), data, 422)
    assert "2 to 3 g, 40 % apart" in text
    flake.refresh_from_db()
    assert flake.g_per_tsp is None
    send(owner_client, spoon_url(flake), data | {"really": "on"})
    flake.refresh_from_db()
    assert flake.g_per_tsp == Decimal("2.5")


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("data", "field", "words"),
    [
        ({"spoon": "2 g"}, "spoon", "Write a volume"),
        ({"spoon": "3 drops"}, "spoon", "Write a volume"),
        ({"spoon": "0"}, "spoon", "above 0"),
        ({"reading_1": ""}, "reading_1", "Fill this in"),
        ({"reading_2": "3,1"}, "reading_2", "Write 3.1 with a point"),
        ({"reading_1": "900"}, "reading_1", "nothing here does"),
    ],
)
def test_a_spoon_that_makes_no_sense_is_said_at_its_field(owner_client, shop, data, field, words):
    flake = factories.make_flake()
    data = {"spoon": "1 tsp", "reading_1": "3.1"} | data
    response = owner_client.post(spoon_url(flake), data)
    assert response.status_code == 422
    assert words in response.context["form"].errors[field][0]
    flake.refresh_from_db()
    assert flake.g_per_tsp is None


@pytest.mark.django_db
def test_a_weighed_syringe_gives_the_density(owner_client, shop):
    base = factories.make_item("plastisol", "Soft base")
    text = send(owner_client, density_url(base), {"ml": "50", "empty_g": "12.5", "full_g": "64"})
    base.refresh_from_db()
    assert base.density_g_per_ml == Decimal("1.03")  # 51.5 g / 50 mL, by hand
    assert "The density of Soft base is 1.030 g/mL" in text


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("data", "field", "words"),
    [
        ({"full_g": "12"}, "full_g", "weigh more than empty"),
        ({"full_g": "5000"}, "full_g", "Divide the weight by the volume"),
        ({"full_g": "400"}, "full_g", "as dense as metal"),
        ({"ml": "50 g"}, "ml", "Write a volume"),
        ({"empty_g": "-1"}, "empty_g", "less than zero"),
    ],
)
def test_a_density_that_makes_no_sense_is_said_at_its_field(owner_client, shop, data, field, words):
    base = factories.make_item("plastisol", "Soft base")
    data = {"ml": "50", "empty_g": "12.5", "full_g": "64"} | data
    response = owner_client.post(density_url(base), data)
    assert response.status_code == 422
    assert words in response.context["form"].errors[field][0]
    base.refresh_from_db()
    assert base.density_g_per_ml is None


@pytest.mark.django_db
def test_a_guide_takes_as_many_queries_however_many_bottles_there_are(owner_client, shop):
    flake = factories.make_flake()
    for _ in range(10):
        factories.make_lot(flake, 5)
    ten = queries_of(owner_client, spoon_url(flake))
    for _ in range(10):
        factories.make_lot(flake, 5)
    assert queries_of(owner_client, spoon_url(flake)) == ten
