"""Doses per mL of base, and how much a mix fills."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory import units
from production import doses

# PET flake ≈1.37 g/mL (kids.kiddle.co), sodium chloride 2.165 g/mL (from memory).
FLAKE = Decimal("1.37")
SALT = Decimal("2.165")

small = st.decimals(min_value=0, max_value=Decimal("0.2"), places=4)
densities = st.decimals(min_value=Decimal("0.1"), max_value=3, places=3)
per_ml = st.lists(
    st.one_of(
        st.tuples(small, st.just("mL"), st.none()), st.tuples(small, st.just("g"), densities)
    ),
    max_size=5,
)
volumes = st.decimals(min_value=1, max_value=5000, places=2)


def test_recipe_is_scaled_to_the_base():
    recipe = {"green": Decimal("0.020"), "pepper": Decimal("0.004")}
    assert doses.scale(recipe, Decimal(180)) == {"green": Decimal("3.6"), "pepper": Decimal("0.72")}


def test_total_is_base_and_liquids_and_solids_by_their_density():
    """Worked by hand: 200 + 4 + 2.74 ÷ 1.37 + 21.65 ÷ 2.165 = 216 mL."""
    additions = [
        (Decimal(4), "mL", None),
        (Decimal("2.74"), "g", FLAKE),
        (Decimal("21.65"), "g", SALT),
    ]
    assert doses.total_volume(Decimal(200), additions) == 216
    assert doses.base_share(Decimal(200), additions) == Decimal(200) / 216


def test_weight_of_a_liquid_is_turned_into_its_volume():
    additions = [(Decimal("4.2"), "g", Decimal("1.05"))]
    assert doses.total_volume(Decimal(100), additions) == 104


def test_clear_plastic_is_all_base():
    assert doses.base_share(Decimal(120), []) == 1
    assert doses.base_for(Decimal(120), []) == 120


@given(volumes, per_ml)
def test_base_for_a_total_fills_just_that_total(total, recipe):
    base = doses.base_for(total, recipe)
    additions = [(amount * base, unit, density) for amount, unit, density in recipe]
    assert abs(doses.total_volume(base, additions) - total) <= total * Decimal("1e-24")


@given(volumes, per_ml)
def test_base_share_agrees_with_exact_fractions(base, recipe):
    additions = [(amount * base, unit, density) for amount, unit, density in recipe]
    exact = Fraction(base) + sum(
        Fraction(amount) / Fraction(density or 1) for amount, _, density in additions
    )
    share = Fraction(doses.base_share(base, additions))
    assert abs(share - Fraction(base) / exact) < Fraction(1, 10**24)
    assert 0 < share <= 1


def test_weight_without_a_density_names_what_is_missing():
    with pytest.raises(units.UnitsError, match="density of the item is needed"):
        doses.total_volume(Decimal(100), [(Decimal(2), "g", None)])


def test_color_is_never_taken_out():
    with pytest.raises(doses.DoseError, match="never out"):
        doses.total_volume(Decimal(100), [(Decimal(-1), "mL", None)])


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: doses.total_volume(Decimal(-1), []), "base cannot be less"),
        (lambda: doses.base_share(Decimal(0), []), "some base"),
        (lambda: doses.base_for(Decimal(-1), []), "total volume cannot be less"),
    ],
)
def test_volumes_that_cannot_be_are_explained(call, message):
    with pytest.raises(doses.DoseError, match=message):
        call()
