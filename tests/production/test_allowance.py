"""What must be poured beyond what is wanted: rejects by the exact Beta quantile, heels by the median."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from production import allowance


def test_a_mold_that_was_never_shot_gives_about_six_of_seven():
    # Closed form: the quantile of Beta(9, 1) at 1/4 is (1/4) ** (1/9).
    found = allowance.good_share(0, 0)
    assert found.share == pytest.approx(0.25 ** (1 / 9))
    assert (found.least_percent, found.more_percent) == (85, 17)


@pytest.mark.parametrize(("good", "seen"), [(4, 4), (96, 100), (391, 400), (0, 8), (3000, 3200)])
def test_three_times_in_four_at_least_so_many_come_out_good(good, seen):
    # Outside check: scipy.stats' own quantile of the same distribution.
    expected = stats.beta.ppf(0.25, good + 9, seen - good + 1)
    assert allowance.good_share(good, seen).share == pytest.approx(expected, rel=1e-9)


@given(st.integers(0, 400), st.integers(0, 100))
def test_one_more_good_bait_never_lowers_what_is_hoped_for(good, bad):
    before = allowance.good_share(good, good + bad).share
    after = allowance.good_share(good + 1, good + 1 + bad).share
    assert 0 < before < after < 1


def test_more_good_than_seen_cannot_be():
    with pytest.raises(ValueError, match="5 good of 4"):
        allowance.good_share(5, 4)


def test_the_owners_heel_counts_until_three_were_measured():
    assert allowance.heel([30, 40], 10) == allowance.Heel(10)


def test_then_the_median_of_what_was_measured_counts():
    assert allowance.heel([8, 90, 12], 10) == allowance.Heel(12, 3)
