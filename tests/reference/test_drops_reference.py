"""The size of a drop against what druggists and the pharmacopeia found."""

from decimal import Decimal

import pytest

from inventory import drops

# "Sizing drops" (1895): fifty drops from one tip. Densities at 20 °C in g/mL, from memory.
WATER, GLYCERIN = Decimal("0.998"), Decimal("1.261")


def test_fifty_drops_of_water_weigh_five_grams_so_one_is_a_tenth_of_a_ml():
    # 5.00 g / 0.998 g/mL / 50, by hand.
    assert drops.from_weight(Decimal("5.00"), 50, WATER) == Decimal("0.100200")


def test_glycerin_from_the_same_tip_makes_a_smaller_drop():
    # 3.90 g / 1.261 g/mL / 50, by hand; the source found glycerin the lighter drop.
    glycerin = drops.from_weight(Decimal("3.90"), 50, GLYCERIN)
    assert glycerin == Decimal("0.061856")
    assert glycerin < drops.from_weight(Decimal("5.00"), 50, WATER)


@pytest.mark.parametrize("grams", ["0.045", "0.055"])
def test_one_drop_of_the_pharmacopeias_dropper_is_about_a_twentieth_of_a_ml(grams):
    # USP ⟨1101⟩: a drop of water from the official dropper weighs 45 to 55 mg.
    size = drops.from_weight(Decimal(grams), 1, WATER)
    assert abs(size - Decimal("0.05")) <= Decimal("0.0052")


def test_twenty_drops_of_water_fill_one_ml():
    # 20 drops = 1 mL of water, ±10 % (the usual dropper's graduation).
    assert drops.from_volume(Decimal(1), 20) == Decimal("0.05")


@pytest.mark.parametrize(
    ("ml", "count", "why"),
    [("0", 50, "nothing"), ("1", 0, "one drop"), ("60", 50, "larger"), ("0.000001", 50, "small")],
)
def test_figures_that_make_no_drop_are_refused(ml, count, why):
    with pytest.raises(drops.DropError, match=why):
        drops.from_volume(Decimal(ml), count)


def test_no_drop_is_weighed_without_a_density():
    with pytest.raises(drops.DropError, match="density"):
        drops.from_weight(Decimal(5), 50, Decimal(0))


# A textbook of dental materia medica, page 25: drops of each in one fluid dram. The US fluid dram is
# 231/1024 cubic inch = 3.6966911953125 mL (NIST Handbook 44, appendix C). Divided by hand.
FLUID_DRAM_ML = Decimal("3.6966911953125")


@pytest.mark.parametrize(
    ("liquid", "count", "ml"),
    [
        ("water", 60, "0.061612"),
        ("glycerine", 67, "0.055174"),
        ("a heavy oil", 125, "0.029574"),
        ("a light oil", 136, "0.027182"),
    ],
)
def test_the_old_tables_drops_per_fluid_dram_come_out(liquid, count, ml):
    assert drops.from_volume(FLUID_DRAM_ML, count) == Decimal(ml)


def test_an_oils_drop_is_less_than_half_of_waters():
    water, oil = (drops.from_volume(FLUID_DRAM_ML, count) for count in (60, 125))
    assert oil * 2 < water


def test_both_ways_of_measuring_agree_on_one_bottle():
    # Water at 0.998 g/mL: sixty drops that fill a fluid dram weigh 3.689298 g, by hand.
    by_weight = drops.from_weight(Decimal("3.689298"), 60, WATER)
    assert by_weight == drops.from_volume(FLUID_DRAM_ML, 60)
