"""Unit factors against the published definitions, and against pint as a second reckoner."""

import csv
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pint
import pytest

from inventory import units

DATA = Path(__file__).parent / "data"
PINT_NAMES = {
    "mL": "milliliter",
    "L": "liter",
    "tsp": "teaspoon",
    "tbsp": "tablespoon",
    "fl oz": "fluid_ounce",
    "US cup": "cup",
    "pt": "pint",
    "qt": "quart",
    "gal": "gallon",
    "in3": "inch ** 3",
    "g": "gram",
    "kg": "kilogram",
    "mg": "milligram",
    "oz": "ounce",
    "lb": "pound",
}


def rows(name):
    with open(DATA / name, encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.fixture(scope="module")
def registry():
    return pint.UnitRegistry(non_int_type=Fraction)


@pytest.mark.parametrize("row", rows("units.csv"), ids=lambda row: f"{row['from']} to {row['to']}")
def test_factor_is_the_published_one_to_the_last_digit(row):
    assert Fraction(units.convert(1, row["from"], row["to"])) == Fraction(row["exact_factor"])


@pytest.mark.parametrize("row", rows("temperatures.csv"), ids=lambda row: row["fahrenheit"])
def test_thermometer_reads_the_same_in_both_scales(row):
    celsius = Fraction(row["celsius"])
    assert abs(Fraction(units.fahrenheit_to_celsius(row["fahrenheit"])) - celsius) < Fraction(
        1, 10**40
    )
    if celsius.denominator == 1:
        assert units.celsius_to_fahrenheit(int(celsius)) == Decimal(row["fahrenheit"])


@pytest.mark.parametrize("start", PINT_NAMES)
@pytest.mark.parametrize("end", PINT_NAMES)
def test_every_plain_conversion_agrees_with_pint(registry, start, end):
    if units.kind(start) != units.kind(end):
        with pytest.raises(units.UnitsError, match="density"):
            units.convert(1, start, end)
        return
    theirs = registry.Quantity(Fraction(7, 4), PINT_NAMES[start]).to(PINT_NAMES[end]).magnitude
    ours = Fraction(units.convert(Decimal("1.75"), start, end))
    assert abs(ours / theirs - 1) < Fraction(1, 10**45)


def test_gallon_is_not_the_imperial_one():
    """UK definition: 4.546 09 L exactly."""
    assert units.convert(1, "gal", "L") != Decimal("4.54609")


def test_quart_is_not_the_rounded_kitchen_value():
    """NIST, "Cooking Measurement Equivalencies", prints 1 qt = 950 mL for kitchens."""
    assert units.convert(1, "qt", "mL") != 950


def test_gallon_weight_of_a_grade_agrees_with_pounds_per_gallon():
    """1 lb per US gallon is 0.119 826 427 316 896 628 54 g/mL: quotient of the two definitions."""
    density = units.convert(1, "lb", "g") / units.convert(1, "gal", "mL")
    assert round(density, 20) == Decimal("0.11982642731689662854")
    pounds = units.convert(5, "gal", "lb", density_g_per_ml=density * Decimal("8.5"))
    assert round(pounds, 20) == Decimal("42.5")


def test_fifty_drops_weighed_give_the_size_of_a_drop():
    """Fifty drops from one tip: water 5.00 g, glycerin 3.90 g ("Sizing Drops" 1895, sizes.com)."""
    water = units.convert(50, "drop", "g", ml_per_drop="0.1", density_g_per_ml=1)
    assert water == Decimal("5.00")
    # Glycerin's density of 1.26 g/mL is from memory.
    drop = units.convert("3.90", "g", "mL", density_g_per_ml="1.26") / 50
    grams = units.convert(50, "drop", "g", ml_per_drop=drop, density_g_per_ml="1.26")
    assert round(grams, 20) == Decimal("3.90")


def test_twenty_drops_of_water_make_a_millilitre():
    """20 drops = 1 mL of water, within 10 % ("Droppers", pharmlabs.unc.edu)."""
    assert units.convert(20, "drops", "mL", ml_per_drop="0.05") == 1


def test_oil_drops_are_half_the_size_of_water_drops():
    """Drops per fluid dram (1/8 fl oz): water 60, oils 125 to 136 (dental materia medica p. 25,
    museum.dent.uoa.gr), so a shop that counts an oily colorant as water doses half."""
    dram = units.convert(1, "fl oz", "mL") / 8
    water = units.convert(12, "drop", "mL", ml_per_drop=dram / 60)
    oil = units.convert(12, "drop", "mL", ml_per_drop=dram / 130)
    assert Decimal("0.44") <= oil / water <= Decimal("0.48")


@pytest.mark.parametrize(
    ("inches", "millimetres"),
    [
        (".004", "0.10"),
        (".008", "0.20"),
        (".015", "0.38"),
        (".025", "0.64"),
        (".035", "0.89"),
        (".040", "1.02"),
        (".062", "1.57"),
        (".094", "2.39"),
    ],
)
def test_flake_cube_of_an_inch_size_has_the_volume_of_its_millimetre_size(inches, millimetres):
    """Flake sizes in inches (common practice, no source) times 25.4 mm, rounded to 0.01 mm."""
    volume_mm3 = units.convert(Decimal(inches) ** 3, "in3", "mL") * 1000
    low, high = Decimal(millimetres) - Decimal("0.005"), Decimal(millimetres) + Decimal("0.005")
    assert low**3 <= volume_mm3 <= high**3
