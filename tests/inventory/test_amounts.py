"""Amounts as they are said at the bench, and doses as hands can measure them."""

import unicodedata
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory import amounts, units

COLORANT = {"density_g_per_ml": Decimal("1.05"), "ml_per_drop": Decimal("0.042")}
VULGAR = [chr(code) for code in range(0x00BC, 0x215F) if unicodedata.numeric(chr(code), 2) < 1]
VULGAR = [char for char in VULGAR if unicodedata.decomposition(char).startswith("<fraction>")]


class TestNumbers:
    @pytest.mark.parametrize(
        ("said", "meant"),
        [
            ("1½", "1.5"),
            ("1 ½", "1.5"),
            ("1 1/2", "1.5"),
            ("1-1/2", "1.5"),
            ("1\N{NO-BREAK SPACE}1\N{FRACTION SLASH}2", "1.5"),
            ("¼", "0.25"),
            ("15½", "15.5"),
            ("15 1/2", "15.5"),
            ("151/2", "75.5"),
            ("3/8", "0.375"),
            ("2.5", "2.5"),
            (".5", "0.5"),
            ("2.", "2"),
            ("  12  ", "12"),
            ("+3", "3"),
            ("0", "0"),
            ("007", "7"),
        ],
    )
    def test_what_is_written_is_understood(self, said, meant):
        assert amounts.number(said) == Decimal(meant)

    def test_a_third_has_28_digits(self):
        assert amounts.number("1/3") == Decimal("0.3333333333333333333333333333")
        assert amounts.number("2 1/3") == Decimal("2.333333333333333333333333333")

    @pytest.mark.parametrize("char", VULGAR)
    def test_every_fraction_sign_has_the_value_that_unicode_gives_it(self, char):
        """Numeric values of the Unicode Character Database, as Python carries it."""
        expected = Fraction(unicodedata.numeric(char)).limit_denominator(10)
        assert abs(Fraction(amounts.number(f"3{char}")) - 3 - expected) < Fraction(1, 10**26)

    @given(st.decimals(min_value=0, max_value=10**9, places=6))
    def test_a_printed_decimal_reads_back(self, value):
        assert amounts.number(f"{value:f}") == value

    @given(st.integers(0, 9999), st.integers(1, 64), st.data())
    def test_a_mixed_fraction_is_its_parts_together(self, whole, lower, data):
        upper = data.draw(st.integers(0, lower - 1))
        exact = whole + Fraction(upper, lower)
        read = Fraction(amounts.number(f"{whole} {upper}/{lower}"))
        assert abs(read - exact) <= exact / 10**27

    @pytest.mark.parametrize("said", ["-5", "−5", "- 1/2", "-½"])
    def test_less_than_nothing_is_refused_unless_it_is_a_correction(self, said):
        with pytest.raises(amounts.AmountError, match="minus"):
            amounts.number(said)
        assert amounts.number(said, allow_negative=True) in (Decimal(-5), Decimal("-0.5"))

    def test_minus_zero_is_zero(self):
        assert str(amounts.number("-0")) == "0"


class TestRefusalsSayHowToMend:
    @pytest.mark.parametrize(
        ("said", "mend"),
        [
            ("0,5", "Write 0.5 with a point"),
            ("12,75", "Write 12.75 with a point"),
            ("0,500", "Write 0.500 with a point"),
            (",5", "Write 0.5 with a point"),
            ("1,250", "can mean 1250 or 1.250"),
            ("1,250.5", "Write 1250.5 without commas"),
            ("1.250,5", "Write 1250.5 with a point"),
            ("1,250,000", "Write 1250000 without commas"),
            ("1,2,3", "with a point and without commas"),
            ("nan", "Write a number"),
            ("-inf", "Write a number"),
            ("Infinity", "Write a number"),
            ("1e309", "without the e"),
            ("1E5", "without the e"),
            ("2.5e-3", "without the e"),
            ("", "Write an amount"),
            (" \t ", "Write an amount"),
            ("-", "Write an amount"),
            ("1/0", "divides by zero"),
            ("2 1/0", "divides by zero"),
            ("1 5/3", "Write it as a decimal"),
            ("1 2/2", "Write it as a decimal"),
            ("--5", "more than one sign"),
            ("9" * 20, "too large"),
            ("9" * 200, "too long"),
        ],
    )
    def test_the_message_names_the_way_out(self, said, mend):
        with pytest.raises(amounts.AmountError, match=mend):
            amounts.number(said, allow_negative=True)

    @pytest.mark.parametrize(
        "said",
        [
            *("½½", "1.5½", "1/½", "1.5/2", "1/2/3", "1 2", "2-3", "1 - 1/2", "1²", "٣", "５"),
            *("1_000", "0x10", "5 %", "$5", "1.2.3", ".", "/", "≈5", "½ 1", "5-", "'5'"),
        ],
    )
    def test_what_has_no_single_reading_is_refused(self, said):
        with pytest.raises(amounts.AmountError, match="Write"):
            amounts.number(said)

    @given(st.text(max_size=80))
    def test_any_text_is_either_a_finite_number_or_a_plain_refusal(self, text):
        try:
            value = amounts.number(text, allow_negative=True)
        except amounts.AmountError as refusal:
            assert len(str(refusal)) < 250
        else:
            assert value.is_finite()
            assert abs(value) <= units.LARGEST

    @given(st.text(alphabet="0123456789½⅓.,/- +eEmLgtspx", max_size=20))
    def test_any_amount_is_either_understood_or_a_plain_refusal(self, text):
        try:
            amount = amounts.parse(text, default_unit="mL")
        except amounts.AmountError:
            return
        assert amount.value >= 0
        assert amount.unit in units.UNITS


class TestAmounts:
    @pytest.mark.parametrize(
        ("said", "value", "unit"),
        [
            ("2.5 tsp", "2.5", "tsp"),
            ("12 drops", "12", "drop"),
            ("1½ US cups", "1.5", "US cup"),
            ("½tsp", "0.5", "tsp"),
            ("3 fl. oz.", "3", "fl oz"),
            ("8 ounces", "8", "oz"),
            ("4 in³", "4", "in3"),
            ("1 1/2 gallons", "1.5", "gal"),
            ("24 each", "24", "each"),
        ],
    )
    def test_number_and_unit_are_read_and_the_words_kept(self, said, value, unit):
        assert amounts.parse(said) == amounts.Amount(Decimal(value), unit, said)

    def test_bare_number_takes_the_unit_of_the_form(self):
        assert amounts.parse("1½", default_unit="tsp") == amounts.Amount(
            Decimal("1.5"), "tsp", "1½"
        )

    def test_bare_number_without_a_unit_is_asked_for_one(self):
        with pytest.raises(amounts.AmountError, match="unit"):
            amounts.parse("1½")

    def test_measure_of_the_items_own_is_taken_in_one_or_many(self):
        own = ["pinch", "scoop"]
        assert amounts.parse("1 pinch", measures=own).unit == "pinch"
        assert amounts.parse("2½ pinches", measures=own).unit == "pinch"
        assert amounts.parse("3 Scoops", measures=own).unit == "scoop"

    @pytest.mark.parametrize(
        ("said", "mend"),
        [
            ("2 pinches", "not a known unit. Known are mL"),
            ("drops", "Begin with the number"),
            ("1 lb 4 oz", "one number and one unit"),
            ("2 x ½ tsp", "one number and one unit"),
            ("3 T", "Write tsp or tbsp"),
            ("0,5 tsp", "Write 0.5 with a point"),
            ("1e3 g", "without the e"),
            ("-3 g", "minus"),
            ("nan", "Write a number"),
            ("", "Write an amount"),
            ("3 " + "g" * 5000, "too long"),
        ],
    )
    def test_refusal_names_the_way_out(self, said, mend):
        with pytest.raises(amounts.AmountError, match=mend):
            amounts.parse(said, default_unit="mL")

    @given(
        st.decimals(min_value=0, max_value=10**9, places=3),
        st.sampled_from(units.UNITS),
    )
    def test_what_is_shown_can_be_typed_back(self, value, unit):
        read = amounts.parse(amounts.show(value, unit))
        assert (read.value, read.unit) == (value, unit)


class TestShowing:
    @pytest.mark.parametrize(
        ("value", "unit", "text"),
        [
            ("473.18", "mL", "473.18 mL"),
            ("473.176473", "mL", "473.176 mL"),
            ("10.000000", "g", "10 g"),
            ("0.999999", "mL", "1 mL"),
            ("0.00012345", "g", "0.000123 g"),
            ("-2.50", "mL", "-2.5 mL"),
            ("-0", "mL", "0 mL"),
            ("1200000", "mL", "1200000 mL"),
            ("1", "drop", "1 drop"),
            ("12", "drop", "12 drops"),
            ("0.5", "US cup", "0.5 US cup"),
            ("2", "US cup", "2 US cups"),
        ],
    )
    def test_digits_are_those_that_matter(self, value, unit, text):
        assert amounts.show(Decimal(value), unit) == text

    @given(st.integers(min_value=-(10**18), max_value=10**18).filter(bool))
    def test_what_is_there_is_never_shown_as_nothing(self, millionths):
        value = units.from_micro(millionths)
        shown = amounts.parse(amounts.show(value, "mL"), allow_negative=True).value
        assert abs(shown - value) <= abs(value) * Decimal("0.005")
        assert shown

    @pytest.mark.parametrize(
        ("value", "unit", "text"),
        [
            ("473.18", "mL", "16 fl oz"),
            ("3785.411784", "mL", "1 gal"),
            ("946.352946", "mL", "1 qt"),
            ("29.5735295625", "mL", "1 fl oz"),
            ("14.78676478125", "mL", "1 tbsp"),
            ("2.464460796875", "mL", "0.5 tsp"),
            ("453.59237", "g", "1 lb"),
            ("28.349523125", "g", "1 oz"),
            ("1", "gal", "3.785 L"),
            ("1", "tsp", "4.929 mL"),
            ("5", "lb", "2.268 kg"),
            ("4", "oz", "113.398 g"),
            ("12", "drop", ""),
            ("12", "each", ""),
        ],
    )
    def test_the_other_system_is_said_in_its_handiest_unit(self, value, unit, text):
        """Factors of NIST HB 44 appendix C."""
        assert amounts.other_system(Decimal(value), unit) == text

    def test_a_quantity_can_be_shown_in_the_shops_own_system(self):
        assert amounts.show(Decimal("473.18"), "mL", system="us") == "16 fl oz"
        assert amounts.show(Decimal("1500"), "mL", system="metric") == "1.5 L"
        assert amounts.show(Decimal(12), "each", system="us") == "12 each"


class TestHandMeasures:
    def test_small_dose_of_colorant_is_counted_in_drops(self):
        best = amounts.hand_measures(Decimal("0.5"), "mL", facts=COLORANT)[0]
        assert best.text == "12 drops"
        assert best.made == Decimal("0.504")
        assert best.error == Decimal("0.008")
        assert not best.rough

    def test_more_drops_than_can_be_counted_come_last(self):
        ways = amounts.hand_measures(Decimal(3), "mL", facts=COLORANT)
        assert [way.text for way in ways] == ["3.2 g", "½ tsp + ⅛ tsp", "71 drops"]

    def test_dose_below_half_a_drop_is_one_drop_and_far_off(self):
        best = amounts.hand_measures(Decimal("0.02"), "mL", facts=COLORANT, scale_step=None)[0]
        assert best.text == "1 drop"
        assert best.error == Decimal("1.1")
        assert best.rough

    @pytest.mark.parametrize(("step", "rough"), [("1.1", False), ("1.11", True)])
    def test_only_more_than_ten_percent_off_is_rough(self, step, rough):
        (way,) = amounts.hand_measures(Decimal(1), "g", facts={}, scale_step=Decimal(step))
        assert way.rough is rough

    def test_flake_without_a_scale_is_spooned_by_its_weight(self):
        (way,) = amounts.hand_measures(
            Decimal("6.3"), "g", facts={"g_per_tsp": Decimal(3)}, scale_step=None
        )
        assert way.text == "2 tsp + ⅛ tsp"
        assert way.made == Decimal("6.375")

    def test_weighed_flake_without_a_known_spoon_goes_by_the_scale_alone(self):
        (way,) = amounts.hand_measures(Decimal("6.34"), "g", facts={})
        assert (way.text, way.made) == ("6.3 g", Decimal("6.3"))

    def test_nothing_to_measure_with_gives_no_way(self):
        assert amounts.hand_measures(Decimal(6), "g", facts={}, scale_step=None) == []

    def test_dose_of_nothing_needs_no_measure(self):
        assert amounts.hand_measures(Decimal(0), "mL", facts=COLORANT) == []

    def test_hooks_come_whole(self):
        (way,) = amounts.hand_measures(Decimal("11.8"), "each", facts={})
        assert (way.text, way.made) == ("12 each", Decimal(12))

    def test_negative_dose_is_refused(self):
        with pytest.raises(amounts.AmountError, match="less than zero"):
            amounts.hand_measures(Decimal(-1), "mL", facts=COLORANT)

    def test_shops_own_spoons_are_used(self):
        ways = amounts.hand_measures(
            Decimal(12), "mL", facts={}, spoons=["4 mL", "10 mL"], scale_step=None
        )
        assert ways[0].text == "12 mL"
        assert ways[0].pieces == 3

    @given(st.integers(min_value=1, max_value=200))
    def test_any_eighth_of_a_teaspoon_is_made_exactly_with_the_fewest_spoons(self, eighths):
        """The usual set halves at each step, tbsp apart, so greedy change-making is least."""
        dose = eighths * units.convert(Decimal("0.125"), "tsp", "mL")
        (way,) = amounts.hand_measures(dose, "mL", facts={}, scale_step=None)
        rest, fewest = eighths, 0
        for size in (24, 8, 4, 2, 1):
            fewest, rest = fewest + rest // size, rest % size
        assert way.error == 0
        assert way.pieces == fewest

    @given(st.decimals(min_value=Decimal("0.000001"), max_value=10000, places=6))
    def test_made_is_within_half_of_the_finest_step(self, dose):
        for way in amounts.hand_measures(dose, "mL", facts=COLORANT):
            finest = units.convert(Decimal("0.125"), "tsp", "mL")
            if way.text.endswith(("drop", "drops")):
                finest = Decimal("0.042")
            elif way.text.endswith(" g"):
                finest = Decimal("0.1") / Decimal("1.05")
            assert abs(way.made - dose) <= max(finest / 2, finest - dose) * (1 + Decimal("1e-20"))
            assert way.error == abs(way.made - dose) / dose
