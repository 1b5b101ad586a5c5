"""Units as a caster uses them: spoons, drops, ounces and gallons."""

from decimal import Context, Decimal, localcontext
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory import units

FACTS = {"density_g_per_ml": Decimal("1.05"), "ml_per_drop": Decimal("0.042")}
MEASURED = [name for name in units.UNITS if units.kind(name) != "count"]
quantities = st.decimals(min_value=-(10**9), max_value=10**9, places=6)
figures = st.decimals(min_value=Decimal("0.001"), max_value=20, places=6)


@given(quantities, st.sampled_from(MEASURED), st.sampled_from(MEASURED), figures, figures, figures)
def test_a_quantity_comes_back_from_any_unit(quantity, start, end, density, drop, spoon):
    facts = {"density_g_per_ml": density, "ml_per_drop": drop, "g_per_tsp": spoon}
    there = units.convert(quantity, start, end, **facts)
    back = units.convert(there, end, start, **facts)
    assert abs(back - quantity) <= abs(quantity) * Decimal("1e-40")


@given(quantities, st.sampled_from(["dozen", "each"]), st.sampled_from(["dozen", "each"]))
def test_counts_come_back_from_dozens(quantity, start, end):
    back = units.convert(units.convert(quantity, start, end), end, start)
    assert abs(back - quantity) <= abs(quantity) * Decimal("1e-40")


@given(st.decimals(min_value=-(10**8), max_value=10**8, places=6))
def test_gallons_posted_in_millionths_of_a_millilitre_are_rounded_once(quantity):
    exact = Fraction(quantity) * Fraction(473176473, 125000)
    assert units.to_micro(units.convert(quantity, "gal", "mL")) == round(exact * 10**6)


def test_one_gallon_pail_holds_128_fluid_ounces_and_768_teaspoons():
    assert units.convert(1, "gal", "fl oz") == 128
    assert units.convert(1, "gal", "tsp") == 768


def test_dozen_hooks_are_twelve():
    assert units.convert(3, "dozen", "each") == 36


def test_conversion_ignores_the_callers_decimal_precision():
    with localcontext(Context(prec=3)):
        assert units.convert(1, "gal", "mL") == Decimal("3785.411784")
        assert units.to_micro(Decimal("123456.789012")) == 123456789012
        assert units.from_micro(123456789012) == Decimal("123456.789012")


def test_a_third_of_a_teaspoon_can_be_a_fraction():
    grams = units.convert(Fraction(1, 3), "tsp", "g", g_per_tsp=3)
    assert abs(grams - 1) < Decimal("1e-40")


def test_float_counts_as_the_decimal_it_prints_as():
    assert units.convert(0.1, "L", "mL") == 100


class TestMissingFigures:
    def test_grams_to_millilitres_need_the_density(self):
        with pytest.raises(units.UnitsError) as refusal:
            units.convert(1, "g", "mL")
        assert str(refusal.value) == "To turn g into mL the density of the item is needed."

    def test_drops_to_millilitres_need_the_size_of_a_drop(self):
        with pytest.raises(units.UnitsError) as refusal:
            units.convert(1, "drops", "mL", density_g_per_ml=1)
        assert (
            str(refusal.value) == "To turn drop into mL the size of a drop of the item is needed."
        )

    def test_drops_to_grams_name_both_figures(self):
        with pytest.raises(
            units.UnitsError, match="size of a drop and the density of the item are"
        ):
            units.convert(1, "drop", "g")

    def test_spoons_to_grams_need_the_weight_of_a_teaspoon(self):
        with pytest.raises(units.UnitsError, match="weight of a teaspoon"):
            units.convert(1, "tbsp", "g")

    @pytest.mark.parametrize("other", ["mL", "g", "tsp"])
    def test_hooks_are_counted_never_measured(self, other):
        with pytest.raises(units.UnitsError, match="counted"):
            units.convert(1, "each", other, density_g_per_ml=1, g_per_tsp=1)

    @pytest.mark.parametrize("value", [0, -1, "-0.5", "NaN", "Infinity", "1e-999999", "thick"])
    @pytest.mark.parametrize("name", ["density_g_per_ml", "ml_per_drop", "g_per_tsp"])
    def test_a_figure_that_cannot_be_is_refused(self, name, value):
        with pytest.raises(units.UnitsError):
            units.convert(1, "drop", "g", **({**FACTS, name: value}))

    @pytest.mark.parametrize(
        "value", ["NaN", "-Infinity", "1e400", "some", None, True, float("inf")]
    )
    def test_a_quantity_that_is_no_number_is_refused(self, value):
        with pytest.raises(units.UnitsError, match="quantity"):
            units.convert(value, "gal", "mL")


class TestFlakeBySpoon:
    """A spoon of flake holds air: 1 tsp weighing 3 g is far lighter than its solid volume."""

    def test_spoon_goes_by_its_weight_when_density_is_known_too(self):
        assert units.convert(2, "tsp", "g", g_per_tsp=3, density_g_per_ml="1.37") == 6
        assert units.convert(1, "tbsp", "g", g_per_tsp=3, density_g_per_ml="1.37") == 9
        assert units.convert(1, "US cup", "g", g_per_tsp=3, density_g_per_ml="1.37") == 144

    def test_true_volume_goes_by_density_when_both_are_known(self):
        assert units.convert(10, "mL", "g", g_per_tsp=3, density_g_per_ml="1.37") == Decimal("13.7")

    def test_millilitres_are_bulk_when_only_the_spoon_is_known(self):
        spoon_ml = units.convert(1, "tsp", "mL")
        grams = units.convert(spoon_ml, "mL", "g", g_per_tsp=3)
        assert abs(grams - 3) < Decimal("1e-40")

    def test_spoon_of_liquid_goes_by_density(self):
        assert units.convert(1, "tsp", "g", density_g_per_ml=1) == Decimal("4.92892159375")


class TestNames:
    @pytest.mark.parametrize(
        ("said", "meant"),
        [
            ("cups", "US cup"),
            ("U.S. cup", "US cup"),
            ("teaspoon", "tsp"),
            ("TBSP.", "tbsp"),
            ("Tablespoons", "tbsp"),
            ("millilitres", "mL"),
            ("milliliter", "mL"),
            ("ML", "mL"),
            ("litre", "L"),
            ("fl. oz.", "fl oz"),
            ("fluid  ounces", "fl oz"),
            ("floz", "fl oz"),
            ("ounces", "oz"),
            ("oz", "oz"),
            ("Pounds", "lb"),
            ("lbs", "lb"),
            ("grams", "g"),
            ("kilo", "kg"),
            ("drops", "drop"),
            ("cu. in.", "in3"),
            ("in³", "in3"),
            ("pints", "pt"),
            ("quart", "qt"),
            ("Gallons", "gal"),
            ("pcs", "each"),
            ("doz", "dozen"),
        ],
    )
    def test_usual_spelling_is_understood(self, said, meant):
        assert units.unit(said) == meant

    @pytest.mark.parametrize("name", units.UNITS)
    def test_every_id_names_itself_in_any_case(self, name):
        assert units.unit(name) == name
        assert units.unit(f" {name.upper()} ") == name

    @pytest.mark.parametrize("said", ["T", "t", "gr", "c"])
    def test_a_letter_with_two_meanings_is_asked_about(self, said):
        with pytest.raises(units.UnitsError, match="Write"):
            units.unit(said)

    @pytest.mark.parametrize("said", ["imperial gallon", "pinch", "", "m"])
    def test_unknown_unit_is_refused_with_those_known(self, said):
        with pytest.raises(units.UnitsError, match="Known are mL, L, tsp"):
            units.unit(said)


class TestConvertible:
    def test_bottle_without_figures_takes_volumes_but_no_drops_and_no_weights(self):
        found = units.convertible("mL")
        assert found[0] == "mL"
        assert set(found) == set(units.VOLUMES) - {"drop"}

    def test_calibrated_bottle_takes_every_volume_and_weight(self):
        assert set(units.convertible("mL", **FACTS)) == set(units.VOLUMES + units.MASSES)

    def test_weighed_flake_takes_spoons_once_a_spoon_was_weighed(self):
        assert set(units.convertible("g")) == set(units.MASSES)
        assert {"tsp", "tbsp", "US cup"} <= set(units.convertible("g", g_per_tsp=3))

    def test_hooks_come_single_or_by_the_dozen(self):
        assert units.convertible("each") == ["each", "dozen"]

    @given(
        st.sampled_from(units.STOCK_UNITS),
        st.fixed_dictionaries(
            {},
            optional=dict.fromkeys(["density_g_per_ml", "ml_per_drop", "g_per_tsp"], figures),
        ),
    )
    def test_list_is_just_what_convert_accepts(self, stock_unit, facts):
        accepted = set()
        for name in units.UNITS:
            try:
                units.convert(1, name, stock_unit, **facts)
            except units.UnitsError:
                continue
            accepted.add(name)
        assert set(units.convertible(stock_unit, **facts)) == accepted


class TestMillionths:
    @given(st.integers(min_value=-(10**18), max_value=10**18))
    def test_what_is_kept_comes_back(self, millionths):
        assert units.to_micro(units.from_micro(millionths)) == millionths

    @given(st.decimals(min_value=-(10**12), max_value=10**12, allow_nan=False))
    def test_rounding_is_half_even_and_happens_once(self, value):
        assert units.to_micro(value) == round(Fraction(value) * 10**6)

    @pytest.mark.parametrize(
        ("value", "kept"), [("2.0000005", 2000000), ("2.0000015", 2000002), ("-0.0000015", -2)]
    )
    def test_half_a_millionth_goes_to_the_even_neighbor(self, value, kept):
        assert units.to_micro(value) == kept

    @pytest.mark.parametrize("value", ["1000000000000.0000001", "-1000000000001", "1e30", "NaN"])
    def test_what_the_column_cannot_hold_is_refused(self, value):
        with pytest.raises(units.UnitsError):
            units.to_micro(value)

    def test_the_largest_quantity_fits_a_signed_64_bit_column(self):
        assert units.to_micro(units.LARGEST) < 2**63


@given(st.decimals(min_value=-500, max_value=1000, places=3))
def test_temperature_comes_back_from_fahrenheit(celsius):
    back = units.fahrenheit_to_celsius(units.celsius_to_fahrenheit(celsius))
    assert abs(back - celsius) < Decimal("1e-40")
