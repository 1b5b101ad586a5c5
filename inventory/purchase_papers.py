"""A purchase order to send: as a PDF, for a spreadsheet, as text for an e-mail or a web cart."""

import csv
import io

from inventory import purchase_pdf
from inventory.exchange import guard
from inventory.models import PurchaseLine, PurchaseOrder
from inventory.templatetags import shelf
from inventory.wording import quantity_text

HEAD = ["order", "supplier", "item", "packs", "pack", "together", "price", "sum"]


def as_text(order: PurchaseOrder, lines: list[PurchaseLine], *, shop: str, currency: str) -> str:
    """Plain text, a line for each pack, to be pasted."""
    rows = [f"Order {order.number}", f"for {shop}" if shop else "", ""]
    rows += [
        f"{line.packs} × {line.pack_name}, {line.item.name}: "
        f"{shelf.price(line.price_minor)} each, {shelf.price(line.sum_minor)}"
        for line in lines
    ]
    rows += ["", *(f"{label}: {amount}" for label, amount in sums(order, lines, currency))]
    if order.notes:
        rows += ["", order.notes]
    return "\n".join(rows)


def as_csv(order: PurchaseOrder, lines: list[PurchaseLine]) -> str:
    """For a spreadsheet; cells that one would run as a formula are disarmed."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(HEAD)
    for line in lines:
        cells = [
            order.number,
            order.supplier.name,
            line.item.name,
            str(line.packs),
            line.pack_name,
            quantity_text(line.quantity, line.item.stock_unit),
            shelf.price(line.price_minor),
            shelf.price(line.sum_minor),
        ]
        writer.writerow([guard.disarmed(cell) for cell in cells])
    return out.getvalue()


def as_pdf(
    order: PurchaseOrder, lines: list[PurchaseLine], *, shop: str, currency: str, paper: str
) -> bytes:
    supplier = order.supplier
    return purchase_pdf.draw(
        purchase_pdf.Order(
            number=order.number,
            shop=shop,
            supplier=supplier.name,
            contact=" · ".join(text for text in (supplier.phone, supplier.email) if text),
            ordered_on=order.ordered_on.isoformat(),
            expected_on=order.expected_on.isoformat(),
            lines=tuple(
                purchase_pdf.Line(
                    f"{line.packs} × {line.pack_name}",
                    line.item.name,
                    quantity_text(line.quantity, line.item.stock_unit),
                    shelf.price(line.price_minor),
                    shelf.price(line.sum_minor),
                )
                for line in lines
            ),
            sums=tuple(sums(order, lines, currency)),
            notes=order.notes,
            paper=paper,
        )
    )


def goods_minor(lines: list[PurchaseLine]) -> int:
    return sum(line.sum_minor for line in lines)


def sums(order: PurchaseOrder, lines: list[PurchaseLine], currency: str) -> list[tuple[str, str]]:
    """(Label, amount): goods and shipping where there is some, then all together."""
    goods = goods_minor(lines)
    found = [("Together", shelf.price(goods + order.shipping_minor, currency))]
    if order.shipping_minor:
        found = [
            ("Goods", shelf.price(goods)),
            ("Shipping", shelf.price(order.shipping_minor)),
            *found,
        ]
    return found
