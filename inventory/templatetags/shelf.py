"""Quantities, money and links of the shelf, in templates."""

from decimal import Decimal

from django import template
from django.template import Context

from inventory import flake_sizes, references, stock_chart, temperature, wording
from inventory.models import Entry, Item, Movement

register = template.Library()


@register.filter
def quantity(millionths: int | None, unit: str) -> str:
    """Millionths of a stock unit as text: "12.5 mL"."""
    return "" if millionths is None else wording.quantity_text(millionths, unit)


@register.filter
def signed(millionths: int, unit: str) -> str:
    """A movement's quantity with its sign: "+12.5 mL", "−3"."""
    text = wording.quantity_text(abs(millionths), unit)
    return text if text.split()[0] == "0" else f"{'+' if millionths > 0 else '−'}{text}"


@register.filter
def money(millionths: int | None, currency: str = "") -> str:
    """A cost in millionths of the currency unit, to the cent; None is "unknown"."""
    text = wording.money_text(millionths, currency or "")
    return f"−{text[1:]}" if text.startswith("-") else text


@register.filter
def price(minor: int | None, currency: str = "") -> str:
    """A price in the currency's minor unit (cents): "12.50 USD"; None is nothing."""
    return "" if minor is None else f"{Decimal(minor) / 100:,.2f} {currency or ''}".strip()


@register.filter
def cents(minor: float, currency: str = "") -> str:
    """A worked-out sum in cents, to the whole cent."""
    return price(round(minor), currency)


@register.filter
def said(movement: Movement) -> str:
    """The words an amount was entered in, unless the quantity says the same; an estimate is marked ≈."""
    quantity = wording.quantity_text(abs(movement.quantity), movement.lot.item.stock_unit)
    if movement.said == quantity:
        return "≈" if movement.estimated else ""
    return f"≈ {movement.said}".strip() if movement.estimated else movement.said


@register.filter
def corrects_value(movement: Movement) -> bool:
    """Whether a line only corrects the value of an earlier one; nothing moved."""
    return bool(movement.revalues_id) and not movement.quantity


@register.filter
def undone_by(entry: Entry) -> Entry | None:
    """The entry that took this one back, if any."""
    return getattr(entry, "reversed_by", None)


@register.filter
def amended_by(entry: Entry) -> Entry | None:
    """The entry that stands in this one's place, if any."""
    return getattr(entry, "amended_by", None)


@register.filter
def event_url(reference: str) -> str:
    """The page of the event behind an entry, or nothing."""
    return references.url(reference)


@register.filter
def event_name(reference: str) -> str:
    """ "pour:12" as people say it: "pour 12"."""
    return reference.replace(":", " ")


@register.filter
def figure(value: Decimal) -> str:
    """A stored decimal without its trailing zeros."""
    return f"{value:f}".rstrip("0").rstrip(".")


@register.simple_tag(takes_context=True)
def told(context: Context, millionths: int, unit: str) -> wording.Told:
    """A quantity in the person's units, with the other system beside it: `.figure .unit .other`."""
    return wording.told(millionths, unit, _system(context))


@register.filter
def gauge(item: Item) -> stock_chart.Gauge | None:
    """How full the shelf is of an item with its `total`."""
    return stock_chart.gauge(item.total, minimum=item.minimum, target=item.target)


@register.simple_tag(takes_context=True)
def degrees(context: Context, celsius: Decimal | None) -> str:
    """A temperature in both scales, the person's first: "350 °F · 177 °C"."""
    return "" if celsius is None else temperature.show(celsius, _system(context))


@register.simple_tag(takes_context=True)
def flake_size(context: Context, inches: Decimal | None) -> str:
    """The size of a flake in both units, the person's first: "0.035 in · 0.89 mm"."""
    return "" if inches is None else flake_sizes.show(inches, _system(context))


def _system(context: Context) -> str:
    """The units of the shop whose page it is: "us" or "metric"."""
    return getattr(context.get("shop"), "units", "us")
