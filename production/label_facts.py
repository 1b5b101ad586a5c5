"""A bag lot in the words of its label."""

from decimal import Decimal

from inventory import forms_base, units
from inventory.models import Lot
from production import labels


def label(lot: Lot, shop) -> labels.BagLabel:
    """The label of one bag of the lot. `shop` gives its name, town and units."""
    product = lot.item.product
    contents = list(product.contents.all())
    baits = {content.bait for content in contents}
    patterns = {content.pattern for content in contents}
    # An assortment of baits goes by the product's own name.
    alone = next(iter(baits)) if len(baits) == 1 else None
    count = sum(content.count for content in contents)
    return labels.BagLabel(
        shop=shop.name if shop else "",
        place=shop.town if shop else "",
        bait=alone.name if alone else product.item.name,
        length=length_text(alone.length_mm, shop.units if shop else "us") if alone else "",
        color=next(iter(patterns)).name if len(patterns) == 1 else "Assorted colors",
        count_text=f"{count} bait" + "s" * (count != 1),
        lot=lot.number,
        date=f"{lot.received_on:%Y-%m-%d}",
        barcode=product.barcode or None,
    )


def length_text(length_mm: Decimal, system: str) -> str:
    """A bait's length in the person's units: “4 in”, to a hundredth of an inch, or “100 mm”."""
    if system == "metric":
        return f"{forms_base.number_text(length_mm)} mm"
    return f"{forms_base.number_text(round(length_mm / units.MM_PER_INCH, 2))} in"
