"""What one sees of a bottle or a jar, read as people write it."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory import sighting, units
from inventory.amounts import AmountError

BOTTLE = sighting.Pack("1", "4 fl oz bottle", Decimal(120))
JUG = sighting.Pack("2", "1 qt jug", Decimal(950))
NOTHING_KNOWN = {"density_g_per_ml": None, "ml_per_drop": None, "g_per_tsp": None}


def read(text: str, *packs: sighting.Pack, chosen: str = "", density=None) -> sighting.Sight:
    facts = {**NOTHING_KNOWN, "density_g_per_ml": density}
    return sighting.read(text, stock_unit="mL", facts=facts, packs=packs, chosen=chosen)


@pytest.mark.parametrize(
    ("said", "bottles"),
    [
        ("¾ bottle", "0.75"),
        ("3/4", "0.75"),
        ("¾ full", "0.75"),
        ("about ¾ of the bottle", "0.75"),
        ("three quarters of a bottle", "0.75"),
        ("half a bottle", "0.5"),
        ("a half", "0.5"),
        ("½ bottle left", "0.5"),
        ("a quarter", "0.25"),
        ("1½ Bottles", "1.5"),
        ("1 1/2 bottles", "1.5"),
        ("1-1/2 bottles", "1.5"),
        ("2 bottles and a half", "2.5"),
        ("2 and a half bottles", "2.5"),
        ("two full bottles", "2"),
        ("a bottle", "1"),
        ("1 pack", "1"),
        ("empty", "0"),
    ],
)
def test_parts_of_a_bottle(said, bottles):
    assert read(said, BOTTLE).quantity == Decimal(bottles) * 120


@pytest.mark.parametrize(
    ("said", "millilitres"),
    [
        ("90", 90),
        ("90 mL", 90),
        ("2 bottles and 30 mL", 270),
        ("2 bottles + 30 mL", 270),
        ("1 bottle less 5 mL", 115),
        ("½ jug + ¼ bottle", 505),
        ("0", 0),
    ],
)
def test_amounts_and_sums(said, millilitres):
    assert read(said, BOTTLE, JUG).quantity == millilitres


def test_the_scale_less_the_empty_jar():
    # 355 g at 1.25 g/mL are 284 mL.
    assert read("412 g − 57 g", density=Decimal("1.25")).quantity == 284
    assert read("412 g - 57 g", density=Decimal("1.25")).quantity == 284


def test_the_eye_is_rough_where_it_reads_a_level_and_not_where_it_counts():
    assert read("2½ bottles", BOTTLE).rough == 15
    assert read("2 bottles", BOTTLE).rough == 0
    assert read("90 mL", BOTTLE).rough == 0


def test_a_bare_fraction_among_several_packs_is_asked_about():
    with pytest.raises(sighting.WhichPack) as question:
        read("3/4", BOTTLE, JUG)
    assert question.value.packs == (BOTTLE, JUG)
    assert read("3/4", BOTTLE, JUG, chosen="2").quantity == Decimal("712.5")
    assert read("3/4 bottle", BOTTLE, JUG, chosen="2").quantity == 90


def test_packs_of_one_size_from_two_suppliers_raise_no_question():
    other = sighting.Pack("3", "4 fl oz bottle", Decimal(120))
    assert read("½", BOTTLE, other).quantity == 60


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("", "Write a number"),
        ("bottle", "Write a number"),
        ("½", "of what?"),
        ("¾ jar", "no pack of this item is written down"),
        ("412 g with jar", "Take the empty jar's weight off"),
        ("30 mL − 40 mL", "More is taken off"),
        ("2/0 bottle", "divides by zero"),
        ("2 c", "US cup"),
        ("and", "Write a number"),
        ("1 mL and", "Write a number"),
    ],
)
def test_what_cannot_be_understood_is_told(said, told):
    with pytest.raises(AmountError, match=told):
        read(said)


def test_grams_need_the_density():
    with pytest.raises(units.UnitsError, match="density"):
        read("40 g", BOTTLE)


@given(st.text(max_size=80))
def test_whatever_is_typed_is_understood_or_told(text):
    try:
        assert read(text, BOTTLE, JUG).quantity >= 0
    except (AmountError, units.UnitsError) as error:
        assert str(error)


@given(st.integers(0, 400), st.sampled_from(["mL", "bottle", "jug", "fl oz"]))
def test_a_number_of_any_measure_is_that_many_of_it(count, measure):
    one = read(f"1 {measure}", BOTTLE, JUG).quantity
    assert abs(read(f"{count} {measure}", BOTTLE, JUG).quantity - count * one) < Decimal("1e-20")
