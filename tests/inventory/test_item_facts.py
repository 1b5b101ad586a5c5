"""Every bottle as it is: the facts of an item, in the words of its data sheet."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from inventory import density, flake_sizes, temperature
from inventory.models import Item
from inventory.services import catalog
from tests import factories
from tests.inventory.pages import page

NEW = reverse("inventory:item_new")


def send(client, kind, status=302, **facts):
    facts = {"name": "Copper dusk", "stock_unit": "mL", **facts}
    response = client.post(f"{NEW}?kind={kind}", facts)
    assert response.status_code == status, response.content.decode()
    return response


# --- Heat ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("said", "celsius"),
    [
        # (350 − 32) × 5/9 = 176.67, by hand: NIST SP 811 B.8.
        ("350 F", "176.7"),
        ("350°F", "176.7"),
        ("177 °C", "177.0"),
        ("176.7 c", "176.7"),
        ("350 degrees Fahrenheit", "176.7"),
    ],
)
def test_a_temperature_is_read_in_either_scale(said, celsius):
    assert temperature.parse(said) == Decimal(celsius)


@given(st.integers(min_value=-58, max_value=752))
def test_a_whole_degree_in_either_scale_reads_back_as_it_was_written(degrees):
    kept = temperature.parse(f"{degrees} F")
    assert temperature.show(kept).startswith(f"{degrees} °F")
    assert temperature.parse(temperature.as_typed(kept)) == kept
    if -50 <= degrees <= 400:
        kept = temperature.parse(f"{degrees} C")
        assert temperature.as_typed(kept) == f"{degrees} °C"


def test_a_number_without_its_scale_is_asked_about_with_both_readings():
    with pytest.raises(temperature.TemperatureError, match="350 °F is 177 °C; 350 °C is 662 °F"):
        temperature.parse("350")


@pytest.mark.parametrize(
    ("said", "question"),
    [
        ("350 C", "Was it 350 °F, which is 177 °C"),
        ("177 F", "Was it 177 °C, which is 351 °F"),
        ("20 C", "no usual limit"),
        ("350 F", ""),
        ("185 C", ""),
    ],
)
def test_a_limit_in_the_other_scale_is_asked_about(said, question):
    asked = temperature.doubt(temperature.parse(said))
    assert (question in asked) if question else asked == ""


# --- Flake -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("inches", "mm"),
    # The trade's inch sizes; mm = in × 25.4, calculated.
    [
        (".004", "0.1"),
        (".008", "0.2"),
        (".015", "0.38"),
        (".025", "0.64"),
        (".035", "0.89"),
        (".040", "1.02"),
        (".062", "1.57"),
        (".094", "2.39"),
    ],
)
def test_flake_sizes_in_inches_and_mm_agree(inches, mm):
    kept = flake_sizes.parse(f"{inches} in")
    assert flake_sizes.show(kept).endswith(f"· {mm} mm")
    assert flake_sizes.show(kept, "metric").startswith(f"{mm} mm")
    # The mm figure is the inch size rounded to a hundredth of a mm, 0.0004 in.
    assert abs(flake_sizes.parse(f"{mm} mm") - kept) <= Decimal("0.0002")
    assert flake_sizes.doubt(kept) == ""


@given(st.integers(min_value=1, max_value=30))
def test_a_tenth_of_a_mm_reads_back_as_it_was_written(tenths):
    kept = flake_sizes.parse(f"{tenths / 10} mm")
    assert flake_sizes.parse(flake_sizes.as_typed(kept)) == kept
    assert f"{tenths / 10:.1f}".removesuffix(".0") + " mm" in flake_sizes.show(kept)


@pytest.mark.parametrize("text", ['.035"', "0.035 in.", "0.035 inches", "0.89 mm"])
def test_a_flake_is_measured_in_any_spelling(text):
    assert flake_sizes.parse(text) == Decimal("0.0350")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("0.035", "0.035 in is 0.89 mm; 0.035 mm is 0.0014 in"),
        ("fine", "Write it as 0.035 in or 0.9 mm"),
        ("2 in", "A flake is between"),
        ("0,9 mm", "Write 0.9 with a point"),
        ("-1 mm", "less than zero"),
    ],
)
def test_a_size_that_is_not_clear_is_told_how_to_write_it(text, words):
    with pytest.raises(flake_sizes.FlakeSizeError, match=words):
        flake_sizes.parse(text)


def test_a_size_in_the_wrong_unit_is_asked_about():
    assert "Was it 0.9 mm, which is 0.0354 in" in flake_sizes.doubt(Decimal("0.9"))
    assert "Was it meant in inches?" in flake_sizes.doubt(flake_sizes.parse("0.035 mm"))


# --- Density ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("written", "words"),
    [("50", "Divide the weight by the volume"), ("1030", "1030 kg/m³ is 1.03 g/mL")],
)
def test_a_density_that_nothing_has_is_told_how_to_mend_it(written, words):
    assert words in density.too_dense(Decimal(written))


def test_pounds_per_gallon_are_recognized():
    # 8.6 × 453.59237 g / 3785.411784 mL = 1.0305, by hand: NIST HB 44 appendix C.
    assert "8.6 lb/gal is 1.031 g/mL" in density.doubt(Decimal("8.6"))
    assert density.doubt(Decimal("2.165")) == ""


# --- The form --------------------------------------------------------------------


@pytest.mark.django_db
def test_all_that_the_data_sheet_says_of_a_plastisol_is_kept_and_shown(owner_client, shop):
    send(
        owner_client,
        "plastisol",
        density_g_per_ml="1.03",
        hardness="30",
        hardness_scale="shore 00",
        heat_limit_c="350 F",
        melt_limit="4",
        shelf_life_days="365",
        hazards="May give off acid gas when scorched.",
    )
    item = Item.objects.get()
    assert item.heat_limit_c == Decimal("176.7")
    text = page(owner_client, reverse("inventory:item", args=[item.pk]))
    assert "30 Shore 00" in text
    assert "350 °F · 177 °C" in text
    assert "365 days" in text
    assert "May give off acid gas" in text
    shop.units = "metric"
    shop.save()
    text = page(owner_client, reverse("inventory:item", args=[item.pk]))
    assert "177 °C · 350 °F" in text


@pytest.mark.django_db
def test_all_that_is_known_of_a_flake_is_kept_and_shown(owner_client, shop):
    send(
        owner_client,
        "flake",
        g_per_tsp="3.1",
        flake_size_in="0.9 mm",
        flake_shape="hexagon",
        heat_limit_c="230 °C",
    )
    item = Item.objects.get()
    assert (item.stock_unit, item.flake_size_in) == ("mL", Decimal("0.0354"))
    text = page(owner_client, reverse("inventory:item", args=[item.pk]))
    assert "0.0354 in · 0.9 mm" in text
    assert "hexagon" in text
    form = page(owner_client, reverse("inventory:item_edit", args=[item.pk]))
    assert 'value="0.9 mm"' in form
    assert 'value="230 °C"' in form
    assert "mL of spoon volume" in form


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("field", "text", "words"),
    [
        ("density_g_per_ml", "50", "Divide the weight by the volume"),
        ("heat_limit_c", "350", "350 °F is 177 °C; 350 °C is 662 °F"),
        ("heat_limit_c", "hot", "Write a number and F or C"),
        ("heat_limit_c", "900 C", "no temperature of this bench"),
        ("heat_limit_c", "1e9 F", "without the e"),
        ("melt_limit", "0", "at least 1"),
        ("shelf_life_days", "1.5", "whole number"),
        ("hardness_scale", "shore D", "valid choice"),
    ],
)
def test_what_is_wrong_is_said_at_its_field_and_nothing_is_kept(owner_client, field, text, words):
    response = send(owner_client, "plastisol", 422, **{field: text}, notes="jug 2")
    errors = response.context["form"].errors
    assert list(errors) == [field]
    assert words in errors[field][0]
    assert "jug 2" in response.content.decode()
    assert not Item.objects.exists()


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("kind", "field", "text", "kept"),
    [
        ("plastisol", "heat_limit_c", "350 C", "350"),
        ("plastisol", "density_g_per_ml", "8.6", "8.6"),
        ("flake", "flake_size_in", "0.9 in", "0.9"),
    ],
)
def test_an_unlikely_figure_is_a_question_that_can_be_answered(
    owner_client, kind, field, text, kept
):
    response = send(owner_client, kind, 422, **{field: text})
    assert "Yes, really" in response.context["form"].errors[field][0]
    assert 'name="really"' in response.content.decode()
    assert not Item.objects.exists()
    send(owner_client, kind, **{field: text}, really="on")
    item = Item.objects.get()
    assert getattr(item, field) == Decimal(kept)
    # Once answered it is not asked again when something else is changed.
    url = reverse("inventory:item_edit", args=[item.pk])
    again = {"name": "Copper dawn", "stock_unit": "mL", field: text}
    assert owner_client.post(url, again).status_code == 302


@pytest.mark.django_db
def test_a_scale_without_its_number_is_asked_for_the_number(owner_client):
    response = send(owner_client, "plastisol", 422, hardness_scale="shore 00")
    assert "number or word" in response.context["form"].errors["hardness"][0]


@pytest.mark.django_db
def test_a_receipt_proposes_when_it_expires(owner_client, shop):
    item = factories.make_plastisol(shelf_life_days=365)
    url = f"{reverse('inventory:receive')}?item={item.pk}"
    today = timezone.localdate()
    due = today + timedelta(days=365)
    text = page(owner_client, url)
    assert f'value="{due:%Y-%m-%d}"' in text
    assert "keeps for 365 days" in text
    facts = {"amount": "1 gal", "key": factories.key(), "expires_on": f"{due}"}
    # Received four days ago: the proposal, left as it stood, goes back by four days too.
    ago = today - timedelta(days=4)
    assert owner_client.post(url, facts | {"received_on": f"{ago}"}).status_code == 302
    assert item.lots.get().expires_on == due - timedelta(days=4)


@pytest.mark.django_db
def test_the_label_goes_before_the_proposal_and_may_say_nothing(owner_client, shop):
    item = factories.make_plastisol(shelf_life_days=365)
    url = f"{reverse('inventory:receive')}?item={item.pk}"
    for typed, kept in [("2031-05-01", "2031-05-01"), ("", "None")]:
        facts = {"amount": "1 gal", "key": factories.key(), "expires_on": typed}
        assert owner_client.post(url, facts).status_code == 302
        assert str(item.lots.latest("pk").expires_on) == kept


@pytest.mark.django_db
def test_a_fact_that_is_not_known_is_no_fact_of_an_item():
    with pytest.raises(TypeError, match="smell"):
        catalog.add_item(kind="additive", name="Scent", stock_unit="mL", smell="strong")


# --- The weight of one piece ------------------------------------------------------


def test_one_pouch_weighs_what_ten_do_by_ten(owner_client):
    pouch = factories.make_item("packaging", "Clear pouch", "each")
    url = reverse("inventory:piece", args=[pouch.pk])
    answer = owner_client.post(url, {"count": "10", "together_g": "24.35"}, follow=True)
    assert "One Clear pouch weighs 2.435 g" in answer.content.decode()
    pouch.refresh_from_db()
    assert pouch.weight_g == Decimal("2.435")


@pytest.mark.parametrize(
    ("count", "grams", "reason"),
    [("0", "3", "at least 1"), ("10", "", "required"), ("10000", "0.01", "weighs too little")],
)
def test_a_weight_that_makes_no_sense_is_asked_for_again(owner_client, count, grams, reason):
    pouch = factories.make_item("packaging", "Clear pouch", "each")
    url = reverse("inventory:piece", args=[pouch.pk])
    answer = owner_client.post(url, {"count": count, "together_g": grams})
    assert answer.status_code == 422 and reason in answer.content.decode()


def test_what_is_poured_has_no_weight_of_one(owner_client):
    base = factories.make_plastisol()
    assert owner_client.get(reverse("inventory:piece", args=[base.pk])).status_code == 404


def test_a_hook_keeps_its_weight_on_its_form(owner_client):
    send(owner_client, "part", stock_unit="each", name="Wide hook", weight_g="1.25")
    assert Item.objects.get(name="Wide hook").weight_g == Decimal("1.25")
    send(owner_client, "part", 422, stock_unit="each", name="Other hook", weight_g="-1")
