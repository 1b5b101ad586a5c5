"""Turning what is left in a cup into another color.

Color is one-way: doses can be added and never taken out. Every dose here is per mL of base plastisol,
every volume is mL of base, and every amount of a key is in that key's own unit (mL, g, drops).
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

DEFAULT_TOLERANCE = 0.05
#: The dose key of plastic whose color nobody wrote down.
UNKNOWN = "unknown"

# The ledger counts whole millionths of a mL; what is left below that is nothing left.
_NOTHING_ML = 1e-6
# Past this many looks a thousandth of a mL left over is good enough: no scale at the bench sees it.
_PATIENCE = 200_000
_GOOD_ENOUGH_ML = 1e-3


@dataclass(frozen=True)
class Mix:
    """A liquid or solid mix: mL of base, the absolute amount of each dose key in it, and its melts."""

    base_ml: float
    doses: Mapping[str, float] = field(default_factory=dict)
    melts: int = 0

    def __post_init__(self) -> None:
        if not self.base_ml >= 0:
            raise ValueError(f"a mix cannot hold {self.base_ml} mL of base")
        for key, amount in self.doses.items():
            if not amount >= 0:
                raise ValueError(f"a mix cannot hold {amount} of {key}")

    def dose_per_ml(self) -> dict[str, float]:
        """Return the amount of each key per mL of base; an empty cup has no doses."""
        if self.base_ml == 0:
            return {}
        return {key: amount / self.base_ml for key, amount in self.doses.items()}


@dataclass(frozen=True)
class Conversion:
    """How a leftover becomes a batch of another recipe.

    `use_ml` of the leftover and `fresh_ml` of fresh base, then `additions` (one entry for each key of the
    target, 0 where the leftover brings enough). `reuse_share` is the largest share of the batch that the
    leftover can be, `limiting` the key that sets it (None when nothing does), `melts` the batch's.
    """

    use_ml: float
    fresh_ml: float
    additions: dict[str, float]
    reuse_share: float
    limiting: str | None
    melts: int


def tolerance_of(tolerance: float | Mapping[str, float], key: str) -> float:
    """Return the share by which `key` may go over its target; .05 where a mapping does not name it."""
    if isinstance(tolerance, Mapping):
        return tolerance.get(key, DEFAULT_TOLERANCE)
    return tolerance


def most_per_ml(
    target: Mapping[str, float],
    key: str,
    tolerance: float | Mapping[str, float],
    trace: Mapping[str, float] | None,
) -> float:
    """Return the most of `key`, per mL of base, that plastic going into `target` may bring with it."""
    dose = target.get(key, 0)
    if dose > 0:
        return (1 + tolerance_of(tolerance, key)) * dose
    return (trace or {}).get(key, 0)


def convert(
    leftover: Mix,
    target: Mapping[str, float],
    base_ml: float,
    *,
    tolerance: float | Mapping[str, float] = DEFAULT_TOLERANCE,
    trace: Mapping[str, float] | None = None,
) -> Conversion:
    """Turn as much of `leftover` as can be into `base_ml` of the recipe `target` (key to dose per mL).

    Raises ValueError when `base_ml` is not above 0 or a target dose is negative.
    """
    if not base_ml > 0:
        raise ValueError(f"a batch needs some base, not {base_ml} mL")
    for key, dose in target.items():
        if not dose >= 0:
            raise ValueError(f"the target holds {dose} of {key} per mL")
    has = leftover.dose_per_ml()
    reuse_share, limiting = _reuse_share(has, target, tolerance, trace)
    use_ml = min(leftover.base_ml, reuse_share * base_ml)
    return Conversion(
        use_ml=use_ml,
        fresh_ml=base_ml - use_ml,
        additions={
            key: max(0.0, dose * base_ml - has.get(key, 0) * use_ml) for key, dose in target.items()
        },
        reuse_share=reuse_share,
        limiting=limiting,
        melts=leftover.melts + 1 if use_ml > 0 else 1,
    )


def base_needed(
    leftover: Mix,
    target: Mapping[str, float],
    *,
    tolerance: float | Mapping[str, float] = DEFAULT_TOLERANCE,
    trace: Mapping[str, float] | None = None,
) -> float:
    """Return the mL of base of the smallest batch of `target` that uses all of `leftover`.

    Infinite when the leftover holds something that the target cannot take.
    """
    if leftover.base_ml == 0:
        return 0.0
    reuse_share, _ = _reuse_share(leftover.dose_per_ml(), target, tolerance, trace)
    return leftover.base_ml / reuse_share if reuse_share > 0 else math.inf


def reachable(
    leftover: Mix,
    recipes: Mapping[str, Mapping[str, float]],
    base_ml: float,
    *,
    tolerance: float | Mapping[str, float] = DEFAULT_TOLERANCE,
    trace: Mapping[str, float] | None = None,
) -> list[tuple[str, Conversion]]:
    """Return the recipes that can take some of `leftover`, those that take most of it first.

    `recipes` maps a recipe's key to its target. Among equals the one with the least additions comes
    first, then the key decides.
    """
    conversions = [
        (key, convert(leftover, target, base_ml, tolerance=tolerance, trace=trace))
        for key, target in recipes.items()
    ]
    return sorted(
        (pair for pair in conversions if pair[1].use_ml > 0),
        key=lambda pair: (-pair[1].use_ml, sum(pair[1].additions.values()), pair[0]),
    )


def shots_left(
    base_ml: float, fills: Mapping[str, float], *, wanted: Mapping[str, int] | None = None
) -> tuple[dict[str, int], float, list[str]]:
    """Say which fills still come out of `base_ml` so that the least is left over.

    `fills` maps a key to the mL of base of one fill; `wanted`, when given, to the most fills of it (a key
    that it does not name is not wanted). Returns how many of each, the mL left, and the keys of the fills
    that are too big for what is there. Among equals, more of the bigger fills. Raises ValueError for a
    fill that is not above 0.
    """
    for key, fill_ml in fills.items():
        if not fill_ml > 0:
            raise ValueError(f"a fill of {key} cannot be {fill_ml} mL")
    slack = 1e-9 * max(1.0, base_ml)  # a third of 100 mL, three times, is 100 mL
    too_big = [key for key, fill_ml in fills.items() if fill_ml > base_ml + slack]
    keys = sorted((key for key in fills if key not in too_big), key=lambda key: -fills[key])
    most = [
        math.floor((base_ml + slack) / fills[key]) if wanted is None else wanted.get(key, 0)
        for key in keys
    ]
    counts, left_ml = _least_left(base_ml, [fills[key] for key in keys], most, slack)
    found = dict(zip(keys, counts, strict=True))
    return {key: found.get(key, 0) for key in fills}, left_ml, too_big


def _reuse_share(
    has: Mapping[str, float],
    target: Mapping[str, float],
    tolerance: float | Mapping[str, float],
    trace: Mapping[str, float] | None,
) -> tuple[float, str | None]:
    share, limiting = 1.0, None
    for key, dose in has.items():
        if dose <= 0:
            continue
        limit = most_per_ml(target, key, tolerance, trace) / dose
        if limit < share:
            share, limiting = limit, key
    return share, limiting


def _least_left(
    base_ml: float, fills_ml: list[float], most: list[int], slack: float
) -> tuple[list[int], float]:
    """Solve the small knapsack exactly: depth first, no state of the cup looked at twice."""
    best_left, best_counts = base_ml, [0] * len(fills_ml)
    seen: set[tuple[int, int]] = set()
    stack: list[tuple[int, float, tuple[int, ...]]] = [(0, base_ml, ())]
    while stack:
        if best_left <= (_NOTHING_ML if len(seen) < _PATIENCE else _GOOD_ENOUGH_ML):
            break
        depth, left, counts = stack.pop()
        if left < best_left:
            best_left, best_counts = left, list(counts) + [0] * (len(fills_ml) - depth)
        state = (depth, round(left * 1e7))
        if depth == len(fills_ml) or state in seen:
            continue
        seen.add(state)
        fit = max(0, min(most[depth], math.floor((left + slack) / fills_ml[depth])))
        fewest = fit if depth == len(fills_ml) - 1 else 0
        stack.extend(
            (depth + 1, left - count * fills_ml[depth], (*counts, count))
            for count in range(fewest, fit + 1)
        )
    return best_counts, max(0.0, best_left)
