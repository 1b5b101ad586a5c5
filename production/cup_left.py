"""How much a cup still fills: which molds, how often, and which are too big for what remains."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from inventory import units
from production import balance, mixing, pour_record
from production.models import WHOLE_SHARE, Batch, Mold

#: More molds than these make no better use of a cup, and a press must not wait for the search.
MOST_MIXED = 5


@dataclass(frozen=True)
class Fills:
    """`left_ml`: mixed plastic that shots can still draw, by the books.

    `each`: how many shots of one mold alone it fills. `best`: shots that together leave least, and
    `rest_ml`, what they leave. `too_big`: molds that one shot is too much for."""

    left_ml: float
    each: Sequence[tuple[Mold, int]]
    best: Sequence[tuple[Mold, int]]
    rest_ml: float
    too_big: Sequence[Mold]


def left_ml(batches: Sequence[Batch], shares: Sequence[int]) -> float:
    """mL of mixed plastic that shots can draw: a laminate goes on while each of its cups does."""
    return min(
        float(units.from_micro(pour_record.total_left(batch))) * WHOLE_SHARE / share
        for batch, share in zip(batches, shares, strict=True)
        if share
    )


def fills(available_ml: float, molds: Iterable[Mold], *, first: Mold | None = None) -> Fills:
    """What `available_ml` still fills. `first`: the mold on the bench is part of every combination."""
    known = {str(mold.pk): mold for mold in molds}
    volumes = {key: float(mold.shot_ml) for key, mold in known.items()}
    too_big = mixing.shots_left(available_ml, volumes, wanted={})[2]
    fitting = [key for key in known if key not in too_big]
    # The mold on the bench, then the largest: small ones alone would always look best.
    fitting.sort(key=lambda key: (known[key] != first, -volumes[key]))
    mixed = {key: volumes[key] for key in fitting[:MOST_MIXED]}
    counts, rest, _none = mixing.shots_left(available_ml, mixed)
    return Fills(
        available_ml,
        [(known[key], int((available_ml + 1e-6) // volumes[key])) for key in fitting],
        [(known[key], count) for key, count in counts.items() if count],
        rest,
        [known[key] for key in too_big],
    )


def short_of(mold: Mold, available_ml: float) -> bool:
    """Whether the next shot takes more than is left, by more than the mold's own error explains."""
    shot = float(mold.shot_ml)
    return shot - available_ml > balance.poured(shot, shots=1).within
