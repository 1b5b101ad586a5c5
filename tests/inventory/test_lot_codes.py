"""Finding a lot by the code on its label, typed by hand or sent by a scanner."""

import random
import string

import pytest
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from inventory import lot_codes
from inventory.models import Place
from inventory.services import lots, moving, thinning
from production.services import unrecorded
from tests import factories
from tests.factories import key, micro

LETTERS = sorted({*lots.LETTERS.values(), thinning.LETTER, unrecorded.LETTER})
#: Capitals and digits that are often taken for one another (common practice, no source).
GROUPS = ["0OQD", "1IL", "2Z", "5S", "8B", "6G"]


def test_no_lot_code_starts_with_a_letter_that_looks_like_another():
    assert not lot_codes.LOOK_ALIKE & set(LETTERS)
    for group in GROUPS:
        assert sum(letter in group for letter in LETTERS) <= 1, group


def test_a_code_of_ours_has_no_letter_where_a_digit_may_stand(db):
    for letter in LETTERS:
        number = lots.next_number(letter, factories.timezone.localdate())
        assert number[0] in string.ascii_uppercase
        assert not set(number[1:]) - set(string.digits + "-")


codes = st.builds(
    "{}{}-{:02d}".format,
    st.sampled_from(LETTERS),
    st.dates().map(lambda day: f"{day:%y%m%d}"),
    st.integers(1, 999_999),
)


@given(codes, st.randoms(use_true_random=False))
def test_a_code_is_understood_however_it_is_misread(code, chance: random.Random):
    """Every letter may be taken for any other of its group, in any case, with any spaces and dashes."""
    said = ""
    for letter in code:
        group = next((g for g in GROUPS if letter in g), letter)
        said += chance.choice(group + group.lower()) + chance.choice(["", "", " "])
    if chance.random() < 0.5:
        said = said.replace("-", chance.choice(["", " ", "–", " - "]))
    assert lot_codes.reading(said) == code


@pytest.mark.parametrize(
    "typed", ["", "B", "26-0147", "X-ray", "B26112", "β261125-01", "½261125-01"]
)
def test_what_is_no_code_of_ours_is_read_as_none(typed):
    assert lot_codes.reading(typed) is None


def find(client, typed):
    return client.get(reverse("inventory:find_lot"), {"code": typed})


def leads_to(answer, lot):
    return answer.status_code == 302 and answer.url == reverse("inventory:lot", args=[lot.pk])


@pytest.fixture
def lot(shop):
    made = factories.make_lot(factories.make_item(), 50, 10)
    made.number, made.supplier_lot = "R261125-02", "AB 12/7"
    made.save()
    return made


@pytest.mark.parametrize(
    "typed", ["R261125-02", " r 261125 02 ", "R261125–2", "R26II25-O2", "ab12/7", "AB-12/7"]
)
def test_one_lot_is_opened_at_once(helper_client, lot, typed):
    assert leads_to(find(helper_client, typed), lot)


def test_a_scanned_address_opens_its_lot(helper_client, lot):
    assert leads_to(find(helper_client, f"http://pour.local:8000/shelf/lots/{lot.pk}/"), lot)


def test_an_unknown_code_is_said_at_the_field_and_kept(helper_client, lot):
    for typed in ("R261125-99", '"><b>x', "http://pour.local/shelf/lots/999999999999999/"):
        answer = find(helper_client, typed)
        assert answer.status_code == 200
        assert "No lot has this code" in answer.content.decode()
        assert answer.context["typed"] == typed
    assert "No lot has" not in find(helper_client, "\0  ").content.decode()


def test_bags_that_moved_keep_their_code_and_are_offered_by_place(helper_client, shop):
    item = factories.make_item("bagged product", "Reed eel, 8", "each")
    lot = factories.make_lot(item, 20, 10)
    stall = Place.objects.create(name="Harbor market", kind=Place.Kind.STALL)
    moving.move(key=key(), parts=[moving.Part(lot, micro(5))], place=stall, by=None)
    answer = find(helper_client, lot.number.lower().replace("-", " "))
    text = answer.content.decode()
    assert answer.status_code == 200 and "Which one is in your hand?" in text
    assert "Harbor market" in text and f"{lot.number}/m1" in text
    moved = item.lots.exclude(pk=lot.pk).get()
    assert leads_to(find(helper_client, f"{lot.number}/m1"), moved)


def test_shelf_and_bags_have_the_field(helper_client, lot):
    assert 'name="code"' in helper_client.get(reverse("inventory:shelf")).content.decode()


def test_finding_asks_as_often_for_many_lots(helper_client, shop, django_assert_max_num_queries):
    item = factories.make_item()
    for _ in range(30):
        factories.make_lot(item, 5, 1)
    item.lots.update(supplier_lot="SAME")
    with django_assert_max_num_queries(12):
        assert len(find(helper_client, "same").context["found"]) == 30
