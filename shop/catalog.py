"""The shop's products as people ask for them, and what speaks against ordering one."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field

from django.db.models import F, Sum

from inventory import units
from inventory.models import Lot
from production.models import Cavity, Product
from shop.finding import Answer, Catalog, Known


@dataclass(frozen=True)
class Shelf:
    """All products by id, and the catalog that finds them by what is typed."""

    products: Mapping[int, Product]
    catalog: Catalog = field(repr=False)

    def find(self, text: str) -> Answer:
        return self.catalog.find(text)


def shelf() -> Shelf:
    """Every product with its words. Four queries, however many there are."""
    products = Product.objects.select_related("item").prefetch_related(
        "contents__bait", "contents__pattern", "aliases"
    )
    found = {product.pk: product for product in products}
    return Shelf(found, Catalog([_known(product) for product in found.values()]))


def _known(product: Product) -> Known:
    contents = list(product.contents.all())
    called = [alias.text for alias in product.aliases.all()]
    return Known(
        product.pk,
        product.item.name,
        also=tuple(
            [name for each in contents for name in (each.bait.name, each.pattern.name)]
            + [str(each.count) for each in contents]
            + (["seconds"] if product.second else [])
        ),
        exactly=tuple([product.barcode, *called] if product.barcode else called),
        retired=product.item.archived,
    )


def retired(product: Product) -> str:
    """Why a product can't be ordered, and how to mend it; "" if it can."""
    if not product.item.archived:
        return ""
    return f"{product} was put away. Bring it back on its page under Bags, or choose another."


def doubts(wanted: Mapping[Product, int]) -> dict[Product, str]:
    """What can't be made any more of the bags wanted, as a question: the products that are on hand in
    full, or can be poured, are not in it. Four queries."""
    items = [product.item_id for product in wanted]
    free = dict(
        Lot.objects.in_stock()
        .filter(item__in=items)
        .order_by()
        .values_list("item")
        .annotate(free=Sum(F("on_hand") - F("reserved")))
    )
    short = {
        product: int(free.get(product.item_id, 0)) // units.MICRO
        for product, bags in wanted.items()
        if bags > int(free.get(product.item_id, 0)) // units.MICRO
    }
    found = {}
    for product, reason in _unmakeable(short).items():
        ready = short[product]
        have = f"{ready} bag{'' if ready == 1 else 's'} lie ready" if ready else "None lies ready"
        found[product] = f"{reason} {have} for this. Bring it back, or take the order all the same?"
    return found


def _unmakeable(products: Collection[Product]) -> dict[Product, str]:
    """Product → the one thing that keeps it from being poured."""
    if not products:
        return {}
    contents = {
        product.pk: list(product.contents.all())
        for product in Product.objects.filter(
            pk__in=[product.pk for product in products]
        ).prefetch_related("contents__bait", "contents__pattern__layers__version__recipe")
    }
    baits = {each.bait_id for rows in contents.values() for each in rows}
    cast = set(
        Cavity.objects.filter(bait__in=baits, mold__archived=False).values_list("bait", flat=True)
    )
    ever = set(Cavity.objects.filter(bait__in=baits).values_list("bait", flat=True))
    found = {}
    for product in products:
        reasons = [_reason(each, cast, ever) for each in contents[product.pk]]
        if reason := next(filter(None, reasons), ""):
            found[product] = reason
    return found


def _reason(content, cast: set[int], ever: set[int]) -> str:
    bait, pattern = content.bait, content.pattern
    if bait.archived:
        return f"The bait {bait} was put away."
    if pattern.archived:
        return f"The color {pattern} was put away."
    # A bait that never had a mold here is bought in, or its mold is not written down: nothing was retired.
    if bait.pk in ever - cast:
        return f"Every mold of {bait} was put away."
    for layer in pattern.layers.all():
        if layer.version.recipe.archived:
            return f"The recipe {layer.version.recipe} of {pattern} was put away."
    return ""
