"""Figures as typed into forms: what is understood, and what is refused in which words."""

from decimal import Decimal

import pytest
from django import forms

from inventory import forms_base
from inventory.models import Item
from inventory.services.posting import KeyReused, LedgerError

COLORANT = Item(name="Copper dusk", kind="colorant", stock_unit="mL")
HOOKS = Item(name="Long hook", kind="part", stock_unit="each")


class Sheet(forms_base.PostingForm):
    number = forms_base.NumberField(required=False)
    money = forms_base.MoneyField(required=False)
    amount = forms_base.AmountField(item=COLORANT, required=False)
    hooks = forms_base.AmountField(item=HOOKS, required=False)
    often = forms_base.NumberField(required=False, whole=True, at_most=5)


def sheet(**typed):
    form = Sheet({"key": "k1", **typed})
    form.is_valid()
    return form


@pytest.mark.parametrize(
    "text", ["NaN", "inf", "-inf", "Infinity", "1e309", "2,5", "-1", "abc", "½½"]
)
@pytest.mark.parametrize("field", ["number", "money", "amount", "hooks", "often"])
def test_text_that_is_no_plain_number_is_refused_at_its_field(field, text):
    form = sheet(**{field: text})
    assert list(form.errors) == [field]
    assert form[field].value() == text


@pytest.mark.parametrize(
    ("field", "text", "words"),
    [
        ("number", "2,5", "Write 2.5 with a point."),
        ("number", "1e309", "without the e"),
        ("number", "-1", "cannot be less than zero"),
        ("money", "12.345", "at most 2 decimals"),
        ("money", "99999999999", "at most 1,000,000,000"),
        ("amount", "0", "more than zero"),
        ("amount", "3 drops", "size of a drop"),
        ("amount", "5 g", "density"),
        ("amount", "5 bananas", "not a known unit"),
        ("amount", "0.0000001 mL", "too little"),
        ("amount", "9999999999999", "too large"),
        ("hooks", "2.5", "whole number"),
        ("often", "2.5", "whole number"),
        ("often", "6", "at most 5"),
    ],
)
def test_the_message_says_what_is_wrong(field, text, words):
    assert words in " ".join(sheet(**{field: text}).errors[field])


def test_fractions_and_currency_signs_are_understood():
    form = sheet(number="1 1/2", money="$12.50", hooks="2 dozen", often="4")
    assert form.cleaned_data["number"] == Decimal("1.5")
    assert form.cleaned_data["money"] == 1250
    assert form.cleaned_data["hooks"].millionths == 24_000_000
    assert form.cleaned_data["often"] == 4


def test_an_amount_shows_what_was_understood():
    # The US fluid ounce is 29.5735 mL: NIST Handbook 44, appendix C.
    form = sheet(amount="1 fl oz", number="x")
    assert form.cleaned_data["amount"].millionths == 29_573_530
    assert form["amount"].help_text == "Understood: 29.574 mL."
    # What was typed in the stock unit is read in the other system, too: 59.147 mL are 2 fl oz.
    assert sheet(amount="59.147", number="x")["amount"].help_text.endswith("59.147 mL, ≈ 2 fl oz.")


def test_a_stored_amount_is_offered_in_its_stock_unit():
    form = Sheet(initial={"amount": 29_500_000, "money": 650, "number": Decimal("1.370000")})
    assert form["amount"].value() == "29.5 mL"
    assert form["money"].value() == "6.50"
    assert form["number"].value() == "1.37"


def test_a_form_that_is_shown_gets_a_key_of_its_own():
    first, second = Sheet()["key"].value(), Sheet()["key"].value()
    assert len(first) == 32
    assert first != second


def test_an_invalid_form_keeps_its_key():
    assert sheet(number="x")["key"].value() == "k1"


@pytest.mark.parametrize("key", ["", "k#2", "k" * 60, "<b>"])
def test_a_lost_key_is_replaced_and_asked_for_again(key):
    form = Sheet({"key": key, "number": "1"})
    assert not form.is_valid()
    assert "send it again" in form.non_field_errors()[0]
    assert len(form["key"].value()) == 32


def test_a_question_is_asked_once_and_can_be_answered():
    form = sheet(number="1")
    assert not form.question("More good baits than cavities?")
    assert form.non_field_errors() == ["More good baits than cavities?"]
    assert 'type="checkbox" name="really"' in str(form)
    answered = sheet(number="1", really="on")
    assert answered.question("More good baits than cavities?")
    assert answered.is_valid()


def test_a_refusal_becomes_an_error_and_keeps_the_key():
    form = sheet(number="1")

    def refuse(**facts):
        raise LedgerError("3 mL short.")

    assert forms_base.post_or_errors(form, refuse) is None
    assert form.non_field_errors() == ["3 mL short."]
    assert form["key"].value() == "k1"


def test_a_spent_key_gets_a_fresh_one():
    form = sheet(number="1")

    def refuse(**facts):
        raise KeyReused("Send again to post this as a new one.")

    assert forms_base.post_or_errors(form, refuse) is None
    assert form["key"].value() not in ("k1", "")


def test_what_a_service_refuses_stands_at_the_field_it_names():
    form = sheet(number="1")

    def refuse():
        raise forms.ValidationError({"number": "Too small.", "elsewhere": "Not so."})

    assert forms_base.save_or_errors(form, refuse) is None
    assert form.errors["number"] == ["Too small."]
    assert form.non_field_errors() == ["Not so."]
