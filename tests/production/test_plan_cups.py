"""Batches seated in real cups: by hand, and against every way of seating them."""

import itertools

from hypothesis import given
from hypothesis import strategies as st

from production import plan_cups as plan
from production.evening_terms import Fill, Layer
from production.plan_layers import Piece, Step

LARGE, SMALL = plan.Cup("large", 400), plan.Cup("small", 120)


def _evening(*batches):
    """Pieces of one layer each, half an hour apart: (key, sources, cup it goes on in)."""
    pieces, steps, fills = [], [], {}
    for number, (key, sources, cup_of) in enumerate(batches):
        pieces.append(Piece(key, (), (Layer(key, "soft", 90, 10, {}, key),)))
        steps.append(Step(key, 30 * number, 10, 20))
        fills[key] = Fill(100, dict.fromkeys(sources, 10), 90, {}, 1, not cup_of, cup_of)
    return pieces, steps, fills


def _spans(evening, **total_ml):
    pieces, steps, fills = evening
    return plan.spans(pieces, steps, fills, total_ml or dict.fromkeys(fills, 100))


def test_a_cup_goes_on_and_one_that_waits_stays_taken():
    found = _spans(_evening(("pale", [], ""), ("dark", [], ""), ("third", ["pale"], "pale")))
    assert found == [
        plan.Span("pale", 100, 0, 30, 60),
        plan.Span("dark", 100, 30, 60, 60),
        plan.Span("third", 100, 60, 90, 90, "pale"),
    ]
    assert plan.seats(found, [LARGE, SMALL]) == {"pale": "small", "dark": "large", "third": "small"}
    assert plan.rows(found) == {"pale": "A", "dark": "B", "third": "A"}


def test_two_layers_are_mixed_one_after_the_other_into_two_cups():
    layers = tuple(Layer(key, "soft", 90, 10, {}, "Pale") for key in ("back", "belly"))
    fills = {layer.key: Fill(100, {}, 100, {}, 1, True) for layer in layers}
    total = dict.fromkeys(fills, 100)
    found = plan.spans([Piece("Pale", (), layers)], [Step("Pale", 0, 20, 30)], fills, total)
    assert [(span.layer, span.start, span.end) for span in found] == [
        ("back", 0, 50),
        ("belly", 10, 50),
    ]


def test_a_cup_in_which_others_go_on_is_large_enough_for_the_largest():
    evening = _evening(("pale", [], ""), ("dark", ["pale"], "pale"))
    found = _spans(evening, pale=100, dark=300)
    assert plan.seats(found, [SMALL, LARGE]) == {"pale": "large", "dark": "large"}


def test_remains_that_wait_for_a_still_later_color_keep_their_cup():
    evening = _evening(("pale", [], ""), ("dark", ["pale"], "pale"), ("ink", ["pale"], ""))
    assert [span.goes_on for span in _spans(evening)] == ["", "", ""]


def test_the_one_large_cup_that_waits_is_named():
    evening = _evening(("pale", [], ""), ("dark", [], ""), ("ink", ["pale"], "pale"))
    found = _spans(evening, pale=300, dark=300, ink=300)
    assert plan.seats(found, [LARGE, SMALL]) is None
    span, standing = plan.too_few(found, [LARGE, SMALL])
    assert (span.layer, [other.layer for other in standing]) == ("dark", ["pale"])


def test_a_clean_cup_is_taken_before_a_smaller_one_that_wants_washing():
    found = _spans(_evening(("pale", [], "")))
    cups = [plan.Cup("small", 120, clean=False), LARGE]
    assert plan.seats(found, cups) == {"pale": "large"}


EVENINGS = st.lists(
    st.tuples(st.sampled_from([80, 200, 350]), st.integers(1, 3)), min_size=1, max_size=5
)
CUPS = st.lists(st.sampled_from([100, 250, 400]), min_size=1, max_size=3)


@given(EVENINGS, CUPS)
def test_a_seat_is_found_just_when_some_way_of_seating_exists(batches, sizes):
    """Every choice of a cup for each batch is tried."""
    found = [
        plan.Span(f"b{n}", total, 30 * n, 30 * (n + 1), 30 * (n + length))
        for n, (total, length) in enumerate(batches)
    ]
    cups = [plan.Cup(f"c{n}", size) for n, size in enumerate(sizes)]

    def holds(choice):
        return all(cup.most_ml >= span.total_ml for span, cup in zip(found, choice, strict=True))

    def apart(choice):
        pairs = itertools.combinations(zip(found, choice, strict=True), 2)
        return all(
            one_cup is not cup or span.end <= other.start for (span, one_cup), (other, cup) in pairs
        )

    possible = any(
        holds(choice) and apart(choice) for choice in itertools.product(cups, repeat=len(found))
    )
    seats = plan.seats(found, cups)
    assert (seats is not None) == possible
    if seats:
        by_key = {cup.key: cup for cup in cups}
        choice = [by_key[seats[span.layer]] for span in found]
        assert holds(choice) and apart(choice)
