"""Recipes, their versions and patterns as the services keep them (rules 6 and 7)."""

from decimal import Decimal

import pytest
from django.utils import timezone

from inventory import units
from production.models import Pattern, RecipeVersion
from production.services import batches, recipes
from production.services.recipes import DoseSpec, LayerSpec
from production.services.refusals import Refusal
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def grade():
    return factories.make_plastisol()


@pytest.fixture
def green():
    return factories.make_item("colorant", "Marsh green", ml_per_drop=Decimal("0.05"))


def keep(grade, doses, **facts):
    facts = {
        "name": "Marsh Lantern",
        "reference_amount": Decimal(100),
        "reference_unit": "mL",
    } | facts
    return recipes.create(grade=grade, doses=doses, **facts)


def change(version, doses, **facts):
    facts = {"reference_amount": Decimal(100), "reference_unit": "mL"} | facts
    return recipes.revise(version, grade=version.grade, doses=doses, **facts)


def mix(version):
    """One batch by this version: the event that freezes it."""
    part = batches.Part(version.grade, factories.micro(100))
    batches.mix(
        key=factories.key(), pour=factories.make_pour(), version=version, parts=[part], by=None
    )
    version.refresh_from_db()


def test_recipe_comes_with_a_solid_pattern_of_its_name(grade, green):
    version = keep(grade, [DoseSpec(green, Decimal(12), "drop")])
    layer = Pattern.objects.get(name="Marsh Lantern").layers.get()
    assert (version.number, layer.version, layer.share) == (1, version, 1_000_000)
    assert layer.side == "whole"


def test_twelve_drops_are_kept_as_said_and_in_mL(grade, green):
    version = keep(grade, [DoseSpec(green, Decimal(12), "drop")])
    dose = version.doses.get()
    # 12 × 0.05 mL, by the bottle's own drop
    assert (dose.amount, dose.unit, dose.quantity) == (12, "drop", 600_000)


def test_a_us_cup_of_base_is_half_a_pint(grade):
    # NIST HB 44 appendix C: 1 gallon = 231 in³, 1 in = 25.4 mm, 16 cups to the gallon: 236.588 236 5 mL
    version = keep(grade, [], reference_amount=Decimal(1), reference_unit="US cup")
    assert version.reference_ml == Decimal("236.588236")
    assert version.reference_said == "1 US cup"


def test_dose_in_drops_is_refused_where_the_drop_is_not_known(grade):
    plain = factories.make_item("colorant", "Plain blue")
    dose = DoseSpec(plain, Decimal(12), "drop")
    with pytest.raises(Refusal, match="Plain blue: .*size of a drop") as refused:
        keep(grade, [dose])
    assert (refused.value.field, refused.value.row) == ("amount", 0)
    assert not RecipeVersion.objects.exists()


def test_flake_by_weight_needs_its_density_for_the_volume_of_a_batch(grade):
    flake = factories.make_flake(density_g_per_ml=None)
    with pytest.raises(Refusal, match="density"):
        keep(grade, [DoseSpec(flake, Decimal(1), "g")])


@pytest.mark.parametrize(("amount", "unit"), [(1, "drop"), (100, "g"), (0, "mL"), (200, "L")])
def test_reference_is_a_volume_of_base(grade, amount, unit):
    with pytest.raises(Refusal) as refused:
        keep(grade, [], reference_amount=Decimal(amount), reference_unit=unit)
    assert refused.value.field == "reference"


def test_the_same_bottle_twice_in_a_recipe_is_refused_at_the_second(grade, green):
    dose = DoseSpec(green, Decimal(1), "mL")
    with pytest.raises(Refusal, match="already in this recipe") as refused:
        keep(grade, [dose, dose])
    assert refused.value.row == 1


def test_name_is_taken_in_any_case(grade):
    keep(grade, [])
    with pytest.raises(Refusal, match="already a recipe called") as refused:
        keep(grade, [], name="MARSH lantern ")
    assert refused.value.field == "name"


def test_plastic_that_is_no_plastisol_is_no_grade(green):
    with pytest.raises(Refusal, match="no plastisol"):
        keep(green, [])


def test_version_not_poured_yet_is_changed_in_place(grade, green):
    version = keep(grade, [DoseSpec(green, Decimal(1), "mL")])
    again = change(version, [DoseSpec(green, Decimal(2), "mL")])
    assert again == version
    assert RecipeVersion.objects.get().doses.get().quantity == 2_000_000


def test_used_version_is_never_edited_a_change_makes_the_next(grade, green):
    version = keep(grade, [DoseSpec(green, Decimal(1), "mL")])
    mix(version)
    following = change(version, [DoseSpec(green, Decimal(2), "mL")])
    assert (version.number, following.number) == (1, 2)
    assert version.doses.get().quantity == 1_000_000
    assert version.frozen_at is not None
    assert Pattern.objects.get().layers.get().version == following


def test_laminate_keeps_the_version_it_names(grade, green):
    back = keep(grade, [DoseSpec(green, Decimal(1), "mL")])
    belly = keep(grade, [], name="Pale Reed")
    two = recipes.laminate(
        name="Reed over Marsh",
        layers=[LayerSpec(back, share_percent=Decimal(60)), LayerSpec(belly, share_percent=40)],
    )
    mix(back)
    following = change(back, [])
    assert [layer.version for layer in two.layers.all()] == [back, belly]
    assert Pattern.objects.get(name="Marsh Lantern").layers.get().version == following


def test_change_of_an_old_version_is_refused(grade):
    version = keep(grade, [])
    mix(version)
    change(version, [])
    with pytest.raises(Refusal, match="replaced by version 2"):
        change(version, [])


def test_frozen_version_counts_as_used_even_when_its_batch_was_undone(grade):
    version = keep(grade, [])
    RecipeVersion.objects.update(frozen_at=timezone.now())
    assert change(version, []).number == 2


def test_laminate_runs_from_the_back_down_and_fills_the_bait(grade):
    one, two, three = (keep(grade, [], name=name) for name in ("Dusk", "Fog", "Clay"))
    layers = [
        LayerSpec(one, share_percent=Decimal("33.3"), side="below"),
        LayerSpec(two, share_percent=Decimal("33.4"), side="top"),
        LayerSpec(three, share=333_000, side="middle"),
    ]
    pattern = recipes.laminate(name="Three ways", layers=layers)
    assert [(layer.version, layer.share) for layer in pattern.layers.all()] == [
        (two, 334_000),
        (three, 333_000),
        (one, 333_000),
    ]


@pytest.mark.parametrize("percents", [[60, 30], [60, 60], [100], [25, 25, 25, 25], [100, 0]])
def test_laminate_of_other_than_one_whole_bait_is_refused(grade, percents):
    version = keep(grade, [])
    layers = [LayerSpec(version, share_percent=Decimal(percent)) for percent in percents]
    with pytest.raises(Refusal):
        recipes.laminate(name="Wrong", layers=layers)


def test_two_layers_on_one_side_are_refused(grade):
    version = keep(grade, [])
    layer = LayerSpec(version, share_percent=Decimal(50), side="top")
    with pytest.raises(Refusal, match="its own side"):
        recipes.laminate(name="Wrong", layers=[layer, layer])


def test_doses_scale_with_the_base(grade, green):
    version = keep(grade, [DoseSpec(green, Decimal("1.5"), "mL")])
    # 1.5 mL per 100 mL is 3.6 mL in 240 mL
    assert recipes.doses_for(version, units.to_micro(240)) == [(green, 3_600_000)]


def test_put_away_solid_takes_its_recipe_along_and_comes_back(grade):
    version = keep(grade, [])
    pattern = Pattern.objects.get()
    recipes.put_away(pattern, archived=True)
    version.recipe.refresh_from_db()
    assert version.recipe.archived
    recipes.put_away(pattern, archived=False)
    version.recipe.refresh_from_db()
    assert not version.recipe.archived
