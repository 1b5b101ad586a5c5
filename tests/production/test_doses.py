"""How much a mix fills."""

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


def test_total_is_base_and_liquids_and_solids_by_their_density():
    """Worked by hand: 200 + 4 + 2.74 ÷ 1.37 + 21.65 ÷ 2.165 = 216 mL."""
    additions = [
        (Decimal(4), "mL", None),
        (Decimal("2.74"), "g", FLAKE),
        (Decimal("21.65"), "g", SALT),
    ]
    assert doses.total_volume(Decimal(200), additions) == 216


def test_weight_of_a_liquid_is_turned_into_its_volume():
    additions = [(Decimal("4.2"), "g", Decimal("1.05"))]
    assert doses.total_volume(Decimal(100), additions) == 104


def test_clear_plastic_is_all_base():
    assert doses.total_volume(Decimal(120), []) == 120


@given(volumes, per_ml)
def test_total_agrees_with_exact_fractions(base, recipe):
    additions = [(amount * base, unit, density) for amount, unit, density in recipe]
    exact = Fraction(base) + sum(
        Fraction(amount) / Fraction(density or 1) for amount, _, density in additions
    )
    assert abs(Fraction(doses.total_volume(base, additions)) - exact) < exact / 10**24


def test_weight_without_a_density_names_what_is_missing():
    with pytest.raises(units.UnitsError, match="density of the item is needed"):
        doses.total_volume(Decimal(100), [(Decimal(2), "g", None)])


def test_color_is_never_taken_out():
    with pytest.raises(doses.DoseError, match="never out"):
        doses.total_volume(Decimal(100), [(Decimal(-1), "mL", None)])


def test_less_than_no_base_is_explained():
    with pytest.raises(doses.DoseError, match="base cannot be less"):
        doses.total_volume(Decimal(-1), [])
