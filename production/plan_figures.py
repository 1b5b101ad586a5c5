"""What a plan comes to: against pouring every color fresh, and which cup is in use when.

Volumes are mL of base, money is in the currency of the prices, times are minutes from the beginning.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from production.evening_terms import Fill, Layer
from production.plan_layers import Piece, Step


@dataclass(frozen=True)
class CupSpan:
    """A layer in its cup: which row of cups, from when until when it is in use.

    From `waits_from` on what remains waits there for a later color."""

    row: int
    layer: str
    start: float
    waits_from: float
    end: float


def fresh_cost(
    layers: Sequence[Layer],
    *,
    prices: Mapping[str, float],
    wash_cost: float,
    clean_cups: int,
    cold_cost: float,
) -> float:
    """What the same evening costs with nothing reused: the planner's own cost without any source."""
    plastic = sum(
        (layer.shots_ml + layer.heel_ml)
        * (prices[layer.grade] + sum(dose * prices[key] for key, dose in layer.doses.items()))
        for layer in layers
    )
    washes = max(0, len(layers) - clean_cups)
    return plastic + wash_cost * washes + cold_cost * len(layers)


def needs(
    layers: Mapping[str, Layer], fills: Mapping[str, Fill]
) -> tuple[dict[str, float], dict[str, float]]:
    """What the shelf must give: mL of each grade, and so much of each dose key."""
    grades: dict[str, float] = {}
    doses: dict[str, float] = {}
    for key, fill in fills.items():
        if fill.fresh_ml:
            grade = layers[key].grade
            grades[grade] = grades.get(grade, 0) + fill.fresh_ml
        for dose, amount in fill.additions.items():
            if amount:
                doses[dose] = doses.get(dose, 0) + amount
    return grades, doses


def cups_in_use(
    pieces: Sequence[Piece], steps: Sequence[Step], fills: Mapping[str, Fill]
) -> list[CupSpan]:
    """Each layer's cup over the evening, in as few rows as there are cups in use at once."""
    fed_at: dict[str, float] = {}
    for piece, step in zip(pieces, steps, strict=True):
        for layer in piece.layers:
            for source in fills[layer.key].sources:
                fed_at[source] = step.start
    spans: list[CupSpan] = []
    free_from: list[float] = []
    row_of: dict[str, int] = {}
    for piece, step in zip(pieces, steps, strict=True):
        each = step.mixing / len(piece.layers)
        for number, layer in enumerate(piece.layers):
            begins = step.start + number * each
            end = max(step.end, fed_at.get(layer.key, 0.0))
            row = _row(row_of.get(fills[layer.key].cup_of), step.start, free_from)
            free_from[row], row_of[layer.key] = end, row
            spans.append(CupSpan(row, layer.key, begins, step.end, end))
    return spans


def _row(going_on: int | None, start: float, free_from: list[float]) -> int:
    """The cup it goes on in, or the first that is free; a new one when all are in use."""
    if going_on is not None and free_from[going_on] <= start + 1e-9:
        return going_on
    for row, free in enumerate(free_from):
        if free <= start + 1e-9:
            return row
    free_from.append(0.0)
    return len(free_from) - 1
