"""What an emptied bottle tells about its drops, by hand calculation."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.implied import ImpliedError, Use, per_drop, per_spoon


def drops(*counts: int) -> list[Use]:
    """Uses said in drops; what the books took for them is of no matter."""
    return [Use(Decimal("0.05") * count, f"{count} drops") for count in counts]


def test_a_bottle_that_went_in_drops_alone_gives_its_size():
    found = per_drop(Decimal(30), drops(400, 350, 250))
    # 30 mL ÷ 1000 drops; 3 % of 30 mL is 0.9 mL either way.
    assert (found.size, found.low, found.high) == (
        Decimal("0.0300"),
        Decimal("0.0291"),
        Decimal("0.0309"),
    )
    assert (found.count, found.lines, found.share) == (1000, 3, 1)
    assert found.sureness == "good"


def test_what_left_it_in_other_ways_is_taken_off_and_widens_the_range():
    uses = [*drops(500), Use(Decimal(4), "4 mL"), Use(Decimal(1), "a pinch", guessed=True)]
    found = per_drop(Decimal(30), uses)
    # (30 − 5) mL ÷ 500; ± (0.9 + 0.2 + 0.5) mL ÷ 500.
    assert (found.size, found.low, found.high) == (
        Decimal("0.0500"),
        Decimal("0.0468"),
        Decimal("0.0532"),
    )


def test_a_jar_of_flake_gives_the_weight_of_a_teaspoon():
    uses = [Use(Decimal(3), "6 tsp"), Use(Decimal(3), "2 tbsp"), Use(Decimal(1), "½ tsp")]
    # 6 + 2 × 3 + ½ teaspoons took 25 g.
    assert per_spoon(Decimal(25), uses).size == Decimal("2.0000")


@pytest.mark.parametrize(
    ("uses", "told"),
    [
        ([Use(Decimal(30), "30 mL")], "None of it was logged in drops"),
        ([], "None of it was logged in drops"),
        (drops(12), "too few"),
        ([*drops(100), Use(Decimal(15), "15 mL")], "Too little of it went in drops"),
        ([*drops(100), Use(Decimal(31), "31 mL")], "Too little of it went in drops"),
        ([*drops(900_000)], "more drops than it can have held"),
    ],
)
def test_where_the_log_tells_nothing_it_says_why(uses, told):
    with pytest.raises(ImpliedError, match=told):
        per_drop(Decimal(30), uses)


@given(
    st.integers(10, 4000),
    st.lists(st.integers(1, 60), min_size=1, max_size=30),
    st.lists(st.integers(0, 20), max_size=5),
)
def test_the_size_lies_in_its_range_and_gives_back_what_the_bottle_held(held, counts, others):
    uses = [*drops(*counts), *(Use(Decimal(other), f"{other} mL") for other in others)]
    try:
        found = per_drop(Decimal(held), uses)
    except ImpliedError:
        return
    assert found.low <= found.size <= found.high
    given_back = found.size * found.count + sum(others)
    assert abs(given_back - held) <= Decimal("0.0001") * found.count
