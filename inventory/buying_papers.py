"""The buying list on paper and for a spreadsheet."""

import csv
import io

from inventory import buying_list, reorder_pdf, units
from inventory.buying_list import Ahead, Basket, Row
from inventory.exchange import guard
from inventory.models import Supplier
from inventory.templatetags import shelf
from inventory.wording import quantity_text

HEAD = [
    *("supplier", "item", "on hand", "order at", "up to"),
    *("packs", "pack", "price", "sum", "why", "if not"),
]


def as_csv(found: list[Basket]) -> str:
    """The list for a spreadsheet; cells that one would run as a formula are disarmed."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(HEAD)
    for basket in found:
        for row in basket.rows:
            cells = [
                basket.supplier.name,
                row.item.name,
                *_levels(row.ahead),
                str(row.count),
                row.pack.name,
                shelf.price(row.each_minor),
                shelf.price(row.sum_minor),
                row.why,
                row.if_not,
            ]
            writer.writerow([guard.disarmed(cell) for cell in cells])
        for ahead, why in basket.unsold:
            cells = ["", ahead.item.name, *_levels(ahead), "", "", "", "", why, ""]
            writer.writerow([guard.disarmed(cell) for cell in cells])
    return out.getvalue()


def as_pdf(
    found: buying_list.BuyingList, *, shop: str, date: str, currency: str, paper: str
) -> bytes:
    return reorder_pdf.draw(
        reorder_pdf.ReorderList(
            shop=shop,
            date=date,
            suppliers=tuple(_on_paper(basket, currency) for basket in found.to_buy),
            paper=paper,
            total=shelf.price(found.total_minor, currency),
        ),
        with_costs=True,
    )


def _on_paper(basket: Basket, currency: str) -> reorder_pdf.Supplier:
    lines = [_line(row) for row in basket.rows]
    lines += [
        reorder_pdf.Line(ahead.item.name, *_levels(ahead), packs="no pack known", why=why)
        for ahead, why in basket.unsold
    ]
    if basket.supplier is None:
        return reorder_pdf.Supplier("Supplier not known", tuple(lines))
    total = shelf.price(basket.total_minor, currency)
    if basket.shipping_minor:
        total += f", {shelf.price(basket.shipping_minor)} of it shipping"
    return reorder_pdf.Supplier(
        basket.supplier.name, tuple(lines), _contact(basket.supplier), total
    )


def _contact(supplier: Supplier) -> str:
    return " · ".join(text for text in (supplier.phone, supplier.email) if text)


def _line(row: Row) -> reorder_pdf.Line:
    return reorder_pdf.Line(
        row.item.name,
        *_levels(row.ahead),
        packs=f"{row.count} × {row.pack.name}",
        price=shelf.price(row.each_minor),
        amount=shelf.price(row.sum_minor),
        why=f"{row.why}. {row.if_not}",
    )


def _levels(ahead: Ahead) -> tuple[str, str, str]:
    seen = ahead.outlook
    unit = ahead.item.stock_unit
    return (
        quantity_text(ahead.item.on_hand, unit),
        quantity_text(units.to_micro(f"{seen.point or 0:.6f}"), unit),
        quantity_text(units.to_micro(f"{seen.level:.6f}"), unit),
    )
