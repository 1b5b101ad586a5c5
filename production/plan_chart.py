"""The timeline of an evening as bars: hands, the cups in use, and the hours there are.

Lengths are in the drawing's own units; the page puts them into an SVG."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

WIDTH, LEFT, RIGHT, ROW = 720, 64, 18, 34
#: Ticks stand every half hour, and every hour on a long evening.
_HALF_HOURS_UP_TO = 300


@dataclass(frozen=True)
class Bar:
    """One stretch of time: `kind` is mix, shoot, cup or wait; `text` fits into it, or is empty."""

    kind: str
    x: float
    y: float
    width: float
    text: str
    title: str


@dataclass(frozen=True)
class Chart:
    """Bars, labels of the rows, ticks (x, text), and where the hours end."""

    bars: list[Bar]
    labels: list[tuple[float, str]]
    ticks: list[tuple[float, str]]
    ends_at: float
    width: int
    height: int


def draw(
    pieces: Sequence[Mapping[str, Any]],
    batches: Sequence[Mapping[str, Any]],
    minutes: float,
) -> Chart:
    """`pieces` and `batches` as a plan's outcome has them, in the order of pouring."""
    total = sum(piece["mixing"] + piece["shooting"] for piece in pieces)
    longest = max(total, minutes, 1.0)
    scale = (WIDTH - LEFT - RIGHT) / longest

    def x(at: float) -> float:
        return round(LEFT + at * scale, 1)

    bars: list[Bar] = []
    at = 0.0
    for piece in pieces:
        numbers = [str(b["number"]) for b in batches if b["piece"] == piece["key"]]
        name = f"{piece['name']} (batch {' and '.join(numbers)})"
        for kind, length, verb in (
            ("mix", piece["mixing"], "mixing"),
            ("shoot", piece["shooting"], "shooting"),
        ):
            text = "+".join(numbers) if kind == "shoot" else ""
            title = f"{name}: {verb}, minute {at:.0f} to {at + length:.0f}"
            bars.append(_bar(kind, x(at), 0, length * scale, text, title))
            at += length
    cups = {batch["cup_row"]: batch["cup_name"] for batch in batches}
    for batch in batches:
        row = 1 + batch["cup_row"]
        used, until = batch["cup_waits"], batch["cup_until"]
        name = f"{batch['cup_name']}: batch {batch['number']}, {batch['name']}"
        start = batch["cup_from"]
        bars.append(_bar("cup", x(start), row, (used - start) * scale, str(batch["number"]), name))
        if until > used:
            bars.append(_bar("wait", x(used), row, (until - used) * scale, "", f"{name}: waits"))
    step = 30 if longest <= _HALF_HOURS_UP_TO else 60
    ticks = [(x(minute), str(minute)) for minute in range(0, int(longest) + 1, step)]
    labels = [(_y(0), "Hands")] + [(_y(1 + row), cups[row]) for row in sorted(cups)]
    return Chart(bars, labels, ticks, x(minutes), WIDTH, round(_y(len(cups) + 1)))


def _y(row: int) -> float:
    return 22 + row * ROW


def _bar(kind: str, x: float, row: int, width: float, text: str, title: str) -> Bar:
    fits = len(text) * 8 + 4 <= width
    return Bar(kind, x, _y(row), round(max(width, 1.0), 1), text if fits else "", title)
