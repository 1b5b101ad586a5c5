"""The cheapest packs for a need: one supplier or several, one item or a basket.

Covers and baskets are compared with trying every count of every pack, priced again here in fractions.
"""

import itertools
import math
import random
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory import cover, replenish
from inventory.replenish import Pack, Terms

PINT, QUART, GALLON = 473.176473, 946.352946, 3785.411784


# -- trying every order ----------------------------------------------------------------------------


def price_of(counts, packs, terms):
    """Goods and shipping of an order, or None where a minimum is missed."""
    goods = {}
    for pack, count in zip(packs, counts, strict=True):
        if not count:
            continue
        if count < pack.least:
            return None
        each = [Fraction(pack.price)]
        each += [Fraction(price) for start, price in pack.breaks if count >= start]
        goods[pack.supplier] = goods.get(pack.supplier, 0) + count * each[-1]
    total = sum(goods.values())
    for term in terms:
        if term.supplier not in goods:
            continue
        if goods[term.supplier] < term.minimum:
            return None
        free = term.free_from is not None and goods[term.supplier] >= term.free_from
        total += 0 if free else Fraction(term.shipping)
    return total


def every_order(needs, packs, terms, most):
    """(total, quantity, packs) of every order that covers the needs (item to amount)."""
    for counts in itertools.product(range(most + 1), repeat=len(packs)):
        held = dict.fromkeys(needs, 0)
        for pack, count in zip(packs, counts, strict=True):
            held[pack.item] += count * pack.quantity
        if all(held[item] >= need for item, need in needs.items()):
            total = price_of(counts, packs, terms)
            if total is not None:
                yield total, sum(held.values()), sum(counts)


def counts_in(purchase):
    return {line.pack.key: line.count for line in purchase.lines}


def random_pack(pick, key, supplier, item="", most=6):
    price = pick.randint(4, 12)
    breaks = [(pick.randint(2, 4), price - pick.randint(1, 2))] if pick.random() < 0.4 else []
    if breaks and pick.random() < 0.3:
        breaks.append((breaks[0][0] + 2, 2))
    return Pack(
        key, pick.randint(1, most), price, supplier, item, breaks, least=pick.choice([1, 1, 1, 2])
    )


def random_terms(pick, supplier, highest):
    free_from = pick.choice([None, pick.randint(8, highest)])
    return Terms(
        supplier, pick.choice([0, 0, pick.randint(5, 16)]), pick.choice([0, 3, 6]), free_from
    )


# -- covering one need -----------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(80))
def test_cover_is_the_cheapest_of_all_orders(seed):
    """Ten packs of one kind reach any need, break and sum that is drawn here."""
    pick = random.Random(seed)
    packs = [random_pack(pick, f"pack {n}", pick.choice("ab")) for n in range(3)]
    terms = [random_terms(pick, supplier, 20) for supplier in "ab"]
    need = pick.randint(1, 10)
    total, quantity, _ = min(every_order({"": need}, packs, terms, most=10))
    bought = replenish.cover(need, packs, terms=terms)
    assert (bought.total, bought.quantity) == (total, quantity)
    assert bought.covers and bought.proven
    assert price_of([counts_in(bought).get(p.key, 0) for p in packs], packs, terms) == total


@pytest.mark.parametrize("seed", range(40))
def test_cover_in_odd_sizes_agrees_with_the_integer_program(seed):
    """Liquid sizes and prices to the cent, solved a second way by HiGHS (scipy.optimize.milp)."""
    pick = random.Random(900 + seed)
    packs = [
        Pack(
            f"{size} of {supplier}",
            size,
            round(size**0.85 * pick.uniform(0.02, 0.03), 2),
            supplier,
            "clear",
        )
        for supplier in "ab"
        for size in pick.sample([118.294118, 236.588237, PINT, QUART, GALLON], 3)
    ]
    terms = [Terms(s, pick.choice([0, 30]), pick.choice([6.5, 11]), 60) for s in "ab"]
    need = pick.uniform(100, 12_000)
    bought = replenish.cover(need, packs, terms=terms)
    program = replenish.basket({"clear": need}, packs, terms=terms, time_limit=60)
    assert bought.proven and program.purchase.proven
    assert bought.total == pytest.approx(program.purchase.total, abs=1e-6)


def test_gallon_with_quarts_beats_either_alone():
    """5 qt: 1 gal + 1 qt is 36 + 11 = 47; two gallons 72, five quarts 55. Reckoned by hand."""
    bought = replenish.cover(5 * QUART, [Pack("quart", QUART, 11), Pack("gallon", GALLON, 36)])
    assert counts_in(bought) == {"quart": 1, "gallon": 1}
    assert bought.total == 47


def test_one_more_pack_is_bought_where_the_price_break_pays_for_it():
    """Nine jars at 5.00 are 45.00, ten at 4.00 are 40.00."""
    jars = [Pack("jar", 30, 5, breaks=[(10, 4)])]
    assert counts_in(replenish.cover(270, jars)) == {"jar": 10}
    assert replenish.cover(270, jars).total == 40
    assert replenish.cover(210, jars).total == 35


def test_order_minimum_is_filled_with_goods():
    """One bottle at 7.00 isn't sold under 20.00: three are 21.00, one with the 13.00 jug is 20.00."""
    packs = [Pack("bottle", 100, 7, "dock"), Pack("jug", 150, 13, "dock")]
    bought = replenish.cover(90, packs, terms=[Terms("dock", minimum=20)])
    assert counts_in(bought) == {"bottle": 1, "jug": 1}
    assert bought.total == 20


def test_shipping_is_paid_once_to_each_supplier():
    packs = [Pack("far", 10, 4, "far"), Pack("near", 10, 5, "near")]
    terms = [Terms("far", shipping=6), Terms("near", shipping=1)]
    assert replenish.cover(50, packs, terms=terms).total == 5 * 5 + 1
    assert replenish.cover(80, packs, terms=terms).total == 8 * 4 + 6


@pytest.mark.parametrize("order", [1, -1])
def test_same_price_leaves_less_over_and_then_fewer_packs_to_open(order):
    less_over = [Pack("big", 12, 9), Pack("small", 3, 3)]
    assert counts_in(replenish.cover(8, less_over[::order])) == {"small": 3}
    # 18 for 20 either way: two tens, or one ten with a six and a four.
    fewer = [Pack("ten", 10, 9), Pack("six", 6, 5), Pack("four", 4, 4)]
    assert counts_in(replenish.cover(20, fewer[::order])) == {"ten": 2}
    halves = [Pack("ten", 10, 10), Pack("five", 5, 5)]
    assert counts_in(replenish.cover(10, halves[::order])) == {"ten": 1}


def test_thirty_two_small_bottles_are_a_gallon_though_rounding_takes_a_hair():
    """4 fl oz is 118.29411825 mL (231 in³ / 32), kept as 118.294118: 32 of them miss 8e-6 mL."""
    bottles = [Pack("4 fl oz", 118.294118, 3)]
    assert counts_in(replenish.cover(GALLON, bottles)) == {"4 fl oz": 32}
    assert counts_in(replenish.cover(GALLON * 1.00001, bottles)) == {"4 fl oz": 33}


def test_nothing_is_bought_when_the_shelf_covers_the_need():
    for on_hand in (5, 9):
        bought = replenish.cover(5, [Pack("bag", 1, 1)], on_hand=on_hand)
        assert bought == replenish.Purchase()
        assert bought.covers
    assert replenish.cover(5, [Pack("bag", 1, 1)], on_hand=-2).quantity == 7


def test_search_cut_short_still_covers_the_need_and_says_so(monkeypatch):
    packs = [Pack(f"{size}{s}", size, size**0.9, s) for s in "ab" for size in (3, 7, 11)]
    terms = [Terms("a", minimum=60), Terms("b", minimum=75)]
    proven = replenish.cover(41, packs, terms=terms)
    monkeypatch.setattr(cover, "_PATIENCE", 2)
    bought = replenish.cover(41, packs, terms=terms)
    assert proven.proven and not bought.proven
    assert bought.quantity >= 41
    assert bought.total >= proven.total >= 60


def test_need_that_nobody_can_cover_says_so():
    assert not replenish.cover(5, []).covers
    gift = [Pack("sample", 1, 0, "dock")]
    assert not replenish.cover(5, gift, terms=[Terms("dock", minimum=10)]).covers
    assert replenish.cover(5, gift).total == 0


@pytest.mark.parametrize(
    "figures",
    [
        {"quantity": 0},
        {"quantity": 1e-9},
        {"quantity": math.nan},
        {"price": -1},
        {"price": math.inf},
        {"breaks": [(1, 2)]},
        {"breaks": [(5, 2), (5, 1)]},
        {"breaks": [(5, -2)]},
        {"least": 0},
    ],
)
def test_pack_that_makes_no_sense_is_refused(figures):
    with pytest.raises(ValueError, match="jar"):
        Pack(**({"key": "jar", "quantity": 1, "price": 3} | figures))


@pytest.mark.parametrize("need", [math.nan, math.inf])
def test_need_that_is_no_number_is_refused(need):
    with pytest.raises(ValueError, match="need"):
        replenish.cover(need, [Pack("jar", 1, 1)])
    with pytest.raises(ValueError, match="need"):
        replenish.basket({"": need}, [Pack("jar", 1, 1)])


sizes = st.sampled_from([30.0, 118.294118, 236.588237, PINT, QUART, GALLON])
cents = st.integers(50, 9000).map(lambda price: price / 100)
asked = st.builds(
    Terms,
    st.sampled_from("abc"),
    st.sampled_from([0, 15, 40]),
    st.sampled_from([0, 4.95, 12]),
    st.sampled_from([None, 25, 75]),
)


@st.composite
def offers(draw, items=("",)):
    count = draw(st.integers(1, 6))
    return [
        Pack(
            f"pack {n}",
            draw(sizes),
            draw(cents),
            draw(st.sampled_from("abc")),
            draw(st.sampled_from(items)),
        )
        for n in range(count)
    ]


@settings(deadline=None, max_examples=60)
@given(offers(), st.lists(asked, max_size=3), st.floats(1, 6000), st.floats(0, 4000))
def test_cover_is_never_dearer_than_one_supplier_nor_cheaper_for_more(packs, terms, need, more):
    bought = replenish.cover(need, packs, terms=terms)
    assert bought.quantity >= need * (1 - 1e-6) - 1e-6
    for supplier in {pack.supplier for pack in packs}:
        mine = [pack for pack in packs if pack.supplier == supplier]
        assert bought.total <= replenish.cover(need, mine, terms=terms).total
    assert bought.total <= replenish.cover(need + more, packs, terms=terms).total
    assert bought.total >= replenish.cover(need, packs, terms=terms, on_hand=more).total


# -- a basket over suppliers -----------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(40))
def test_basket_is_the_cheapest_of_all_orders(seed):
    """Eight packs of one kind reach any need, break and sum that is drawn here."""
    pick = random.Random(300 + seed)
    packs = [
        random_pack(pick, f"{item} of {supplier}", supplier, item, most=4)
        for item in ("dye", "hook")
        for supplier in "ab"
    ]
    terms = [random_terms(pick, supplier, 16) for supplier in "ab"]
    needs = {"dye": pick.randint(1, 5), "hook": pick.randint(1, 5)}
    found = replenish.basket(needs, packs, terms=terms, time_limit=60)
    total, _, _ = min(every_order(needs, packs, terms, most=8))
    assert found.purchase.total == pytest.approx(float(total), abs=1e-6)
    assert found.purchase.proven and found.purchase.covers
    alone = []
    for supplier in "ab":
        mine = [pack for pack in packs if pack.supplier == supplier]
        alone += every_order(needs, mine, terms, most=8)
    assert found.single_supplier.total == pytest.approx(float(min(alone)[0]), abs=1e-6)


@settings(deadline=None, max_examples=40)
@given(
    offers(items=("dye", "hook", "bag")),
    st.lists(asked, max_size=3),
    st.fixed_dictionaries({item: st.floats(0, 3000) for item in ("dye", "hook", "bag")}),
)
def test_basket_is_never_dearer_than_the_best_single_supplier(packs, terms, needs):
    found = replenish.basket(needs, packs, terms=terms)
    sold = {pack.item for pack in packs}
    assert set(found.missing) == {item for item, need in needs.items() if need > 5e-7} - sold
    for item in sold:
        assert found.purchase.quantity_of(item) >= needs[item] * (1 - 3e-6) - 1e-6
    if found.single_supplier:
        assert len(found.single_supplier.suppliers) == 1
        assert found.purchase.total <= found.single_supplier.total


def test_basket_joins_items_to_reach_free_shipping():
    """Each alone is cheaper at the cape, but both at the dock ship free: 24 + 18 = 42 against 40 + 9."""
    packs = [
        Pack("dye", 100, 24, "dock", "dye"),
        Pack("dye", 100, 23, "cape", "dye"),
        Pack("hooks", 50, 18, "dock", "hook"),
        Pack("hooks", 50, 17, "cape", "hook"),
    ]
    terms = [Terms("dock", shipping=10, free_from=40), Terms("cape", shipping=9)]
    found = replenish.basket({"dye": 100, "hook": 40}, packs, terms=terms)
    assert found.purchase.suppliers == ("dock",)
    assert found.purchase.total == 42
    assert found.single_supplier.total == 42


def test_two_suppliers_are_used_where_that_pays_and_the_single_one_is_priced_beside_it():
    packs = [
        Pack("dye", 100, 10, "dock", "dye"),
        Pack("dye", 100, 40, "cape", "dye"),
        Pack("hooks", 50, 60, "dock", "hook"),
        Pack("hooks", 50, 15, "cape", "hook"),
    ]
    terms = [Terms("dock", shipping=5), Terms("cape", shipping=5)]
    found = replenish.basket({"dye": 100, "hook": 40}, packs, terms=terms)
    assert found.purchase.suppliers == ("cape", "dock")
    assert (found.purchase.goods, found.purchase.shipping) == (25, 10)
    assert found.single_supplier.total == 40 + 15 + 5


def test_supplier_that_always_ships_free_is_no_dearer_for_being_used():
    packs = [Pack("dye", 10, 10, "dock", "dye"), Pack("dye", 10, 12, "cape", "dye")]
    found = replenish.basket({"dye": 10}, packs, terms=[Terms("dock", shipping=5, free_from=0)])
    assert (found.purchase.suppliers, found.purchase.total) == (("dock",), 10)
    assert found.purchase.proven


@pytest.mark.parametrize("order", [1, -1])
def test_one_supplier_is_preferred_where_two_cost_the_same(order):
    packs = [
        Pack(f"{item} of {supplier}", 10, 4, supplier, item)
        for supplier in ["cape", "dock", "quay"][::order]
        for item in ["dye", "hook", "bag", "glint"][: None if supplier == "dock" else 3]
    ]
    needs = dict.fromkeys(["dye", "hook", "bag", "glint"], 10)
    found = replenish.basket(needs, packs)
    assert found.purchase.suppliers == ("dock",)
    assert found.purchase.total == 16


def test_item_that_nobody_sells_is_named_and_the_rest_is_bought():
    found = replenish.basket({"dye": 10, "glint": 5}, [Pack("dye", 10, 4, "dock", "dye")])
    assert found.missing == ("glint",)
    assert found.purchase.total == 4
    assert not found.purchase.covers


def test_basket_is_empty_when_the_shelf_has_everything():
    found = replenish.basket({"dye": 10}, [Pack("dye", 10, 4, "", "dye")], on_hand={"dye": 12})
    assert found.purchase.lines == ()
    assert found.purchase.covers


def test_solver_with_no_time_still_gives_an_order_and_says_it_is_not_proven():
    packs = [Pack(f"{s}{n}", n, 3 * n**0.9, s, "dye") for s in "abc" for n in (3, 7, 11, 19)]
    terms = [Terms(s, shipping=4, free_from=90) for s in "abc"]
    found = replenish.basket({"dye": 97}, packs, terms=terms, time_limit=0)
    assert found.purchase.quantity >= 97 * (1 - 1e-6)
    assert not found.purchase.proven
