"""A price list as it is read: every product that is sold, by bait, with its colors and price."""

import re
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Prefetch

from production import chip, pattern_chip
from production.models import Pattern, Product, ProductContent
from production.queries_colors import CHIP
from shop.prices import Prices

ASSORTED = "Assortments"
_PACK = re.compile(r",\s*\d+$")


@dataclass(frozen=True)
class Row:
    """`own`: the list names a price for it, which is not its per cent off."""

    product: Product
    patterns: tuple[Pattern, ...]
    baits: int
    price_minor: int
    own: bool

    @property
    def color(self) -> str:
        """What tells it from its neighbors: its color, or its name where it has several."""
        name = self.product.item.name
        if len(self.patterns) == 1:
            pattern = self.patterns[0].name
            # "Stump Craw Midnight Sedge with rattles, 5" under its bait: "Midnight Sedge with rattles".
            at = name.casefold().find(pattern.casefold())
            name = _PACK.sub("", name[at:]) if at >= 0 else pattern
        return f"{name}, seconds" if self.product.second else name


@dataclass(frozen=True)
class Group:
    name: str
    rows: tuple[Row, ...]


def products() -> Iterable[Product]:
    """What is sold today, with all that the rows and their chips need. A fixed number of queries."""
    contents = ProductContent.objects.select_related("bait", "pattern")
    return (
        Product.objects.filter(item__archived=False)
        .select_related("item")
        .prefetch_related(Prefetch("contents", queryset=contents), f"contents__pattern__{CHIP}")
    )


def groups(prices: Prices, sold: Iterable[Product] | None = None) -> list[Group]:
    """The products by bait, assortments of several baits last."""
    found: dict[str, list[Row]] = {}
    for product in products() if sold is None else sold:
        contents = list(product.contents.all())
        baits = {content.bait.name for content in contents}
        patterns = dict.fromkeys(content.pattern for content in contents)
        row = Row(
            product,
            tuple(patterns),
            sum(content.count for content in contents),
            prices.of(product),
            product.pk in prices.own,
        )
        found.setdefault(baits.pop() if len(baits) == 1 else ASSORTED, []).append(row)
    names = sorted(found, key=lambda name: (name == ASSORTED, name))
    return [
        Group(name, tuple(sorted(found[name], key=lambda row: (row.color, row.baits))))
        for name in names
    ]


def drawing(pattern: Pattern) -> str:
    """The pattern's chip as SVG; "" where it has no layer or a color that can't be drawn."""
    layers = pattern_chip.pattern_layers(pattern.layers.all())
    try:
        return chip.svg(layers, seed=f"pattern/{pattern.pk}") if layers else ""
    except chip.ChipError:
        return ""
