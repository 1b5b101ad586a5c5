"""Mass is conserved: what went into the cup is in the baits, the trim, the rest and the waste."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from production import balance
from production.balance import Balance, Volume


def a_batch(*, missing_ml: float = 0.0, measured: bool = True) -> Balance:
    """300 mL read off the jug; ten shots of 26 mL: forty baits of 5 mL and 60 mL of trim."""
    left = balance.weighed(40 - missing_ml, step_g=0.1, density=1.03)
    shots = balance.poured(260, shots=10)
    return Balance(
        balance.read(300), shots, {"left": left}, measured, {"good": 200, "trim": 60}, bait_ml=5
    )


def test_a_batch_that_adds_up_says_so():
    found = a_batch(missing_ml=2)
    assert found.imbalance_ml == pytest.approx(2)
    # 6 of the reading; 7.8 of the mold and 3.29 from shot to shot; .14 of the scale: √(36 + 71.7).
    assert found.within_ml == pytest.approx(10.38, abs=0.01)
    assert found.closes
    assert found.sentence == "It adds up: off by 2.0 mL of base, ± 10.4 mL."


def test_ten_baits_that_nobody_counted_are_pointed_out():
    found = a_batch(missing_ml=50)
    assert not found.closes
    assert found.baits == 10
    assert "are missing. That is about 10 baits. Were all shots counted" in found.sentence


def test_ten_baits_counted_too_many_are_pointed_out():
    found = a_batch(missing_ml=-50)
    assert not found.closes
    assert "more came out than went in. That is about 10 baits." in found.sentence


def test_a_rest_that_was_not_measured_proves_nothing():
    assert "not measured" in a_batch(measured=False).sentence


def test_a_scale_knows_better_than_a_cup_s_marks():
    assert balance.weighed(200, step_g=0.1, density=1.03).within < balance.read(200).within
    assert balance.read(20).within == 2


def test_many_shots_are_known_better_than_one_but_not_better_than_their_mold():
    one, many = balance.poured(260, shots=1), balance.poured(260, shots=100)
    assert one.within > many.within > balance.MOLD_SHARE * 260


@given(st.lists(st.tuples(st.floats(0, 500), st.floats(0, 50)), max_size=8))
def test_a_sum_is_no_surer_than_its_parts_nor_vaguer_than_all_of_them(parts):
    found = balance.together([Volume(*part) for part in parts])
    assert found.ml == pytest.approx(sum(ml for ml, _ in parts))
    assert max((w for _, w in parts), default=0) <= found.within + 1e-9
    assert found.within <= sum(w for _, w in parts) + 1e-9
