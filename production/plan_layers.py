"""From what is wanted to the batches of an evening: shots, cups, and the planner's layers.

Volumes are mL; those of a mold are total volume, those of a layer mL of base plastisol.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from production.evening_terms import EveningError, Layer


@dataclass(frozen=True)
class MoldFacts:
    """A mold: `cavities` maps each bait to (how many, mL of one). `minutes` is one cycle's."""

    key: str
    shot_ml: float
    cavities: Mapping[str, tuple[int, float]]
    copies: int = 1
    minutes: float = 6.0


@dataclass(frozen=True)
class RecipeLayer:
    """A pattern's layer: its share of the bait, its recipe's doses per mL of base, and the part of its
    total volume that is base."""

    key: str
    grade: str
    share: float
    base_share: float
    doses: Mapping[str, float]


@dataclass(frozen=True)
class Wish:
    """So many good baits of one kind in one pattern."""

    pattern: str
    bait: str
    baits: int


@dataclass(frozen=True)
class Shooting:
    """So many shots of one mold, for one bait of it; `spare` baits come out over the wish."""

    mold: str
    bait: str
    shots: int
    spare: int


@dataclass(frozen=True)
class Piece:
    """One filling of the cups of a pattern: what is shot from it, and its layers."""

    pattern: str
    shootings: tuple[Shooting, ...]
    layers: tuple[Layer, ...]


def shootings(
    wishes: Sequence[Wish], molds: Sequence[MoldFacts], yields: Mapping[str, float]
) -> list[tuple[str, Shooting]]:
    """The shots that give what is wished, as (pattern, shooting), in the wishes' order.

    For each bait the mold that needs the fewest minutes, then the least plastic. `yields`: the share of
    a mold's cavities that comes out good (missing: 1). Raises EveningError, naming the bait, when no
    mold casts it."""
    found = []
    for wish in wishes:
        ways = [
            _way(wish, mold, yields.get(mold.key, 1.0))
            for mold in molds
            if wish.bait in mold.cavities
        ]
        if not ways:
            raise EveningError(f"no mold casts {wish.bait}")
        found.append((wish.pattern, min(ways)[-1]))
    return found


def _way(wish: Wish, mold: MoldFacts, good_share: float) -> tuple[float, float, str, Shooting]:
    count = mold.cavities[wish.bait][0]
    good = count * min(1.0, max(good_share, 0.05))
    shots = max(1, math.ceil(wish.baits / good - 1e-9))
    cycles = math.ceil(shots / mold.copies)
    spare = max(0, math.floor(shots * good + 1e-9) - wish.baits)
    shooting = Shooting(mold.key, wish.bait, shots, spare)
    return (cycles * mold.minutes, shots * mold.shot_ml, mold.key, shooting)


def together(found: Sequence[tuple[str, Shooting]]) -> list[tuple[str, Shooting]]:
    """Shots of one mold in one pattern give all its baits at once: the bait that needs most sets them."""
    most: dict[tuple[str, str], Shooting] = {}
    for pattern, shooting in found:
        known = most.get((pattern, shooting.mold))
        if known is None or shooting.shots > known.shots:
            most[pattern, shooting.mold] = shooting
    return [(pattern, shooting) for (pattern, _mold), shooting in most.items()]


def pieces(
    pattern: str,
    shots: Sequence[Shooting],
    layers: Sequence[RecipeLayer],
    molds: Mapping[str, MoldFacts],
    *,
    heel_ml: float,
    cups_ml: Sequence[float] | None,
    yields: Mapping[str, float],
) -> list[Piece]:
    """A pattern's shots as fillings of cups: as few as hold it, whole shots in each.

    `heel_ml` and `cups_ml` are total volume, the cups the largest first and at least as many as layers.
    A laminate's layers stand hot together, the largest share in the largest cup. Raises EveningError when
    one shot with its heel is larger than that."""
    shares = sorted((layer.share for layer in layers), reverse=True)
    room = min(
        ((cup - heel_ml) / share for cup, share in zip(cups_ml or [], shares, strict=False)),
        default=math.inf,
    )
    for shooting in shots:
        shot_ml = molds[shooting.mold].shot_ml
        if shot_ml > room * (1 + 1e-9):
            raise EveningError(_too_large(shooting.mold, shot_ml, shares, heel_ml, cups_ml))
    total = sum(molds[s.mold].shot_ml * s.shots for s in shots)
    count = 1 if math.isinf(room) else max(1, math.ceil(total / room - 1e-9))
    while True:
        dealt = _deal(shots, count, molds)
        if all(
            sum(molds[s.mold].shot_ml * s.shots for s in part) <= room * (1 + 1e-9)
            for part in dealt
        ):
            break
        count += 1
    return [
        Piece(
            pattern if count == 1 else f"{pattern}/{number}",
            tuple(part),
            tuple(
                _layer(layer, pattern, number, count, part, molds, heel_ml, yields)
                for layer in layers
            ),
        )
        for number, part in enumerate(dealt, 1)
    ]


def _too_large(
    mold: str, shot_ml: float, shares: Sequence[float], heel_ml: float, cups_ml: Sequence[float]
) -> str:
    takes = " and ".join(f"{shot_ml * share + heel_ml:.0f}" for share in shares)
    holds = " and ".join(f"{cup:.0f}" for cup in cups_ml[: len(shares)])
    if len(shares) == 1:
        return (
            f"one shot of {mold} with its heel takes {takes} mL and the largest cup holds {holds}"
        )
    return f"one shot of {mold} with its heels takes {takes} mL and the largest cups hold {holds}"


def _deal(
    shots: Sequence[Shooting], count: int, molds: Mapping[str, MoldFacts]
) -> list[list[Shooting]]:
    """Whole shots over `count` cups, the largest first, each into the emptiest cup."""
    cups: list[dict[int, int]] = [{} for _ in range(count)]
    filled = [0.0] * count
    by_size = sorted(range(len(shots)), key=lambda i: -molds[shots[i].mold].shot_ml)
    for index in by_size:
        for _ in range(shots[index].shots):
            cup = min(range(count), key=lambda c: (round(filled[c], 9), c))
            cups[cup][index] = cups[cup].get(index, 0) + 1
            filled[cup] += molds[shots[index].mold].shot_ml
    dealt = []
    for number, cup in enumerate(cups):
        part = []
        for index, shots_here in sorted(cup.items()):
            shot = shots[index]
            spare = shot.spare if number == count - 1 else 0
            part.append(Shooting(shot.mold, shot.bait, shots_here, spare))
        if part:
            dealt.append(part)
    return dealt


def _layer(layer, pattern, number, count, part, molds, heel_ml, yields) -> Layer:
    to_base = layer.share * layer.base_share
    shot = sum(molds[s.mold].shot_ml * s.shots for s in part)
    good = sum(
        s.shots * min(1.0, yields.get(s.mold, 1.0)) * cavities * ml
        for s in part
        for cavities, ml in molds[s.mold].cavities.values()
    )
    suffix = "" if count == 1 else f"/{number}"
    return Layer(
        key=f"{layer.key}{suffix}",
        grade=layer.grade,
        shots_ml=shot * to_base,
        heel_ml=heel_ml * layer.base_share,
        doses=dict(layer.doses),
        pattern=f"{pattern}{suffix}",
        trim_ml=max(0.0, shot - good) * to_base,
    )


@dataclass(frozen=True)
class Step:
    """One stretch of the evening, in minutes from its beginning."""

    pattern: str
    start: float
    mixing: float
    shooting: float

    @property
    def end(self) -> float:
        return self.start + self.mixing + self.shooting


def timeline(
    order: Sequence[Piece], molds: Mapping[str, MoldFacts], mixing_minutes: float
) -> list[Step]:
    """When each filling is mixed and shot, one after the other, by one pair of hands.

    Copies of a mold are shot in one cycle; layers of a laminate are mixed one after the other."""
    steps, at = [], 0.0
    for piece in order:
        mixing = mixing_minutes * len(piece.layers)
        shooting = sum(
            math.ceil(s.shots / molds[s.mold].copies) * molds[s.mold].minutes
            for s in piece.shootings
        )
        steps.append(Step(piece.pattern, at, mixing, shooting))
        at += mixing + shooting
    return steps


def to_drop(steps: Sequence[Step], worth: Mapping[str, float], minutes: float) -> list[str]:
    """The patterns to leave for another evening so that the rest fits, of the least worth in all.

    Exact (0/1 knapsack over whole minutes, each step's time rounded up); of equal worth the fewest are
    dropped. Empty when everything fits."""
    if not steps or steps[-1].end <= minutes + 1e-9:
        return []
    room = int(minutes)
    best: dict[int, tuple[float, int, tuple[str, ...]]] = {0: (0.0, 0, ())}
    for step in steps:
        need = math.ceil(step.mixing + step.shooting - 1e-9)
        for used, (value, count, kept) in sorted(best.items(), reverse=True):
            if used + need > room:
                continue
            new = (value + worth.get(step.pattern, 0.0), count + 1, (*kept, step.pattern))
            if new[:2] > best.get(used + need, (-1.0, 0, ()))[:2]:
                best[used + need] = new
    kept = set(max(best.values(), key=lambda found: found[:2])[2])
    return [step.pattern for step in steps if step.pattern not in kept]
