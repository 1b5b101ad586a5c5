"""`{% caution "heat" "dust" %}`: the named cautions in one box, each with where to look further."""

from django import template

from inventory import cautions

register = template.Library()


@register.inclusion_tag("_caution.html")
def caution(*names: str, more: str = "") -> dict:
    """`more` is said behind the last one: a limit, a count."""
    return {
        "cautions": [cautions.CAUTIONS[name] for name in names],
        "more": more,
        "defer": cautions.DEFER,
    }
