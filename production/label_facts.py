"""A bag lot in the words of its label."""

from datetime import date
from decimal import Decimal

from inventory import forms_base, units
from inventory.models import Lot
from production import header_card, label_stock, labels, package_checks
from production.models import Product


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
        lot=lot.printed,
        date=f"{lot.received_on:%Y-%m-%d}",
        barcode=product.barcode or None,
        note=" · ".join(filter(None, (product.identity, product.origin, product.warning))),
        panel_sq_in=package_checks.front_sq_in(front) if (front := front_mm(product)) else None,
        bars=lot.printed,
        address=shop.public_address if shop else "",
    )


def back(lot: Lot, shop) -> list[str]:
    """The lines on the back of a header card: what it is, who made it, how to reach them, the warning."""
    product = lot.item.product
    lines = [product.item.name, product.identity]
    if shop:
        lines += [", ".join(filter(None, (shop.name, shop.town))), shop.email, shop.phone]
    return [line for line in (*lines, product.origin, product.warning) if line]


def bags_on_hand(lot: Lot) -> int:
    return lot.on_hand // units.MICRO


def front_mm(product: Product) -> tuple[float, float] | None:
    """Width and height of the package's front, once measured."""
    if product.front_w_mm is None or product.front_h_mm is None:
        return None
    return float(product.front_w_mm), float(product.front_h_mm)


def package(
    product: Product,
    shop,
    stock: label_stock.Stock,
    look: labels.Look = labels.USUAL,
    *,
    header: bool = False,
) -> package_checks.Package:
    """What the checklist of a product goes by; its count measured as drawn on that stock with that look.

    `header`: the stock is a header card, which counts as the panel where it is larger than the front."""
    said = label(Lot(item=product.item, number="P000000-00", received_on=date.today()), shop)
    front = front_mm(product)
    if header:
        card = (stock.label_w_mm, stock.label_h_mm / 2)
        front = max(filter(None, (front, card)), key=package_checks.front_sq_in)
    try:
        measure = header_card.count_height_mm if header else labels.count_height_mm
        height, refused = measure(said, stock, look), ""
    except labels.LabelError as error:
        height, refused = None, str(error)
    return package_checks.Package(
        identity=product.identity,
        count=said.count_text if look.template.shows("count") else "",
        maker=said.shop,
        place=said.place,
        origin=product.origin,
        front_mm=front,
        count_height_mm=height,
        refused=refused,
        warning=product.warning,
        warning_on=product.warning_on,
        child_directed=product.child_directed,
    )


def length_text(length_mm: Decimal, system: str) -> str:
    """A bait's length in the person's units: “4 in”, to a hundredth of an inch, or “100 mm”."""
    if system == "metric":
        return f"{forms_base.number_text(length_mm)} mm"
    return f"{forms_base.number_text(round(length_mm / units.MM_PER_INCH, 2))} in"
