"""Which of the shop's cups each batch of an evening stands in, and for how long.

Volumes are mL of the whole mix, times are minutes from the beginning.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from production.evening_terms import Fill
from production.plan_layers import Piece, Step

#: So many tries tell whether the batches find cups; more than four cups of three sizes never ask for.
_MOST_TRIES = 20_000
_NOW = 1e-9


@dataclass(frozen=True)
class Cup:
    """A cup; `clean`: nothing stands in it when the evening begins."""

    key: str
    most_ml: float
    least_ml: float = 0.0
    clean: bool = True


@dataclass(frozen=True)
class Span:
    """A layer in a cup, from when until when. From `waits_from` on what remains waits there.

    `goes_on`: the layer in whose cup it is mixed; empty when it needs a cup of its own."""

    layer: str
    total_ml: float
    start: float
    waits_from: float
    end: float
    goes_on: str = ""


def spans(
    pieces: Sequence[Piece],
    steps: Sequence[Step],
    fills: Mapping[str, Fill],
    total_ml: Mapping[str, float],
) -> list[Span]:
    """Each layer's time in its cup, in the order of pouring."""
    fed_at: dict[str, float] = {}
    for piece, step in zip(pieces, steps, strict=True):
        for layer in piece.layers:
            for source in fills[layer.key].sources:
                fed_at[source] = step.start
    found: list[Span] = []
    for piece, step in zip(pieces, steps, strict=True):
        each = step.mixing / len(piece.layers)
        for number, layer in enumerate(piece.layers):
            before = fills[layer.key].cup_of
            # What remains for a still later color keeps its cup; this one then wants another.
            goes_on = before if before and fed_at[before] <= step.start + _NOW else ""
            found.append(
                Span(
                    layer.key,
                    total_ml[layer.key],
                    step.start + number * each,
                    step.end,
                    max(step.end, fed_at.get(layer.key, 0.0)),
                    goes_on,
                )
            )
    return found


def seats(found: Sequence[Span], cups: Sequence[Cup]) -> dict[str, str] | None:
    """A cup that is free and holds it for each layer: layer → cup; None when there is no way.

    A clean cup that was not used yet is taken first, then the smallest. Every way is tried, if it must be."""
    going_on = {span.goes_on: span.layer for span in found if span.goes_on}
    by_layer = {span.layer: span for span in found}

    def most_in(span: Span) -> float:
        """A cup in which others go on must hold the largest of them."""
        most = span.total_ml
        while span.layer in going_on:
            span = by_layer[going_on[span.layer]]
            most = max(most, span.total_ml)
        return most

    seated: dict[str, str] = {}
    busy_until = {cup.key: 0.0 for cup in cups}
    used: set[str] = set()
    tries = 0

    def seat(index: int) -> bool:
        nonlocal tries
        tries += 1
        if index == len(found):
            return True
        span = found[index]
        need = most_in(span)
        free = [
            cup
            for cup in cups
            if busy_until[cup.key] <= span.start + _NOW and need <= cup.most_ml * (1 + _NOW)
        ]
        if span.goes_on:
            free = [cup for cup in cups if cup.key == seated[span.goes_on]]
        free.sort(
            key=lambda cup: (
                not cup.clean or cup.key in used,
                span.total_ml < cup.least_ml,
                cup.most_ml,
                cup.key,
            )
        )
        for cup in free:
            if tries > _MOST_TRIES:
                return False
            before, fresh = busy_until[cup.key], cup.key not in used
            busy_until[cup.key], seated[span.layer] = span.end, cup.key
            used.add(cup.key)
            if seat(index + 1):
                return True
            busy_until[cup.key] = before
            del seated[span.layer]
            if fresh:
                used.discard(cup.key)
        return False

    return seated if seat(0) else None


def rows(found: Sequence[Span]) -> dict[str, str]:
    """Cups without names, A and on, as few as stand there at once: where real ones do not do."""
    free_from: list[float] = []
    row_of: dict[str, int] = {}
    for span in found:
        if span.goes_on:
            row = row_of[span.goes_on]
        else:
            free = [r for r, at in enumerate(free_from) if at <= span.start + _NOW]
            row = free[0] if free else len(free_from)
        if row == len(free_from):
            free_from.append(0.0)
        free_from[row], row_of[span.layer] = span.end, row
    return {layer: chr(ord("A") + row) for layer, row in row_of.items()}


def too_few(found: Sequence[Span], cups: Sequence[Cup]) -> tuple[Span, list[Span]]:
    """The first batch for which no cup is left, and those whose remains hold the cups it could have.

    Only for spans that have no seats."""
    for index, span in enumerate(found):
        if seats(found[: index + 1], cups) is None:
            standing = [
                other
                for other in found[:index]
                if other.end > span.start + _NOW and other.waits_from <= span.start + _NOW
            ]
            return span, standing
    raise ValueError("every batch finds a cup")
