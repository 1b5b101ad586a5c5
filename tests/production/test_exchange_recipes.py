"""Recipes from a file: a changed one gets its next version, and a poured one is never edited."""

from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from production import recipe_sheet
from production.models import Dose, Pattern, Recipe, RecipeVersion
from tests import factories
from tests.factories import micro
from tests.inventory import exchange_pages as sheets
from tests.inventory.pages import page

pytestmark = pytest.mark.django_db
URL = reverse("production:recipes_file")
HEAD = "recipe,base,doses are for,item,amount"
MARSH = f"{HEAD}\nMarsh Lantern,Soft base,1 US cup,Plum dye,30 drops\nMarsh Lantern,,,Ember flake,½ tsp\n"


@pytest.fixture(autouse=True)
def shelf(db):
    factories.make_plastisol()
    factories.make_item("colorant", "Plum dye", ml_per_drop=Decimal("0.04"))
    factories.make_flake(g_per_tsp=Decimal("3.1"))


def upload(client, data, name="recipes.csv"):
    return sheets.upload(client, URL, data, name)


def load(client, data, name="recipes.csv"):
    return sheets.load(client, URL, data, name)


def pour(recipe):
    recipe.versions.update(frozen_at=timezone.now())


def test_the_page_names_the_columns(owner_client):
    text = page(owner_client, URL)
    for column in recipe_sheet.COLUMNS:
        assert f"<code>{column.name}</code>" in text


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_the_empty_file_is_previewed_then_kept(owner_client, form):
    end = "" if form == "csv" else "_xlsx"
    data = owner_client.get(reverse(f"production:recipes_file_template{end}")).content
    preview = upload(owner_client, data, f"recipes.{form}")
    assert preview.status_code == 200, sheets.problems(preview)
    assert "1 new, 0 changed, 0 as before" in preview.content.decode()
    assert not Recipe.objects.exists()
    assert owner_client.post(URL, sheets.confirmation(preview)).url == reverse("production:colors")
    dose = Dose.objects.get()
    assert (dose.amount, dose.unit, dose.quantity) == (Decimal("0.5"), "tsp", micro("1.55"))


def test_a_recipe_is_read_from_its_lines_with_the_pattern_of_its_name(owner_client):
    preview = upload(owner_client, MARSH)
    for words in ("for 1 US cup of Soft base", "30 drops Plum dye", "½ tsp Ember flake"):
        assert words in preview.content.decode()
    owner_client.post(URL, sheets.confirmation(preview))
    version = RecipeVersion.objects.get()
    assert (version.number, version.reference_said) == (1, "1 US cup")
    # 30 drops of 0.04 mL; ½ tsp at 3.1 g a teaspoon.
    assert list(version.doses.values_list("quantity", flat=True)) == [micro("1.2"), micro("1.55")]
    assert Pattern.objects.get().name == "Marsh Lantern"


def test_an_unchanged_recipe_gets_no_version_and_a_changed_one_its_next(owner_client):
    load(owner_client, MARSH + "Clear,Soft base,1 US cup,,\n")
    for recipe in Recipe.objects.all():
        pour(recipe)
    preview = upload(owner_client, MARSH.replace("30 drops", "24 drops") + "Clear,,,,\n")
    content = preview.content.decode()
    assert "0 new, 1 changed, 1 as before" in content
    assert "Plum dye: 30 drops → 24 drops" in content and "becomes version 2" in content
    owner_client.post(URL, sheets.confirmation(preview))
    marsh = Recipe.objects.get(name="Marsh Lantern")
    first, second = marsh.versions.order_by("number")
    assert [v.doses.get(item__kind="colorant").amount for v in (first, second)] == [30, 24]
    assert (second.reference_said, second.doses.count()) == ("1 US cup", 2)
    assert Recipe.objects.get(name="Clear").versions.count() == 1


def test_a_recipe_that_was_never_poured_is_changed_in_place(owner_client):
    load(owner_client, MARSH)
    changed = f"{HEAD},notes\nmarsh lantern,,100 mL,Plum dye,30 drops,Stir well\n"
    preview = upload(owner_client, changed)
    for words in (
        "doses are for: 1 US cup → 100 mL",
        "notes: Stir well",
        "Ember flake is left out",
        "version 1 changes: it was never poured",
    ):
        assert words in preview.content.decode()
    owner_client.post(URL, sheets.confirmation(preview))
    version = RecipeVersion.objects.get()
    assert (version.number, version.notes, version.doses.count()) == (1, "Stir well", 1)


@pytest.mark.parametrize(
    ("line", "column", "words"),
    [
        (",Soft base,1 US cup,Plum dye,3 drops,", "recipe", "no name"),
        ("Dusk,,1 US cup,Plum dye,3 drops,", "base", "Write the base"),
        ("Dusk,Soft bas,1 US cup,Plum dye,3 drops,", "base", "Did you mean “Soft base”?"),
        ("Dusk,Soft base,,Plum dye,3 drops,", "doses are for", "how much base"),
        ("Dusk,Soft base,100,Plum dye,3 drops,", "doses are for", "Say the unit"),
        ("Dusk,Soft base,100 g,Plum dye,3 drops,", "doses are for", "a volume of base"),
        ("Dusk,Soft base,1 US cup,Plum dy,3 drops,", "item", "Did you mean “Plum dye”?"),
        ("Dusk,Soft base,1 US cup,Plum dye,3 drops,flake", "item", "There is no flake called"),
        ("Dusk,Soft base,1 US cup,Plum dye,3 drops,gold", "item", "no kind that is dosed"),
        (
            "Dusk,Soft base,1 US cup,Pearl,3 mL,",
            "item",
            "more than one “Pearl”: additive, colorant",
        ),
        ("Dusk,Soft base,1 US cup,Plum dye,,", "amount", "how much of it"),
        ("Dusk,Soft base,1 US cup,,3 drops,", "item", "what goes in"),
        ("Dusk,Soft base,1 US cup,Plum dye,0,", "amount", "more than zero"),
        (
            "Dusk,Soft base,1 US cup,Plum dye,2 g,",
            "amount",
            "Plum dye: To turn g into mL the density",
        ),
        ("Old,Soft base,1 US cup,Plum dye,3 drops,", "recipe", "put away"),
        ("Taken,Soft base,1 US cup,Plum dye,3 drops,", "recipe", "already a pattern called Taken"),
    ],
)
def test_a_line_that_is_wrong_is_named_and_nothing_is_kept(owner_client, line, column, words):
    Recipe.objects.create(name="Old", archived=True)
    Pattern.objects.create(name="Taken")
    factories.make_item("colorant", "Pearl")
    factories.make_item("additive", "pearl")
    response = upload(
        owner_client, f"{HEAD},kind\nFine,Soft base,1 US cup,Plum dye,4 drops,\n{line}\n"
    )
    assert response.status_code == 422
    (trouble,) = response.context["review"].troubles
    assert (trouble.line, trouble.column) == (3, column)
    assert words in trouble.text
    assert Recipe.objects.count() == 1


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("Marsh Lantern,,,Plum dye,3 drops", "already in this recipe"),
        ("Marsh Lantern,,100 mL,Plum dye,3 drops", "another one on an earlier line"),
    ],
)
def test_lines_that_contradict_each_other_are_named(owner_client, line, words):
    assert words in " ".join(sheets.problems(upload(owner_client, f"{MARSH}{line}\n")))


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_the_recipes_as_they_stand_load_again_and_nothing_changes(owner_client, form):
    extra = "Thirds,Soft base,0.3333 US cup,Plum dye,⅓ tsp\nClear,Soft base,2 fl oz,,\n"
    load(owner_client, MARSH + extra)
    RecipeVersion.objects.filter(recipe__name="Clear").update(notes="=no doses\r\nat all")
    for recipe in Recipe.objects.all():
        pour(recipe)
    before = [list(m.objects.order_by("id").values()) for m in (Recipe, RecipeVersion, Dose)]
    end = "" if form == "csv" else "_xlsx"
    data = owner_client.get(reverse(f"production:recipes_file_now{end}")).content
    preview = upload(owner_client, data, f"recipes.{form}")
    assert preview.status_code == 200, sheets.problems(preview)
    assert "Nothing to change" in preview.content.decode()
    owner_client.post(URL, sheets.confirmation(preview))
    assert [
        list(m.objects.order_by("id").values()) for m in (Recipe, RecipeVersion, Dose)
    ] == before


def _queries(client, count):
    lines = "".join(f"Color {n},Soft base,1 US cup,Plum dye,{n + 1} drops\n" for n in range(count))
    load(client, f"{HEAD}\n{lines}")
    with CaptureQueriesContext(connection) as taken:
        upload(client, f"{HEAD}\n{lines}")
    return len([query for query in taken if "SAVEPOINT" not in query["sql"]])


def test_looking_again_asks_no_more_of_the_database_for_more_recipes(owner_client):
    assert _queries(owner_client, 10) == _queries(owner_client, 20)
