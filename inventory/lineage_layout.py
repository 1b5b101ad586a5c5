"""Where the lots of a family stand in its picture: parents above their children, in rows.

A lot's row is the longest way to it from the lot in the middle, so that every line runs downward
(the layering step of Sugiyama, Tagawa and Toda, "Methods for visual understanding of hierarchical
system structures", 1981; rows are ordered by their neighbours' middle, from memory)."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

Edge = tuple[int, int]
#: More boxes than this in a row are left to the lists.
MOST_IN_A_ROW = 8
_SWEEPS = 4


@dataclass(frozen=True)
class Layout:
    """Rows of nodes from the top, the middle's row, the edges that are drawn, and how many nodes each
    row left out."""

    rows: tuple[tuple[int, ...], ...]
    middle: int
    edges: tuple[Edge, ...]
    left_out: tuple[int, ...]


def lay_out(
    middle: int,
    edges: Collection[Edge],
    back: Sequence[int],
    forward: Sequence[int],
    *,
    most: int = MOST_IN_A_ROW,
) -> Layout:
    """Lays out a family of which `back` are the ancestors and `forward` the descendants of `middle`.

    A lot that is both (goods moved away and back) stands with the descendants. Where a row is too
    long, the lots named first in `back` and `forward` are kept."""
    below = [pk for pk in forward if pk != middle]
    above = [pk for pk in back if pk != middle and pk not in set(below)]
    down = _depths(middle, below, edges)
    up = _depths(middle, above, [(child, parent) for parent, child in edges])
    depth = {pk: -level for pk, level in up.items()} | down | {middle: 0}
    top = -min(depth.values())
    rows: list[list[int]] = [[] for _ in range(top + max(depth.values()) + 1)]
    for pk in [*above, middle, *below]:
        rows[depth[pk] + top].append(pk)
    left_out = tuple(max(0, len(row) - most) for row in rows)
    shown = [row[:most] for row in rows]
    kept = {pk for row in shown for pk in row}
    drawn = sorted({(a, b) for a, b in edges if a in kept and b in kept and depth[a] < depth[b]})
    return Layout(_ordered(shown, drawn), top, tuple(drawn), left_out)


def _depths(middle: int, members: Sequence[int], edges: Collection[Edge]) -> dict[int, int]:
    """The longest way from the middle to each member; a member on a circle counts its first way."""
    inside = {middle, *members}
    ways: dict[int, list[int]] = {}
    for start, end in edges:
        if start in inside and end in inside and end != middle:
            ways.setdefault(start, []).append(end)
    depth = dict.fromkeys(members, 1)
    # Relaxing as often as there are members settles every way without a circle.
    for _ in members:
        changed = False
        for start, ends in ways.items():
            level = 0 if start == middle else depth[start]
            for end in ends:
                if depth[end] < level + 1 <= len(members):
                    depth[end], changed = level + 1, True
        if not changed:
            break
    return depth


def _ordered(rows: Sequence[Sequence[int]], edges: Sequence[Edge]) -> tuple[tuple[int, ...], ...]:
    """Each row sorted by the middle of its neighbours' places, up and down in turns."""
    near: dict[int, list[int]] = {}
    for start, end in edges:
        near.setdefault(start, []).append(end)
        near.setdefault(end, []).append(start)
    found = [list(row) for row in rows]
    for sweep in range(_SWEEPS):
        order = range(len(found)) if sweep % 2 == 0 else reversed(range(len(found)))
        for number in order:
            place = _places(found)
            found[number].sort(key=lambda pk: _middle(pk, near, place))  # noqa: B023
    return tuple(tuple(row) for row in found)


def _places(rows: Sequence[Sequence[int]]) -> Mapping[int, float]:
    """Each node's place across: rows begin at the left, where a small screen begins."""
    return {pk: float(i) for row in rows for i, pk in enumerate(row)}


def _middle(pk: int, near: Mapping[int, list[int]], place: Mapping[int, float]) -> float:
    others = [place[other] for other in near.get(pk, ())]
    return sum(others) / len(others) if others else place[pk]
