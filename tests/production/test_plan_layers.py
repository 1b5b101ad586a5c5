"""From wishes to fillings of cups: whole shots, no cup too full, nothing forgotten."""

from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from production import plan_layers as plan
from production.evening_terms import EveningError

FOUR = plan.MoldFacts("Reed Eel four", 26, {"Reed Eel": (4, 5.0)}, copies=1, minutes=6)
SIX = plan.MoldFacts("Reed Eel six", 40, {"Reed Eel": (6, 5.0)}, copies=2, minutes=6)
NEWT = plan.MoldFacts("Pond Newt two", 60, {"Pond Newt": (2, 22.0)}, minutes=8)
MOLDS = {mold.key: mold for mold in (FOUR, SIX, NEWT)}
FOG = plan.RecipeLayer("fog", "soft", 1.0, 0.98, {"pearl": 0.01})
BACK = plan.RecipeLayer("back", "soft", 0.6, 0.98, {"soot": 0.02})
BELLY = plan.RecipeLayer("belly", "soft", 0.4, 0.99, {"pearl": 0.01})


def _pieces(shots, layers=(FOG,), heel=10, cup=400, yields=None):
    return plan.pieces(
        "Fog Bell", shots, layers, MOLDS, heel_ml=heel, cups_ml=[cup, cup], yields=yields or {}
    )


def test_the_mold_with_the_fewest_minutes_is_taken():
    [(pattern, shooting)] = plan.shootings([plan.Wish("Fog", "Reed Eel", 48)], [FOUR, SIX], {})
    assert (pattern, shooting) == ("Fog", plan.Shooting("Reed Eel six", "Reed Eel", 8, 0))


def test_a_mold_that_spoils_one_in_five_is_shot_more_often():
    [(_, shooting)] = plan.shootings(
        [plan.Wish("Fog", "Reed Eel", 40)], [FOUR], {"Reed Eel four": 0.8}
    )
    assert (shooting.shots, shooting.spare) == (13, 1)


def test_a_bait_without_a_mold_is_named():
    with pytest.raises(EveningError, match="no mold casts Mud Crab"):
        plan.shootings([plan.Wish("Fog", "Mud Crab", 4)], [FOUR], {})


def test_two_baits_of_one_mold_are_shot_together():
    creek = plan.MoldFacts("Creek", 30, {"Grub": (4, 2.0), "Wisp": (4, 3.0)})
    wishes = [
        plan.Wish("Fog", "Grub", 16),
        plan.Wish("Fog", "Wisp", 24),
        plan.Wish("Mist", "Grub", 4),
    ]
    found = plan.together(plan.shootings(wishes, [creek], {}))
    assert [(pattern, s.bait, s.shots) for pattern, s in found] == [
        ("Fog", "Wisp", 6),
        ("Mist", "Grub", 1),
    ]


def test_a_layer_takes_its_share_of_the_shots_in_mL_of_base():
    [piece] = _pieces([plan.Shooting("Reed Eel four", "Reed Eel", 10, 0)], [BACK, BELLY])
    back, belly = piece.layers
    assert back.shots_ml == pytest.approx(10 * 26 * 0.6 * 0.98)
    assert belly.shots_ml == pytest.approx(10 * 26 * 0.4 * 0.99)
    # 26 mL a shot hold four baits of 5 mL: 6 mL are sprue.
    assert back.trim_ml == pytest.approx(10 * 6 * 0.6 * 0.98)
    assert (back.heel_ml, back.pattern) == (pytest.approx(9.8), belly.pattern)


def test_likely_rejects_come_back_as_trim():
    [piece] = _pieces(
        [plan.Shooting("Reed Eel four", "Reed Eel", 10, 0)], yields={"Reed Eel four": 0.9}
    )
    assert piece.layers[0].trim_ml == pytest.approx(10 * (26 - 0.9 * 20) * 0.98)


def test_more_than_a_cup_holds_is_split_into_whole_shots():
    found = _pieces([plan.Shooting("Reed Eel four", "Reed Eel", 31, 2)])
    assert [piece.pattern for piece in found] == ["Fog Bell/1", "Fog Bell/2", "Fog Bell/3"]
    assert sorted(s.shots for piece in found for s in piece.shootings) == [10, 10, 11]
    assert sum(s.spare for piece in found for s in piece.shootings) == 2


def test_a_shot_larger_than_the_largest_cup_is_named():
    with pytest.raises(EveningError, match="Pond Newt two"):
        _pieces([plan.Shooting("Pond Newt two", "Pond Newt", 1, 0)], cup=65)


@given(
    st.lists(
        st.tuples(st.sampled_from(sorted(MOLDS)), st.integers(1, 40)),
        min_size=1,
        max_size=4,
        unique_by=lambda pair: pair[0],
    ),
    st.floats(80, 500),
    st.sampled_from([(FOG,), (BACK, BELLY)]),
)
def test_every_shot_is_poured_once_and_no_cup_is_too_full(wanted, cup, layers):
    shots = [
        plan.Shooting(mold, next(iter(MOLDS[mold].cavities)), count, 0) for mold, count in wanted
    ]
    found = _pieces(shots, layers, cup=cup)
    poured: dict[str, int] = {}
    for piece in found:
        for shooting in piece.shootings:
            poured[shooting.mold] = poured.get(shooting.mold, 0) + shooting.shots
        for recipe, layer in zip(layers, piece.layers, strict=True):
            assert (layer.shots_ml + layer.heel_ml) / recipe.base_share <= cup + 1e-6
    assert poured == dict(wanted)


def test_one_pair_of_hands_mixes_then_shoots_and_copies_are_shot_together():
    piece = _pieces([plan.Shooting("Reed Eel six", "Reed Eel", 7, 0)], [BACK, BELLY])[0]
    [step] = plan.timeline([piece], MOLDS, 12)
    assert (step.mixing, step.shooting, step.end) == (24, 24, 48)


STEPS = st.lists(st.tuples(st.integers(1, 60), st.integers(0, 30)), min_size=1, max_size=8)


@given(STEPS, st.integers(10, 200))
def test_what_to_drop_is_worth_the_least_of_all_that_would_fit(rows, minutes):
    steps, at = [], 0.0
    for number, (need, _worth) in enumerate(rows):
        steps.append(plan.Step(str(number), at, 0, need))
        at += need
    worth = {str(number): float(value) for number, (_need, value) in enumerate(rows)}
    dropped = plan.to_drop(steps, worth, minutes)
    kept = [n for n in range(len(rows)) if str(n) not in dropped]
    assert sum(rows[n][0] for n in kept) <= minutes
    best = max(
        (sum(rows[n][1] for n in some), len(some))
        for size in range(len(rows) + 1)
        for some in combinations(range(len(rows)), size)
        if sum(rows[n][0] for n in some) <= minutes
    )
    assert (sum(rows[n][1] for n in kept), len(kept)) == best
