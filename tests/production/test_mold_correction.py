"""A mold's volume is corrected by what pours took, measured afterwards."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from production.mold_correction import Measured, propose


def took(shot_ml: float, shots: int = 6, share: float = 0.98) -> Measured:
    """A pour of 300 mL of base of which so much went into another cup, and so much was left."""
    return Measured(300, 300 - 20 - shot_ml * shots * share, 20, shots, share)


def test_a_shot_is_what_left_the_cup_by_total_volume():
    # 300 poured in, 42 left, 20 into another color: 238 mL of base in 5 shots of .952 base.
    assert Measured(300, 42, 20, 5, 0.952).shot_ml == pytest.approx(50)


def test_the_last_pours_speak_for_another_volume():
    found = propose(41, [took(43.0), took(43.1), took(42.9), took(43.4)])
    assert found.shot_ml == pytest.approx(43.05)
    assert found.pours == 4
    assert found.spread_ml == pytest.approx(0.1)
    assert found.off_by == pytest.approx(0.05)


def test_two_pours_are_too_few():
    assert propose(41, [took(43), took(43)]) is None


@pytest.mark.parametrize("shot_ml", [41, 42.2, 39.8])
def test_three_percent_is_not_worth_a_change(shot_ml):
    assert propose(41, [took(shot_ml)] * 3) is None


def test_one_miscounted_evening_moves_nothing():
    assert propose(41, [took(41), took(41.1), took(82)]) is None


def test_pours_that_disagree_propose_nothing():
    assert propose(41, [took(30), took(36), took(43), took(50), took(56)]) is None


def test_a_cup_with_more_left_than_poured_is_left_out():
    assert propose(41, [Measured(100, 120, 0, 2, 1.0), took(44), took(44)]) is None


@given(st.floats(5, 90), st.floats(5, 90), st.integers(3, 12))
def test_what_is_proposed_is_what_every_pour_took(set_ml, shot_ml, pours):
    found = propose(set_ml, [took(shot_ml, shots=3)] * pours)
    if found is None:
        assert abs(shot_ml / set_ml - 1) <= 0.03 + 1e-9
    else:
        assert found.shot_ml == pytest.approx(shot_ml)
        assert propose(found.shot_ml, [took(shot_ml, shots=3)] * pours) is None


def test_a_mold_without_volume_is_refused():
    with pytest.raises(ValueError, match="cannot be set to 0"):
        propose(0, [])
