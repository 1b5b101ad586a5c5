"""One cup, drawn: how full it stands, and of which color.

The picture tells cups apart at arm's length; the figures beside it are what counts.
"""

from xml.sax import saxutils

from inventory.svg import HEX, Drawing
from production.chip import ChipError

#: The cup in a 40 × 48 box: half widths at the brim and at the foot, and their heights.
_BRIM, _FOOT = (17.0, 6.0), (12.0, 44.0)
#: What is left in a cup is shown as at least so much, or a wetted bottom would look empty.
LEAST_SHOWN = 0.04


def svg(fill: float, color: str = "", *, title: str = "") -> Drawing:
    """A cup filled to `fill` of its largest fill (0 to 1; more is shown as full) with plastic of a
    color as #rrggbb; "" is unrecorded and drawn hatched. Raises ChipError for another color."""
    if color and not HEX.fullmatch(color):
        raise ChipError(f"“{color}” is no #rrggbb color.")
    shown = min(1.0, max(LEAST_SHOWN, fill)) if fill > 0 else 0.0
    paint = color or "none"
    label = f"<title>{saxutils.escape(title)}</title>" if title else ""
    hidden = ' role="img"' if title else ' aria-hidden="true" focusable="false"'
    inside = "" if not shown else f'<path class="cup-fill" d="{_body(shown)}" fill="{paint}"/>'
    if shown and not color:
        inside += "".join(f'<path class="cup-edge" d="{_stripe(y)}"/>' for y in _stripes(shown))
    return Drawing(
        f'<svg class="cup" viewBox="0 0 40 48" width="40" height="48"{hidden}>{label}{inside}'
        f'<path class="cup-edge" d="{_outline()}"/></svg>'
    )


def _half_width(y: float) -> float:
    (wide, top), (narrow, bottom) = _BRIM, _FOOT
    return narrow + (wide - narrow) * (bottom - y) / (bottom - top)


def _level(fill: float) -> float:
    return _FOOT[1] - fill * (_FOOT[1] - _BRIM[1] - 4)


def _body(fill: float) -> str:
    y = _level(fill)
    return (
        f"M{20 - _half_width(y):.1f} {y:.1f}H{20 + _half_width(y):.1f}"
        f"L{20 + _FOOT[0]:.1f} {_FOOT[1]:.1f}H{20 - _FOOT[0]:.1f}Z"
    )


def _outline() -> str:
    return (
        f"M{20 - _BRIM[0]:.1f} {_BRIM[1]:.1f}L{20 - _FOOT[0]:.1f} {_FOOT[1]:.1f}"
        f"H{20 + _FOOT[0]:.1f}L{20 + _BRIM[0]:.1f} {_BRIM[1]:.1f}"
    )


def _stripes(fill: float) -> list[float]:
    top = _level(fill)
    return [top + step for step in range(0, int(_FOOT[1] - top) + 1, 5)]


def _stripe(y: float) -> str:
    return f"M{20 - _half_width(y):.1f} {y:.1f}H{20 + _half_width(y):.1f}"
