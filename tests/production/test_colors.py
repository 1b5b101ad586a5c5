"""The pages of colors: the grid of chips, recipes, laminates."""

from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from production.models import Layer, Pattern, Recipe, RecipeVersion
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def grade():
    return factories.make_plastisol()


@pytest.fixture
def green():
    return factories.make_item(
        "colorant", "Marsh green", ml_per_drop=Decimal("0.05"), color="#2f6b3a", color_kind="dye"
    )


@pytest.fixture
def version(grade, green):
    return factories.make_recipe(grade=grade, doses={green: 1.5, factories.make_flake(): 0.4})


def url(name, *args):
    return reverse(f"production:{name}", args=args)


def typed(grade, **changes):
    """A recipe form as the browser sends it, empty lines and all."""
    data = {"name": "Dusk Clay", "grade": str(grade.pk), "reference": "1 US cup", "notes": ""}
    for line in range(8):
        data |= {f"dose-{line}-item": "", f"dose-{line}-amount": ""}
    return data | changes


def test_empty_shelf_of_colors_says_what_to_do(owner_client):
    page = owner_client.get(url("colors"))
    assert "Write down your first recipe" in page.content.decode()


def test_colors_show_a_chip_for_each_pattern(owner_client, version):
    page = owner_client.get(url("colors")).content.decode()
    assert "Marsh Lantern" in page
    assert page.count('viewBox="0 0 48 48"') == 1


def test_colors_are_found_by_what_is_in_them(owner_client, version, grade):
    factories.make_recipe("Pale Reed", grade=grade, doses={})
    page = owner_client.get(url("colors"), {"q": "marsh GREEN"}).content.decode()
    assert "Marsh Lantern" in page
    assert "Pale Reed" not in page


def test_search_without_a_hit_offers_all_colors(owner_client, version):
    page = owner_client.get(url("colors"), {"q": "<b>nothing"}).content.decode()
    assert "No color has “&lt;b&gt;nothing”" in page


def count_queries(client, address):
    with CaptureQueriesContext(
        connection,
    ) as queries:
        assert client.get(address).status_code == 200
    return len(queries)


def test_ten_more_colors_cost_no_more_queries(owner_client, version, grade, green):
    few = count_queries(owner_client, url("colors"))
    for number in range(10):
        other = factories.make_recipe(f"Reed {number}", grade=grade, doses={green: 1})
        factories.make_laminate(f"Two {number}", [version, other], [600_000, 400_000])
    assert count_queries(owner_client, url("colors")) == few


def test_more_versions_and_patterns_cost_the_recipe_page_no_more_queries(
    owner_client, version, grade, green
):
    address = url("recipe", version.recipe_id)
    few = count_queries(owner_client, address)
    for number in range(2, 6):
        following = RecipeVersion.objects.create(
            recipe=version.recipe, number=number, grade=grade, reference_ml=100
        )
        following.doses.create(item=green, amount=number, unit="mL", quantity=number * 1_000_000)
        factories.make_laminate(f"Two {number}", [version, following], [600_000, 400_000])
    assert count_queries(owner_client, address) == few


def test_recipe_page_scales_doses_to_100_mL_and_a_us_cup(owner_client, version):
    page = owner_client.get(url("recipe", version.recipe_id)).content.decode()
    assert "1.5 mL" in page
    # NIST HB 44 appendix C: a US cup is 236.588 mL; 1.5 × 2.36588 = 3.549, shown to the hundredth
    assert "3.55 mL" in page


def test_recipe_page_measures_a_batch_in_drops(owner_client, version):
    page = owner_client.get(url("recipe", version.recipe_id), {"base": "30 mL"})
    # 1.5 mL per 100 mL in 30 mL is 0.45 mL: nine drops of 0.05 mL
    assert "9 drops" in page.content.decode()


def test_recipe_page_asks_again_for_a_base_it_cannot_read(owner_client, version):
    page = owner_client.get(url("recipe", version.recipe_id), {"base": "a lot"})
    assert page.status_code == 422
    assert "a lot" in page.content.decode()


@pytest.mark.parametrize("name", ["recipe", "recipe_revise", "pattern"])
def test_unknown_color_is_not_found(owner_client, name):
    assert owner_client.get(url(name, 404_404)).status_code == 404


@pytest.mark.parametrize("name", ["colors"])
def test_colors_are_only_read(owner_client, name):
    assert owner_client.post(url(name)).status_code == 405


def test_recipe_is_kept_as_typed(owner_client, grade, green):
    data = typed(grade, **{"dose-1-item": str(green.pk), "dose-1-amount": "1½ tsp"})
    answer = owner_client.post(url("recipe_new"), data)
    recipe = Recipe.objects.get(name="Dusk Clay")
    assert answer.url == url("recipe", recipe.pk)
    dose = recipe.versions.get().doses.get()
    assert (dose.amount, dose.unit) == (Decimal("1.5"), "tsp")
    assert "1½ tsp" in owner_client.get(answer.url).content.decode()


def test_dose_that_cannot_be_converted_is_refused_at_its_line(owner_client, grade, green):
    blue = factories.make_item("colorant", "Plain blue")
    lines = {
        "dose-0-item": str(green.pk),
        "dose-0-amount": "3 drops",
        "dose-2-item": str(blue.pk),
        "dose-2-amount": "12 drops",
    }
    page = owner_client.post(url("recipe_new"), typed(grade, **lines))
    assert page.status_code == 422
    rows = page.context["rows"].forms
    assert "size of a drop" in rows[2].errors["amount"][0]
    assert not rows[0].errors
    assert 'value="12 drops"' in page.content.decode()
    assert not Recipe.objects.exists()


def test_same_item_twice_is_refused_at_the_second_line_even_after_an_empty_one(
    owner_client, grade, green
):
    lines = {
        f"dose-{line}-{field}": value
        for line in (0, 2)
        for field, value in (("item", str(green.pk)), ("amount", "1 mL"))
    }
    page = owner_client.post(url("recipe_new"), typed(grade, **lines))
    assert page.status_code == 422
    assert "already in this recipe" in page.context["rows"].forms[2].errors["item"][0]


@pytest.mark.parametrize("amount", ["NaN", "1e309", "1,5 mL", "-1 mL", "0 mL", "", "some"])
def test_amount_that_is_none_is_refused_and_kept_as_typed(owner_client, grade, green, amount):
    lines = {"dose-0-item": str(green.pk), "dose-0-amount": amount}
    page = owner_client.post(url("recipe_new"), typed(grade, **lines))
    assert page.status_code == 422
    assert "amount" in page.context["rows"].forms[0].errors
    if amount:
        assert f'value="{amount}"' in page.content.decode()


@pytest.mark.parametrize("reference", ["", "12", "3 drops", "5 g", "0 mL"])
def test_reference_that_is_no_volume_is_refused_at_its_field(owner_client, grade, reference):
    page = owner_client.post(url("recipe_new"), typed(grade, reference=reference))
    assert page.status_code == 422
    assert "reference" in page.context["form"].errors


def test_taken_name_is_refused_at_the_name(owner_client, version, grade):
    page = owner_client.post(url("recipe_new"), typed(grade, name="marsh lantern"))
    assert page.status_code == 422
    assert "already a recipe called" in page.context["form"].errors["name"][0]


def test_change_form_starts_with_the_newest_doses(owner_client, version):
    page = owner_client.get(url("recipe_revise", version.recipe_id)).content.decode()
    assert 'value="1.5 mL"' in page
    assert 'value="100 mL"' in page


def revised(version, grade, **changes):
    data = typed(grade, version=str(version.pk), reference="100 mL", **changes)
    del data["name"]
    return data


def test_poured_version_stays_and_the_next_is_made(owner_client, version, grade, green):
    RecipeVersion.objects.update(frozen_at=timezone.now())
    lines = {"dose-0-item": str(green.pk), "dose-0-amount": "2 mL"}
    owner_client.post(url("recipe_revise", version.recipe_id), revised(version, grade, **lines))
    old, new = version.recipe.versions.order_by("number")
    assert old.doses.get(item=green).quantity == 1_500_000
    assert (new.number, new.doses.get().quantity) == (2, 2_000_000)


def test_change_of_a_version_that_was_replaced_meanwhile_is_refused(owner_client, version, grade):
    RecipeVersion.objects.update(frozen_at=timezone.now())
    address = url("recipe_revise", version.recipe_id)
    owner_client.post(address, revised(version, grade))
    page = owner_client.post(address, revised(version, grade))
    assert page.status_code == 422
    assert "replaced by version 2" in page.content.decode()
    assert version.recipe.versions.count() == 2


@pytest.fixture
def pale(grade):
    return factories.make_recipe("Pale Reed", grade=grade, doses={})


def laminate(version, pale, **changes):
    return {
        "name": "Reed over Marsh",
        "top": str(version.pk),
        "top_share": "60",
        "middle": "",
        "middle_share": "",
        "below": str(pale.pk),
        "below_share": "40",
    } | changes


def test_laminate_is_kept_with_its_sides(owner_client, version, pale):
    answer = owner_client.post(url("pattern_new"), laminate(version, pale))
    pattern = Pattern.objects.get(name="Reed over Marsh")
    assert answer.url == url("pattern", pattern.pk)
    assert [(layer.side, layer.share) for layer in pattern.layers.all()] == [
        (Layer.Side.TOP, 600_000),
        (Layer.Side.BELOW, 400_000),
    ]
    page = owner_client.get(answer.url).content.decode()
    assert "60 %" in page
    assert "40 %" in page


def test_shares_that_are_no_whole_bait_are_refused_with_their_sum(owner_client, version, pale):
    page = owner_client.post(url("pattern_new"), laminate(version, pale, below_share="30"))
    assert page.status_code == 422
    assert "90 %" in page.context["form"].errors["below_share"][0]
    assert 'value="30"' in page.content.decode()


def test_middle_without_its_share_is_refused_there(owner_client, version, pale):
    page = owner_client.post(url("pattern_new"), laminate(version, pale, middle=str(pale.pk)))
    assert page.status_code == 422
    assert "middle_share" in page.context["form"].errors


def test_pattern_page_shows_its_products_and_loose_baits(owner_client, version):
    page = owner_client.get(url("pattern", Pattern.objects.get().pk)).content.decode()
    assert "Marsh green" in page
    assert "None on hand" in page


def test_pattern_is_put_away_and_brought_back(owner_client, version):
    pattern = Pattern.objects.get()
    owner_client.post(url("pattern", pattern.pk), {"archived": "1"})
    assert "Marsh Lantern" not in owner_client.get(url("colors")).content.decode()
    assert "Marsh Lantern" in owner_client.get(url("colors"), {"away": "1"}).content.decode()
    owner_client.post(url("pattern", pattern.pk), {"archived": "0"})
    assert "Marsh Lantern" in owner_client.get(url("colors")).content.decode()


def test_helper_reads_colors_and_changes_none(helper_client, version):
    assert helper_client.get(url("colors")).status_code == 200
    assert helper_client.get(url("recipe", version.recipe_id)).status_code == 200
    pattern = url("pattern", Pattern.objects.get().pk)
    assert helper_client.get(pattern).status_code == 200
    assert helper_client.post(pattern, {"archived": "1"}).status_code == 403
    assert helper_client.get(url("recipe_new")).status_code == 403
