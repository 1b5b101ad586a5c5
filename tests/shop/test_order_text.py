"""Lines of an order as people write them in a message: understood, or asked about, and none lost."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shop import order_text
from shop.finding import Catalog, Known

EEL8 = Known(1, "Reed Eel Marsh Lantern, 8")
SEDGE = Known(2, "Reed Eel Deep Sedge, 8")
MINNOW = Known(3, "Slip Minnow Fog Bell, 6")
CRAW = Known(4, "Stump Craw Brick Kiln, 5")
BOX = Known(5, "Creek box, 16")
CATALOG = Catalog([EEL8, SEDGE, MINNOW, CRAW, BOX])


def _line(text):
    (line,) = order_text.read(text, CATALOG)
    return line


@pytest.mark.parametrize(
    ("text", "bags", "product"),
    [
        ("12 x Reed Eel Marsh Lantern, 8", 12, EEL8),
        ("10x eel marsh", 10, EEL8),
        ("10× Deep Sedge", 10, SEDGE),
        ("3 bags of slip minnow fog", 3, MINNOW),
        ("3 packs fog bell", 3, MINNOW),
        ("Fog Bell – 5", 5, MINNOW),
        ("Fog Bell: 5", 5, MINNOW),
        ("Fog Bell 5 bags", 5, MINNOW),
        ("fog bell (5 bags)", 5, MINNOW),
        ("creek box x 7", 7, BOX),
        ("creek box x7", 7, BOX),
        ("Creek box, 16\t3", 3, BOX),
        ("- 4 x creek box", 4, BOX),
        ("• creek box – 4", 4, BOX),
        ("2) 4 x creek box", 4, BOX),
        ("a dozen bags of brick kiln", 12, CRAW),
        ("two dozen brick kiln", 24, CRAW),
        ("2 doz. brick kiln", 24, CRAW),
        ("half a dozen packs brick", 6, CRAW),
        ("three bags of brick kiln", 3, CRAW),
        ("1,200 x creek box", 1200, BOX),
        ("thirty bags of brick kiln", 30, CRAW),
        ("twenty-four bags of brick kiln", 24, CRAW),
        # What is said around a line is no part of the name.
        ("can I have thirty bags of marsh eel by Friday?", 30, EEL8),
        ("30 bags of eel marsh by Friday?", 30, EEL8),
        ("We'd like 12 x creek box before the 4th, please!", 12, BOX),
        ("- please send us 3 bags of brick kiln for next weekend", 3, CRAW),
        # The pack's own number stays with the name.
        ("12 Reed Eel Marsh Lantern 8", 12, EEL8),
        ("Reed Eel Marsh Lantern, 8 – 5", 5, EEL8),
        ("8 Reed Eel Marsh Lantern 8", 8, EEL8),
    ],
)
def test_a_line_that_can_be_read_in_one_way_is_understood(text, bags, product):
    line = _line(text)
    assert (line.bags, line.product, line.trouble) == (bags, product, "")


@pytest.mark.parametrize(
    ("text", "price"),
    [
        ("5 x creek box @ 5.50", 550),
        ("5 x creek box @ $5.5 each", 550),
        ("5 bags of creek box at 12 a bag", 1200),
        ("5 x creek box", None),
    ],
)
def test_a_price_behind_the_name_is_the_price_of_a_bag(text, price):
    line = _line(text)
    assert (line.bags, line.product, line.price_minor) == (5, BOX, price)


@pytest.mark.parametrize(
    ("text", "asked"),
    [
        # Eight bags of it, or the pack of eight?
        ("Reed Eel Marsh Lantern, 8", "How many bags? The 8 may be"),
        ("Brick Kiln (5)", "How many bags? The 5 may be"),
        # Two of them, or the second line of a list?
        ("2. creek box", "How many bags?"),
        ("creek box", "How many bags?"),
        ("4 x reed eel", "which one?"),
        ("0 x creek box", "no bags at all"),
        ("12 x Creak bx, 16", "Is it one of these?"),
        ("See you on Friday!", "No product fits this"),
        ("x" * 201, "longer than 200"),
    ],
)
def test_a_line_that_can_be_read_in_two_ways_or_none_is_asked_about(text, asked):
    line = _line(text)
    assert asked in line.trouble
    assert line.text == text


def test_several_products_are_offered_with_the_number_kept():
    line = _line("4 x reed eel")
    assert (line.product, line.bags, line.offered) == (None, 4, (EEL8, SEDGE))


def test_a_message_keeps_its_order_and_loses_no_line():
    text = "Hi there\n\n12 x fog bell\n  and 3 bags of brick kiln\nThanks!\n"
    lines = order_text.read(text, CATALOG)
    assert [line.text for line in lines] == [
        "Hi there",
        "12 x fog bell",
        "and 3 bags of brick kiln",
        "Thanks!",
    ]
    assert [bool(line.trouble) for line in lines] == [True, False, True, True]


_words = st.text(alphabet="abcdefghijklmnopqrstuvwy", min_size=3, max_size=8)
_names = st.lists(_words, min_size=2, max_size=4).map(" ".join)


@given(
    names=st.lists(_names, min_size=1, max_size=6, unique=True),
    bags=st.integers(1, 99_999),
    shape=st.sampled_from(
        [
            "{n} x {p}",
            "{n}x {p}",
            "{n}× {p}",
            "{n} bags of {p}",
            "{p} – {n}",
            "{p} x {n}",
            "{p}: {n}",
        ]
        + ["- {n} x {p}", "{p}, {n} bags", "{n:,} x {p}", "{n} {p}", "{p}\t{n}"]
    ),
    pick=st.integers(0, 5),
)
def test_whatever_the_name_and_number_each_shape_is_read_back(names, bags, shape, pick):
    taken = {"dozen", "bag", "bags", "pack", "packs", "packet", "pkg", "pouch"}
    names = [name for name in names if not taken & set(name.split())] or ["reed eel"]
    catalog = Catalog(Known(number, name) for number, name in enumerate(names))
    name = names[pick % len(names)]
    (line,) = order_text.read(shape.format(n=bags, p=name), catalog)
    assert line.bags == bags
    assert line.product == catalog.find(name).found and line.product.name == name
    assert line.trouble == ""


@given(st.text(max_size=400))
def test_any_text_is_read_without_a_loss_or_a_guess(text):
    lines = order_text.read(text, CATALOG)
    assert [line.text for line in lines] == [" ".join(n.split()) for n in order_text.split(text)]
    for line in lines:
        understood = line.product is not None and bool(line.bags)
        assert understood == (not line.trouble)
        assert not (line.product and line.offered)
