"""The color chip: a small drawing of a bait in the recipe's color, with its layers and flake.

The drawing is an estimate for the eye, to tell one color from another in a list. `mix_color` is a
Beer–Lambert sum in linear light; scattering, thickness and backing are left to the shade model.
"""

import hashlib
import math
import random
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from xml.sax import saxutils

from inventory.svg import HEX, Drawing

NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")

# Uncolored cured plastic, a little milky and warm: our own choice, no source.
BASE_COLOR = "#f1ebdc"
# The dose (per mL of base) at which a bottle shows the color on its label: our own convention.
REFERENCE_DOSE = 0.015
# How strongly a kind absorbs and how well it hides, beside a dye: common practice, no source.
ABSORBS = {"dye": 1.0, "pigment": 1.3, "pearl": 0.5}
HIDES = {"dye": 0.2, "pigment": 1.2, "pearl": 0.8}
BASE_OPACITY = 0.6
# No colorant absorbs a channel completely; 1 % left also keeps the logarithm finite.
LEAST_TRANSMITTED = 0.01

# The silhouette in a 48 × 48 box, head to tail: knots and control points of cubic curves that the
# back and the belly share in x, so that every curve between the two is a layer's border.
CURVE_X = (1.5, 1.5, 8.0, 16.5, 25.0, 31.0, 38.0, 40.0, 41.0, 43.5, 47.0, 46.5, 46.5)
BACK_Y = (25.0, 16.0, 8.5, 8.5, 8.5, 17.0, 20.5, 21.4, 13.5, 13.5, 13.5, 19.0, 24.5)
BELLY_Y = (25.0, 34.0, 40.5, 40.5, 40.5, 30.5, 27.5, 26.8, 35.5, 35.5, 35.5, 30.0, 24.5)
GLOSS = "M7 19.5C9 14 13 11.5 18 11.5C23 11.5 26 14 28 16C23 14.5 20 14 17 14.5C13 15 11 17 9.5 20C8.5 22 6.5 21.5 7 19.5Z"

# One mm of flake is drawn this many units wide, and never smaller than the eye can find.
UNITS_PER_MM = 2.2
LEAST_FLAKE = 0.9
LARGEST_FLAKE = 6.0
# What one looks into when one looks at the chip (mL): a bait's side about 2 mm deep.
SEEN_ML = 0.5
MOST_FLAKES = 72
MOST_FLAKES_SMALL = 36
SMALL_SIZE = 32

Border = list[tuple[float, float]]


class ChipError(ValueError):
    """A color, dose or size that cannot be drawn; the text names it."""


@dataclass(frozen=True)
class Flake:
    """One flake in a layer: color, width of the hexagon in mm, and flakes in one mL of base."""

    color: str
    size_mm: float
    per_ml: float


@dataclass(frozen=True)
class Layer:
    """One liquid color: its color, how well it hides (0 to 1), its flake, its share of the bait."""

    color: str
    opacity: float = 1.0
    flakes: Sequence[Flake] = ()
    share: float = 1.0


def mix_color(doses: Iterable[tuple[str, float, str]]) -> str:
    """Estimate the color of plastic with `doses` of (bottle color, dose per mL of base, kind).

    Beer–Lambert: each channel of the milky base is multiplied by exp(−Σ a·dose/reference), where
    exp(−a) is the bottle color's channel in linear light. More of anything is darker, never paler.
    """
    channels = [_linear(value) for value in _channels(BASE_COLOR)]
    for color, dose, kind in doses:
        strength = ABSORBS.get(kind, 1.0) * _amount(dose, "dose") / REFERENCE_DOSE
        for index, value in enumerate(_channels(color)):
            channels[index] *= max(_linear(value), LEAST_TRANSMITTED) ** strength
    return "#" + "".join(f"{_encode(value):02x}" for value in channels)


def mix_opacity(doses: Iterable[tuple[str, float, str]]) -> float:
    """Estimate how well plastic with these doses hides what is behind it, from .6 to 1."""
    hiding = sum(
        HIDES.get(kind, HIDES["dye"]) * _amount(dose, "dose") / REFERENCE_DOSE
        for _color, dose, kind in doses
    )
    return 1 - (1 - BASE_OPACITY) * math.exp(-hiding)


def flakes_per_ml(grams_per_ml: float, size_mm: float) -> float:
    """Flakes in one mL of base: regular hexagons of polyester film of one thickness.

    Film of 0.05 mm and 1.4 g/cm³, from memory; the count goes with 1/size² whatever they are.
    """
    if not size_mm > 0:
        raise ChipError(f"A flake of {size_mm} mm cannot be drawn.")
    grams_each = math.sqrt(3) / 2 * size_mm**2 * 0.05 * 1.4e-3
    return _amount(grams_per_ml, "flake dose") / grams_each


def svg(
    layers: Sequence[Layer], *, size: int = 48, seed: object, title: str | None = None
) -> Drawing:
    """Draw a chip of `size` pixels; `layers` from the back (up) to the belly.

    The same arguments give the same bytes. Without a title the chip is decoration and is hidden
    from screen readers. Raises ChipError for a color that is not #rrggbb or a size out of range.
    """
    if not layers:
        raise ChipError("A chip needs at least one layer.")
    if not 8 <= size <= 1024:
        raise ChipError(f"A chip of {size} pixels cannot be drawn.")
    borders = _borders(layers)
    parts = [f'<path fill="#f6f1e6" d="{_band(0.0, 1.0)}"/>']
    if any(layer.opacity < 1 for layer in layers):
        # The bar behind a translucent color, as on the card for judging a paint.
        parts.append(f'<path fill="#3b342a" d="{_bar()}"/>')
    for layer, top, bottom in zip(layers, borders, borders[1:], strict=False):
        opacity = _number(min(_amount(layer.opacity, "opacity"), 1.0))
        parts.append(
            f'<path fill="{_checked(layer.color)}" fill-opacity="{opacity}" d="{_band(top, bottom)}"/>'
        )
    most = MOST_FLAKES if size >= SMALL_SIZE else MOST_FLAKES_SMALL
    for index, layer in enumerate(layers):
        parts += _flakes(layer, borders[index], borders[index + 1], most, f"{seed}/{index}")
    parts.append(f'<path fill="#fff" fill-opacity=".32" d="{GLOSS}"/>')
    parts.append(
        f'<path fill="none" stroke="currentColor" stroke-opacity=".5" d="{_band(0.0, 1.0)}"/>'
    )
    return Drawing(f"{_open(size, title)}{''.join(parts)}</svg>")


def _open(size: int, title: str | None) -> str:
    head = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 48 48" width="{size:d}" height="{size:d}"'
    if not title:
        return f'{head} aria-hidden="true" focusable="false">'
    text = saxutils.escape(NOT_XML.sub("", title), {'"': "&quot;", "'": "&#x27;"})
    return f'{head} role="img"><title>{text}</title>'


def _borders(layers: Sequence[Layer]) -> list[float]:
    total = sum(_amount(layer.share, "share") for layer in layers)
    if not total > 0:
        raise ChipError("The layers of a chip need shares above zero.")
    borders = [0.0]
    for layer in layers:
        borders.append(borders[-1] + layer.share / total)
    return borders


def _curve_y(fraction: float) -> list[float]:
    return [back + (belly - back) * fraction for back, belly in zip(BACK_Y, BELLY_Y, strict=True)]


def _band(top: float, bottom: float) -> str:
    """Path between two borders, each a fraction of the way from back to belly."""
    there = list(zip(CURVE_X, _curve_y(top), strict=True))
    back = list(zip(CURVE_X, _curve_y(bottom), strict=True))[::-1]
    points = [f"{_number(x)} {_number(y)}" for x, y in [*there[1:], back[0], back[0], *back]]
    return f"M{_number(there[0][0])} {_number(there[0][1])}C{' '.join(points)}Z"


def _bar() -> str:
    upper, lower = _sampled(0.0), _sampled(1.0)
    left, right = 29.0, 32.0
    corners = [(left, upper), (right, upper), (right, lower), (left, lower)]
    points = [f"{_number(x)} {_number(_height(x, samples))}" for x, samples in corners]
    return f"M{'L'.join(points)}Z"


def _sampled(fraction: float) -> Border:
    ys = _curve_y(fraction)
    samples = []
    for start in range(0, len(CURVE_X) - 1, 3):
        for step in range(12):
            t = step / 12
            weights = ((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3)
            at = [(CURVE_X[start + i], ys[start + i]) for i in range(4)]
            samples.append(
                (
                    sum(w * x for w, (x, _y) in zip(weights, at, strict=True)),
                    sum(w * y for w, (_x, y) in zip(weights, at, strict=True)),
                )
            )
    return samples


def _height(x: float, samples: Border) -> float:
    """Height of a sampled border at x, between its two nearest samples."""
    for (x0, y0), (x1, y1) in zip(samples, samples[1:], strict=False):
        if x0 <= x <= x1 and x1 > x0:
            return y0 + (y1 - y0) * (x - x0) / (x1 - x0)
    return samples[-1][1]


def _flakes(layer: Layer, top: float, bottom: float, most: int, seed: str) -> list[str]:
    """One path of hexagons for each flake, placed by the seed, inside the layer's band."""
    seen = [
        _amount(flake.per_ml, "flake dose") * SEEN_ML * (bottom - top) for flake in layer.flakes
    ]
    wanted = sum(seen)
    if not wanted > 0:
        return []
    room = most * (bottom - top)
    # Few flakes are drawn one by one; many saturate, as they do for the eye.
    drawn = room * (1 - math.exp(-wanted / room))
    chance = random.Random(hashlib.sha256(seed.encode()).digest())
    upper, lower = _sampled(top), _sampled(bottom)
    paths = []
    for flake, amount in zip(layer.flakes, seen, strict=True):
        count = math.ceil(drawn * amount / wanted)
        width = min(max(_amount(flake.size_mm, "size") * UNITS_PER_MM, LEAST_FLAKE), LARGEST_FLAKE)
        hexagons = (_hexagon(chance, width, upper, lower) for _ in range(count))
        path = "".join(hexagons)
        if path:
            paths.append(f'<path fill="{_checked(flake.color)}" d="{path}"/>')
    return paths


def _hexagon(chance: random.Random, width: float, upper: Border, lower: Border) -> str:
    """A hexagon at a place that lies wholly in the band, or nothing where none was found."""
    reach = width / 2
    for _attempt in range(40):
        x = 3 + reach + chance.random() * (43 - width)
        y = 8 + chance.random() * 33
        sides = (x - reach, x, x + reach)
        highest = max(_height(side, upper) for side in sides)
        lowest = min(_height(side, lower) for side in sides)
        if highest + reach < y < lowest - reach:
            break
    else:
        return ""
    turn = chance.random() * math.pi / 3
    corners = []
    for corner in range(6):
        angle = turn + corner * math.pi / 3
        corners.append((x + reach * math.cos(angle), y + reach * math.sin(angle)))
    return "M" + "L".join(f"{across:.1f} {down:.1f}" for across, down in corners) + "Z"


def _number(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _checked(color: str) -> str:
    if not isinstance(color, str) or not HEX.fullmatch(color):
        raise ChipError(f"{color!r} is not a color of the form #rrggbb.")
    return color.lower()


def _channels(color: str) -> tuple[int, int, int]:
    value = int(_checked(color)[1:], 16)
    return value >> 16, value >> 8 & 255, value & 255


def _amount(value: float, what: str) -> float:
    if not (0 <= value < math.inf):
        raise ChipError(f"A {what} of {value} cannot be drawn.")
    return float(value)


def _linear(byte: int) -> float:
    """Linear light of an sRGB byte (IEC 61966-2-1)."""
    value = byte / 255
    return value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4


def _encode(light: float) -> int:
    """Byte of sRGB for linear light (IEC 61966-2-1), rounded."""
    value = light * 12.92 if light <= 0.0031308 else 1.055 * light ** (1 / 2.4) - 0.055
    return round(min(max(value, 0.0), 1.0) * 255)
