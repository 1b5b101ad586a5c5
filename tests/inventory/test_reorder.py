"""Whole packs: what is low, how much brings it to the target, and the cheapest way to buy that."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory import reorder


@pytest.mark.parametrize(
    ("on_hand", "minimum", "target", "expected"),
    [
        (31, 30, 118, 0),  # above the minimum
        (30, 30, 118, 88),  # at the minimum is low already
        (0, 30, 118, 118),
        (10, 30, 0, 20),  # no target: up to the minimum
        (10, 30, 20, 20),  # a target below the minimum counts as the minimum
        (30, 30, 30, 1),  # at both: one pack
        (0, 0, 118, 0),  # without a minimum nothing is ever low
    ],
)
def test_what_brings_an_item_to_its_target(on_hand, minimum, target, expected):
    assert reorder.to_buy(on_hand, minimum, target) == expected


def test_a_big_pack_wins_when_it_is_cheaper_in_all():
    quart, gallon = reorder.Offer(1, 946, 1800), reorder.Offer(2, 3785, 5200)
    assert reorder.whole_packs(900, [quart, gallon]) == reorder.Purchase(quart, 1)
    assert reorder.whole_packs(2800, [quart, gallon]) == reorder.Purchase(gallon, 1)
    assert reorder.whole_packs(1892, [quart, gallon]) == reorder.Purchase(quart, 2)


def test_of_equal_prices_the_one_with_least_left_over_is_taken():
    small, large = reorder.Offer(1, 100, 650), reorder.Offer(2, 120, 650)
    assert reorder.whole_packs(90, [large, small]).offer == small


def test_without_packs_or_need_nothing_is_bought():
    assert reorder.whole_packs(10, []) is None
    assert reorder.whole_packs(0, [reorder.Offer(1, 100, 650)]) is None


offers = st.lists(
    st.builds(reorder.Offer, st.integers(), st.integers(1, 50), st.integers(0, 500)),
    min_size=1,
    max_size=5,
)


@given(st.integers(1, 300), offers)
def test_a_purchase_covers_the_need_and_nothing_of_one_size_is_cheaper(need, choices):
    purchase = reorder.whole_packs(need, choices)
    assert purchase.quantity >= need
    for offer, count in itertools.product(choices, range(1, need + 1)):
        if offer.quantity * count >= need:
            assert purchase.price_minor <= offer.price_minor * count
