"""Which product a text means: exactly one, several to choose from, or none."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shop.finding import Catalog, Known, words

EEL8 = Known(1, "Reed Eel Marsh Lantern, 8", ("Reed Eel", "Marsh Lantern"))
EEL80 = Known(2, "Reed Eel Marsh Lantern, 80", ("Reed Eel", "Marsh Lantern"))
SEDGE = Known(3, "Reed Eel Deep Sedge, 8", ("Reed Eel", "Deep Sedge"))
MINNOW = Known(4, "Slip Minnow Fog Bell, 6", ("Slip Minnow",), exactly=("4006381333931", "SM-FOG"))
OLD = Known(5, "Stump Craw Brick Kiln, 5", retired=True)
BOX = Known(6, "Crème box")
CATALOG = Catalog([EEL8, EEL80, SEDGE, MINNOW, OLD, BOX])


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Reed Eel Marsh Lantern, 8", EEL8),
        ("reed eel marsh lantern 8", EEL8),
        ("eel mar 8", EEL8),
        ("lantern 80", EEL80),
        ("sedge", SEDGE),
        ("4006381333931", MINNOW),
        ("sm fog", MINNOW),
        ("creme BOX", BOX),
        # Nothing that is sold fits, so the retired one is meant; the form says that it is retired.
        ("brick kiln", OLD),
    ],
)
def test_a_name_a_number_or_enough_fragments_of_it_mean_one_product(text, found):
    assert CATALOG.find(text).found == found


@pytest.mark.parametrize(
    ("text", "offered"),
    [("marsh lantern", [EEL8, EEL80]), ("eel 8", [EEL8, SEDGE]), ("reed", [EEL8, EEL80, SEDGE])],
)
def test_fragments_of_several_products_are_asked_about(text, offered):
    answer = CATALOG.find(text)
    assert answer.found is None and answer.sure
    assert list(answer.offered) == offered


def test_a_misspelt_name_is_offered_and_never_taken():
    answer = CATALOG.find("Slip Minow Fog Bel, 6")
    assert (answer.found, answer.offered, answer.sure) == (None, (MINNOW,), False)


@pytest.mark.parametrize("text", ["", "  ", "–", "heron quill", "8 8 9"])
def test_what_fits_nothing_finds_nothing(text):
    assert CATALOG.find(text).found is None


def test_two_names_that_differ_by_punctuation_only_are_asked_about():
    twice = Catalog([Known(1, "Reed-Eel 8"), Known(2, "Reed Eel, 8")])
    assert len(twice.find("reed eel 8").offered) == 2


def test_the_search_gives_what_is_sold_by_name_and_no_more_than_asked():
    assert CATALOG.search("eel", 2) == [SEDGE, EEL8]
    assert OLD not in CATALOG.search("")


@given(st.text(max_size=60))
def test_whatever_is_typed_gets_an_answer_that_really_fits(text):
    answer = CATALOG.find(text)
    if answer.found:
        known = answer.found
        has = words(" ".join((known.name, *known.also, *known.exactly)))
        assert all(any(name.startswith(word) for name in has) for word in words(text))
    assert not (answer.found and answer.offered)


@given(st.lists(st.text(min_size=1, max_size=20), unique_by=words, min_size=1, max_size=8))
def test_every_full_name_means_its_own_product(names):
    catalog = Catalog(Known(number, name) for number, name in enumerate(names))
    for number, name in enumerate(names):
        if words(name):
            assert catalog.find(name).found == Known(number, name)
