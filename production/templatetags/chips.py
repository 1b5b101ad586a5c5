"""{% chip pattern %} draws a pattern's color chip; {% version_chip version %} one recipe version's."""

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString

from production import chip as drawing
from production import pattern_chip
from production.models import Pattern, RecipeVersion

register = template.Library()
#: Pixels of each size's class in parts.css.
SIZES = {"s": 26, "m": 40, "l": 112}


@register.simple_tag
def chip(pattern: Pattern, size: str = "m", title: str = "") -> SafeString:
    """The pattern's chip inline: size "s", "m" or "l"; without a title it is decoration only."""
    layers = pattern_chip.pattern_layers(pattern.layers.all())
    return _inline(layers, size, f"pattern/{pattern.pk}", title)


@register.simple_tag
def version_chip(version: RecipeVersion, size: str = "m", title: str = "") -> SafeString:
    """The chip of one recipe version, as a solid."""
    return _inline([pattern_chip.version_layer(version)], size, f"version/{version.pk}", title)


def _inline(layers: list[drawing.Layer], size: str, seed: str, title: str) -> SafeString:
    kind = "chip" if size == "m" else f"chip chip-{size}"
    # A Drawing says of itself that all its parts were checked or escaped, so it's not escaped again.
    svg = drawing.svg(layers, size=SIZES[size], seed=seed, title=title) if layers else ""
    return format_html('<span class="{}">{}</span>', kind, svg)
