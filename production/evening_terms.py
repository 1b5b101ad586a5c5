"""The words of an evening's plan: what goes into it and what comes out. Volumes are mL of base."""

from collections.abc import Mapping
from dataclasses import dataclass


class EveningError(ValueError):
    """No plan can be made; the text names the layer, pattern or price that makes it impossible."""


@dataclass(frozen=True)
class Layer:
    """A batch that tonight needs.

    `doses` is the recipe, key to dose per mL of base. `trim_ml` is the part of `shots_ml` that comes back
    as sprues and likely rejects. `trace` says how much per mL it may hold of keys that its recipe lacks.
    """

    key: str
    grade: str
    shots_ml: float
    heel_ml: float
    doses: Mapping[str, float]
    pattern: str
    trim_ml: float = 0
    trace: Mapping[str, float] | None = None


@dataclass(frozen=True)
class Jar:
    """A kept leftover; `doses` is what one mL of its base holds."""

    key: str
    grade: str
    base_ml: float
    doses: Mapping[str, float]
    melts: int


@dataclass(frozen=True)
class Fill:
    """How one layer is mixed.

    `sources` maps a jar's key, an earlier layer's key, or `trim:` and an earlier pattern's key to the mL
    of base taken from it; `additions` maps each dose key of the recipe to the amount to add. `cup_of` is
    the earlier layer whose cup it goes on in; empty with a clean cup.
    """

    base_ml: float
    sources: dict[str, float]
    fresh_ml: float
    additions: dict[str, float]
    melts: int
    clean_cup: bool
    cup_of: str = ""


@dataclass(frozen=True)
class EveningPlan:
    """The layers' keys in the order of pouring, each layer's fill by its key, and what it costs.

    `gap` is how far, relative to `cost`, a cheaper plan could still lie; `proven_optimal` when that is at
    most a millionth.
    """

    order: tuple[str, ...]
    fills: dict[str, Fill]
    cost: float
    proven_optimal: bool
    gap: float
