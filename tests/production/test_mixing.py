"""Leftovers become other colors by additions only.

The three worked examples are the shop's own check values, reckoned by hand beside each; the
properties hold for any leftover and any recipe.
"""

import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from production import mixing


def mix_of(base_ml, melts=1, **dose_per_ml):
    return mixing.Mix(base_ml, {key: dose * base_ml for key, dose in dose_per_ml.items()}, melts)


# leftover, target per mL, base, then use, fresh, additions, share and what limits it
WORKED = [
    pytest.param(
        mix_of(60, green=0.010, pepper=0.004),
        {"green": 0.020, "pepper": 0.004, "ember": 0.006},
        180,
        # green .020·180 − .010·60 = 3.00; pepper .004·180 − .004·60 = 0.48; ember .006·180 = 1.08
        (60, 120, {"green": 3.00, "pepper": 0.48, "ember": 1.08}, 1, None),
        id="a pale green becomes a darker one",
    ),
    pytest.param(
        mix_of(120, soot=0.030),
        {"soot": 0.005},
        240,
        # share 1.05·.005/.030 = .175; .175·240 = 42 mL bring 1.26 of soot where 1.20 is wanted
        (42, 198, {"soot": 0}, 0.175, "soot"),
        id="a dark leftover is let down",
    ),
    pytest.param(
        mix_of(90, plum=0.012, glint=0.005),
        {"plum": 0.010, "glint": 0.002, "pearl": 0.004},
        300,
        # share 1.05·.002/.005 = .42 (126 mL); plum 3.00 − 1.08; glint .60 − .45; pearl 1.20
        (90, 210, {"plum": 1.92, "glint": 0.15, "pearl": 1.20}, 0.42, "glint"),
        id="flake limits how much goes on",
    ),
]


@pytest.mark.parametrize(("leftover", "target", "base_ml", "expected"), WORKED)
def test_leftover_turns_into_darker_color_by_additions_only(leftover, target, base_ml, expected):
    use_ml, fresh_ml, additions, share, limiting = expected
    made = mixing.convert(leftover, target, base_ml)
    assert made.use_ml == pytest.approx(use_ml, abs=1e-9)
    assert made.fresh_ml == pytest.approx(fresh_ml, abs=1e-9)
    assert made.additions == pytest.approx(additions, abs=1e-9)
    assert made.reuse_share == pytest.approx(share, abs=1e-12)
    assert made.limiting == limiting
    assert made.melts == 2


def test_plastic_of_another_color_stays_out():
    made = mixing.convert(mix_of(50, melts=3, rust=0.01), {"sky": 0.02}, 100)
    assert (made.use_ml, made.fresh_ml, made.limiting, made.melts) == (0, 100, "rust", 1)


def test_unrecorded_color_goes_on_only_as_a_named_trace():
    leftover = mix_of(50, unknown=0.01)
    assert mixing.convert(leftover, {"soot": 0.05}, 100).use_ml == 0
    made = mixing.convert(leftover, {"soot": 0.05}, 100, trace={"unknown": 0.001})
    assert made.use_ml == pytest.approx(10)  # .001 / .01 of 100 mL
    assert made.limiting == "unknown"


def test_key_named_with_no_dose_in_the_target_is_held_to_its_trace():
    made = mixing.convert(mix_of(50, rust=0.01), {"rust": 0}, 100, trace={"rust": 0.002})
    assert made.use_ml == pytest.approx(20)
    assert made.additions == {"rust": 0}


def test_flake_may_be_given_more_room_than_colorant():
    leftover = mix_of(90, plum=0.012, glint=0.005)
    target = {"plum": 0.012, "glint": 0.002}
    tight = mixing.convert(leftover, target, 100)
    loose = mixing.convert(leftover, target, 100, tolerance={"glint": 0.25})
    assert tight.reuse_share == pytest.approx(1.05 * 0.002 / 0.005)
    assert loose.reuse_share == pytest.approx(1.25 * 0.002 / 0.005)


def test_first_key_of_the_leftover_is_named_when_two_limit_alike():
    leftover = mixing.Mix(10, {"plum": 0.2, "glint": 0.2})
    assert mixing.convert(leftover, {"glint": 0.01, "plum": 0.01}, 50).limiting == "plum"


def test_batch_that_uses_all_of_a_leftover():
    # 120 mL / .175: the second worked example asked the other way round
    assert mixing.base_needed(mix_of(120, soot=0.030), {"soot": 0.005}) == pytest.approx(
        685.7142857
    )
    assert mixing.base_needed(mix_of(60, soot=0.001), {"soot": 0.005}) == 60
    assert mixing.base_needed(mix_of(60, rust=0.001), {"soot": 0.005}) == math.inf
    assert mixing.base_needed(mixing.Mix(0), {"soot": 0.005}) == 0


def test_colors_that_take_the_most_of_a_leftover_come_first():
    leftover = mix_of(60, soot=0.010)
    ranked = mixing.reachable(
        leftover,
        {
            "dusk": {"soot": 0.012},
            "ash": {"soot": 0.005},
            "night": {"soot": 0.030},
            "clear": {},
            "dawn": {"soot": 0.012},
        },
        100,
    )
    # dusk, dawn and night take all 60 mL; night needs more soot; ash takes 52.5; clear takes none
    assert [key for key, _ in ranked] == ["dawn", "dusk", "night", "ash"]
    assert ranked[-1][1].use_ml == pytest.approx(52.5)


@pytest.mark.parametrize("bad", [{"base_ml": -1}, {"base_ml": 1, "doses": {"soot": -0.1}}])
def test_mix_of_less_than_nothing_is_refused(bad):
    with pytest.raises(ValueError, match="cannot hold"):
        mixing.Mix(**bad)


def test_batch_without_base_is_refused():
    with pytest.raises(ValueError, match="some base"):
        mixing.convert(mix_of(10, soot=0.01), {"soot": 0.01}, 0)
    with pytest.raises(ValueError, match="holds -1"):
        mixing.convert(mix_of(10, soot=0.01), {"soot": -1}, 10)


KEYS = ["plum", "glint", "soot", "ember"]
DOSES = st.dictionaries(
    st.sampled_from(KEYS), st.one_of(st.just(0.0), st.floats(1e-4, 0.05)), max_size=4
)
LEFTOVERS = st.builds(
    lambda base_ml, doses, melts: mixing.Mix(
        base_ml, {key: dose * base_ml for key, dose in doses.items()}, melts
    ),
    st.floats(0.1, 500),
    DOSES,
    st.integers(1, 4),
)
LIMITS = st.fixed_dictionaries(
    {
        "tolerance": st.one_of(
            st.floats(0, 0.5), st.dictionaries(st.sampled_from(KEYS), st.floats(0, 0.5))
        ),
        "trace": st.one_of(st.none(), st.dictionaries(st.sampled_from(KEYS), st.floats(0, 0.001))),
    }
)


@given(LEFTOVERS, DOSES, st.floats(1, 800), LIMITS)
def test_no_conversion_takes_color_out_or_leaves_the_tolerance(leftover, target, base_ml, limits):
    made = mixing.convert(leftover, target, base_ml, **limits)
    assert all(amount >= 0 for amount in made.additions.values())
    assert 0 <= made.use_ml <= leftover.base_ml
    assert made.fresh_ml >= 0
    assert made.use_ml + made.fresh_ml == pytest.approx(base_ml)
    tolerance, trace = limits["tolerance"], limits["trace"] or {}
    for key in KEYS:
        brought = leftover.doses.get(key, 0) * made.use_ml / leftover.base_ml
        per_ml = (brought + made.additions.get(key, 0)) / base_ml
        wanted = target.get(key, 0)
        if wanted:
            over = tolerance if isinstance(tolerance, float) else tolerance.get(key, 0.05)
            assert wanted * (1 - 1e-9) <= per_ml <= wanted * (1 + over) * (1 + 1e-9)
        else:
            assert per_ml <= trace.get(key, 0) * (1 + 1e-9)


@given(LEFTOVERS, DOSES, DOSES, st.floats(1, 800), LIMITS)
def test_converting_twice_never_reuses_more_than_there_is(leftover, first, second, base_ml, limits):
    once = mixing.convert(leftover, first, base_ml, **limits)
    share_left = max(0.0, leftover.base_ml - once.use_ml) / leftover.base_ml
    rest = mixing.Mix(
        leftover.base_ml * share_left,
        {key: amount * share_left for key, amount in leftover.doses.items()},
        leftover.melts,
    )
    twice = mixing.convert(rest, second, base_ml, **limits)
    assert once.use_ml + twice.use_ml <= leftover.base_ml * (1 + 1e-12)


@given(LEFTOVERS, DOSES, LIMITS)
def test_batch_that_uses_all_of_a_leftover_does_use_all_of_it(leftover, target, limits):
    base_ml = mixing.base_needed(leftover, target, **limits)
    if base_ml < 1e9:
        made = mixing.convert(leftover, target, base_ml, **limits)
        assert made.use_ml == pytest.approx(leftover.base_ml)


def test_fills_that_empty_the_cup_are_found():
    # 7·3 + 12·2 = 45: no other pair of counts leaves nothing
    counts, left_ml, too_big = mixing.shots_left(45, {"grub": 7, "worm": 12, "slab": 60})
    assert (counts, too_big) == ({"grub": 3, "worm": 2, "slab": 0}, ["slab"])
    assert left_ml == pytest.approx(0, abs=1e-9)


def test_no_more_is_poured_than_is_wanted():
    counts, left_ml, _ = mixing.shots_left(45, {"grub": 7, "worm": 12}, wanted={"grub": 1})
    assert (counts, left_ml) == ({"grub": 1, "worm": 0}, 38)


def test_three_thirds_of_a_cup_empty_it():
    counts, left_ml, _ = mixing.shots_left(100, {"third": 100 / 3})
    assert counts == {"third": 3}
    assert left_ml == pytest.approx(0, abs=1e-6)


def test_fills_of_odd_sizes_in_a_large_cup_leave_almost_nothing():
    fills = {f"bait {n}": 5 + math.sqrt(n + 2) * 3 for n in range(10)}
    counts, left_ml, _ = mixing.shots_left(1000, fills)
    assert sum(counts[key] * fills[key] for key in fills) + left_ml == pytest.approx(1000)
    assert left_ml <= 1e-3


def test_fill_of_nothing_is_refused():
    with pytest.raises(ValueError, match="a fill of grub"):
        mixing.shots_left(10, {"grub": 0})


@given(
    st.integers(0, 60),
    st.lists(st.integers(3, 25), min_size=1, max_size=3),
    st.one_of(st.none(), st.lists(st.integers(0, 3), min_size=3, max_size=3)),
)
def test_no_other_counts_leave_less_in_the_cup(base_ml, sizes, most):
    """Every combination of counts is tried: whole mL, so the sums are exact."""
    fills = {f"bait {n}": size for n, size in enumerate(sizes)}
    wanted = most and dict(zip(fills, most, strict=False))
    ranges = [range((most[n] if most else 20) + 1) for n in range(len(sizes))]
    sums = (
        sum(count * size for count, size in zip(counts, sizes, strict=True))
        for counts in itertools.product(*ranges)
    )
    least = min(base_ml - total for total in sums if total <= base_ml)
    counts, left_ml, too_big = mixing.shots_left(base_ml, fills, wanted=wanted)
    assert left_ml == pytest.approx(least, abs=1e-9)
    assert sum(counts[key] * fills[key] for key in fills) + left_ml == pytest.approx(base_ml)
    assert too_big == [key for key in fills if fills[key] > base_ml]
