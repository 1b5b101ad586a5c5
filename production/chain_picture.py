"""The chain of an evening, drawn: the batches under each other, and an arc for each that went on."""

from collections.abc import Sequence
from dataclasses import dataclass
from xml.sax import saxutils

from inventory.svg import HEX, Drawing

ROW, LEFT, DOT = 34.0, 76.0, 9.0
#: An arc over more rows reaches further out, so that two of them can be told apart.
_REACH, _STEP = 16.0, 11.0
_LETTER = 7.6


@dataclass(frozen=True)
class Node:
    """One batch: its name, and its color as #rrggbb or ""."""

    name: str
    color: str = ""


def svg(nodes: Sequence[Node], edges: Sequence[tuple[int, int]], *, title: str) -> Drawing:
    """Batches from the top in pouring order; `edges` are (from, into), by their place in `nodes`."""
    height = ROW * len(nodes) or ROW
    width = LEFT + DOT * 2 + _LETTER * max((len(node.name) for node in nodes), default=0)
    arcs = "".join(_arc(start, end) for start, end in edges)
    dots = "".join(_node(row, node) for row, node in enumerate(nodes))
    return Drawing(
        f'<svg class="chain" viewBox="0 0 {width:.0f} {height:.0f}" role="img">'
        f"<title>{saxutils.escape(title)}</title>{arcs}{dots}</svg>"
    )


def _y(row: int) -> float:
    return ROW * row + ROW / 2


def _arc(start: int, end: int) -> str:
    x, out = LEFT - DOT - 2, max(2.0, LEFT - DOT - _REACH - _STEP * abs(end - start))
    y, to = _y(start), _y(end)
    head = f"M{x - 7:.1f} {to - 5:.1f}L{x:.1f} {to:.1f}L{x - 7:.1f} {to + 5:.1f}"
    return (
        f'<path class="chain-arc" d="M{x:.1f} {y:.1f}C{out:.1f} {y:.1f} {out:.1f} {to:.1f} '
        f'{x:.1f} {to:.1f}{head}"/>'
    )


def _node(row: int, node: Node) -> str:
    paint = node.color if HEX.fullmatch(node.color) else "none"
    return (
        f'<circle class="chain-dot" cx="{LEFT:.1f}" cy="{_y(row):.1f}" r="{DOT:.1f}" '
        f'fill="{paint}"/><text class="chain-name" x="{LEFT + DOT * 2:.1f}" '
        f'y="{_y(row) + 5:.1f}">{saxutils.escape(node.name)}</text>'
    )
