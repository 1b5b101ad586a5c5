"""Quantities, money and links of the shelf, in templates."""

from decimal import Decimal

from django import template

from inventory import references, wording
from inventory.models import Movement

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
def said(movement: Movement) -> str:
    """The words an amount was entered in, unless the quantity says the same; an estimate is marked ≈."""
    quantity = wording.quantity_text(abs(movement.quantity), movement.lot.item.stock_unit)
    if movement.said == quantity:
        return "≈" if movement.estimated else ""
    return f"≈ {movement.said}".strip() if movement.estimated else movement.said


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
