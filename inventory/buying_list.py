"""The reorder list of the shelf: what is low, from whom, in how many packs, for how much."""

import csv
import io
from dataclasses import dataclass, field

from inventory import listing, queries, reorder, reorder_pdf
from inventory.exchange import guard
from inventory.models import Item, Pack, Supplier
from inventory.templatetags import shelf
from inventory.wording import quantity_text

HEAD = ["supplier", "item", "on hand", "minimum", "target", "packs", "pack", "price", "sum"]


@dataclass(frozen=True)
class Line:
    """One low item; without `pack` nobody is known to sell it. Prices in the minor unit."""

    item: Item
    short: int
    pack: Pack | None = None
    count: int = 0

    @property
    def price_minor(self) -> int | None:
        return self.pack.price_minor if self.pack else None

    @property
    def sum_minor(self) -> int | None:
        return self.pack.price_minor * self.count if self.pack else None

    @property
    def short_text(self) -> str:
        """How much to target; under a millionth is only the mark of "one pack, please"."""
        return quantity_text(self.short, self.item.stock_unit) if self.short > 1 else ""


@dataclass
class Basket:
    """What to buy from one supplier; `supplier` None holds the items that nobody is known to sell."""

    supplier: Supplier | None
    lines: list[Line] = field(default_factory=list)

    @property
    def total_minor(self) -> int:
        return sum(line.sum_minor or 0 for line in self.lines)

    @property
    def under_minimum_minor(self) -> int:
        """How much is missing to the supplier's least order."""
        if self.supplier is None:
            return 0
        return max(0, self.supplier.order_minimum_minor - self.total_minor)


def baskets() -> list[Basket]:
    """The list by supplier, unknown suppliers last: two queries, however many items are low."""
    items = list(queries.low_items().order_by("kind", "name"))
    packs = listing.packs_of(items)
    found: dict[int, Basket] = {}
    unsold = Basket(None)
    for item in items:
        line = _line(item, packs.get(item.pk, []))
        if line.pack is None:
            unsold.lines.append(line)
            continue
        supplier = line.pack.supplier
        found.setdefault(supplier.pk, Basket(supplier)).lines.append(line)
    ordered = sorted(found.values(), key=lambda basket: basket.supplier.name.casefold())
    return [*ordered, unsold] if unsold.lines else ordered


def _line(item: Item, packs: list[Pack]) -> Line:
    need = reorder.to_buy(item.on_hand, item.minimum, item.target)
    offers = [reorder.Offer(pack.pk, pack.quantity, pack.price_minor) for pack in packs]
    purchase = reorder.whole_packs(need, offers)
    if purchase is None:
        return Line(item, need)
    pack = next(pack for pack in packs if pack.pk == purchase.offer.key)
    return Line(item, need, pack, purchase.count)


def as_csv(found: list[Basket]) -> str:
    """The list for a spreadsheet; cells that one would run as a formula are disarmed."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(HEAD)
    for basket in found:
        for line in basket.lines:
            item = line.item
            cells = [
                basket.supplier.name if basket.supplier else "",
                item.name,
                *_levels(item),
                str(line.count or ""),
                line.pack.name if line.pack else "",
                shelf.price(line.price_minor),
                shelf.price(line.sum_minor),
            ]
            writer.writerow([guard.disarmed(cell) for cell in cells])
    return out.getvalue()


def as_pdf(found: list[Basket], *, shop: str, date: str, currency: str, paper: str) -> bytes:
    suppliers = tuple(_on_paper(basket, currency) for basket in found)
    total = sum(basket.total_minor for basket in found)
    return reorder_pdf.draw(
        reorder_pdf.ReorderList(
            shop=shop,
            date=date,
            suppliers=suppliers,
            paper=paper,
            total=shelf.price(total, currency),
        ),
        with_costs=True,
    )


def _on_paper(basket: Basket, currency: str) -> reorder_pdf.Supplier:
    supplier = basket.supplier
    lines = tuple(
        reorder_pdf.Line(
            line.item.name,
            *_levels(line.item),
            packs=f"{line.count} × {line.pack.name}" if line.pack else "no pack known",
            price=shelf.price(line.price_minor) or None,
            amount=shelf.price(line.sum_minor) or None,
        )
        for line in basket.lines
    )
    if supplier is None:
        return reorder_pdf.Supplier("Supplier not known", lines)
    contact = " · ".join(text for text in (supplier.phone, supplier.email) if text)
    return reorder_pdf.Supplier(
        supplier.name, lines, contact, shelf.price(basket.total_minor, currency)
    )


def _levels(item: Item) -> tuple[str, str, str]:
    target = max(item.target, item.minimum)
    return tuple(quantity_text(q, item.stock_unit) for q in (item.on_hand, item.minimum, target))
