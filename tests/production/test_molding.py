"""A mold measured with a kitchen scale."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from production import molding


def test_six_cavity_mold_weighed_once_gives_bait_and_sprue():
    """60 g shot, six baits together 48 g, at 1.2 g/mL: 40 mL of baits, 10 mL of sprue (worked by
    hand)."""
    volumes = molding.from_weighed_shot(Decimal(60), {"dawdler": (6, Decimal(48))}, Decimal("1.2"))
    assert volumes.shot_ml == 50
    assert volumes.sprue_ml == 10
    assert round(volumes.bait_ml["dawdler"], 20) == round(Decimal(40) / 6, 20)


def test_mold_with_two_baits_gives_each_its_own_volume():
    volumes = molding.from_weighed_shot(
        Decimal(30), {"long": (2, Decimal(16)), "short": (4, Decimal(8))}, Decimal(1)
    )
    assert volumes.bait_ml == {"long": 8, "short": 2}
    assert volumes.sprue_ml == 6


def test_mold_poured_open_has_no_sprue():
    volumes = molding.from_weighed_shot(Decimal(10), {"flat": (1, Decimal(10))}, Decimal(1))
    assert volumes.sprue_ml == 0
    assert molding.from_volumes({"flat": (1, Decimal(10))}, Decimal(0)) == volumes


grams = st.decimals(min_value=Decimal("0.1"), max_value=500, places=1)


@given(
    st.dictionaries(st.integers(), st.tuples(st.integers(1, 24), grams), min_size=1, max_size=4),
    st.decimals(min_value=0, max_value=100, places=1),
    st.decimals(min_value=Decimal("0.8"), max_value=Decimal("1.4"), places=3),
)
def test_baits_and_sprue_make_up_the_shot(baits, sprue_g, density):
    shot_g = sum(weight for _, weight in baits.values()) + sprue_g
    weighed = molding.from_weighed_shot(shot_g, baits, density)
    again = molding.from_volumes(
        {bait: (count, weighed.bait_ml[bait]) for bait, (count, _) in baits.items()},
        weighed.sprue_ml,
    )
    assert abs(again.shot_ml - weighed.shot_ml) < Decimal("1e-20")
    assert abs(weighed.shot_ml * density - shot_g) < Decimal("1e-20")


@pytest.mark.parametrize(
    ("shot", "baits", "density", "message"),
    [
        (
            "50",
            {"long": (2, Decimal(52))},
            "1",
            "weigh 52 g together, more than the whole shot of 50 g",
        ),
        ("50", {}, "1", "at least one bait"),
        ("50", {"long": (0, Decimal(5))}, "1", "at least one cavity"),
        ("50", {"long": (2, Decimal(0))}, "1", "weight of the baits must be more than zero"),
        ("0", {"long": (2, Decimal(5))}, "1", "weight of the shot must be more than zero"),
        ("50", {"long": (2, Decimal(5))}, "0", "density must be more than zero"),
    ],
)
def test_weights_that_cannot_be_are_explained(shot, baits, density, message):
    with pytest.raises(molding.MoldError, match=message):
        molding.from_weighed_shot(Decimal(shot), baits, Decimal(density))


@pytest.mark.parametrize(
    ("baits", "sprue", "message"),
    [
        ({}, "1", "at least one bait"),
        ({"long": (0, Decimal(5))}, "1", "at least one cavity"),
        ({"long": (2, Decimal(0))}, "1", "volume of a bait must be more than zero"),
        ({"long": (2, Decimal(5))}, "-1", "sprue cannot be less than zero"),
    ],
)
def test_volumes_that_cannot_be_are_explained(baits, sprue, message):
    with pytest.raises(molding.MoldError, match=message):
        molding.from_volumes(baits, Decimal(sprue))
