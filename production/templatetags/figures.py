"""Plain figures in templates: no trailing zeros, no grouping."""

from decimal import Decimal

from django import template
from django.template import Context

from inventory import forms_base, units, wording
from inventory.templatetags import shelf

register = template.Library()


@register.filter
def figure(value: Decimal | int | None, places: int = 3) -> str:
    """At most `places` decimals and no trailing zeros: "5.25"; None is nothing."""
    return "" if value is None else forms_base.number_text(round(Decimal(value), places))


@register.simple_tag(takes_context=True)
def told_ml(context: Context, millilitres: Decimal | float) -> wording.Told:
    """What `told` says of a quantity, for mL that were worked out."""
    return shelf.told(context, units.to_micro(Decimal(millilitres)), "mL")


@register.filter
def inches(millimetres: Decimal) -> str:
    """A length in mm as inches, to the hundredth: "3.94 in"."""
    return f"{figure(Decimal(millimetres) / units.MM_PER_INCH, 2)} in"


@register.filter
def drawn(millionths: int, unit: str) -> str:
    """What a line took from its lot, without the sign of the books: "12.5 mL"."""
    return wording.quantity_text(-millionths, unit)
