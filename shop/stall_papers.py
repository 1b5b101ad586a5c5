"""Papers of selling without an order: the load list, a stall day's summary, a consignee's settlement."""

from collections.abc import Callable, Sequence

from reportlab.lib import colors
from reportlab.platypus import Flowable, Spacer, Table, TableStyle

from inventory import pdf, pdf_flow
from inventory.pdf_flow import text
from shop import stall
from shop.models import Consignee, Sale, Shop, StallDay

_HAIR = 0.5


def load_list(day: StallDay, shop: Shop | None, *, paper: str = "letter") -> bytes:
    """What is at the stall for this day, with the codes on the bags and a column to count in."""
    rows = [row for row in stall.rows_at(day.place, day.price_list) if row.left]
    bags = sum(row.left for row in rows)

    def story() -> list[Flowable]:
        body = [
            [
                text(str(row.product)),
                text(", ".join(row.codes), 8),
                _right(_cents(row.price_minor)),
                _right(str(row.left)),
                "",
            ]
            for row in rows
        ]
        heads = ["Product", "Code on the bags", "Price", "Taken", "Left"]
        return [
            *_head(f"Load list, {day.place}", shop, f"{day.business_date:%Y-%m-%d}"),
            text(f"{_bags(bags)}. Cash to begin with: {_cents(day.float_minor, shop)}.", 11),
            Spacer(0, 12),
            _table(heads, body, (0.38, 0.28, 0.12, 0.1, 0.12), paper)
            if body
            else text("Nothing was loaded yet.", 11),
        ]

    return _draw(f"Load list {day.place} {day.business_date}", story, paper)


def day_summary(day: StallDay, shop: Shop | None, *, paper: str = "letter") -> bytes:
    """What was sold on a day, and what was in the box."""
    cash, sold = stall.cash(day), stall.sold_rows(sale__day=day)

    def story() -> list[Flowable]:
        found = [
            *_head(f"Stall day, {day.place}", shop, f"{day.business_date:%Y-%m-%d}"),
            _sold_table(sold, paper),
            Spacer(0, 12),
            text(
                f"{_bags(cash.takings.bags)} sold for {_cents(cash.takings.total_minor, shop)}.",
                12,
                bold=True,
            ),
            Spacer(0, 10),
            *_sums(
                [
                    ("Cash to begin with", cash.float_minor),
                    ("Sold for cash", cash.takings.cash_minor),
                    ("Found sold at the count", cash.takings.counted_minor),
                    ("The box should hold", cash.expected_minor),
                    ("Counted", cash.counted_minor),
                ],
                paper,
            ),
            Spacer(0, 8),
            text(difference(cash), 11),
            text(f"By card or transfer: {_cents(cash.takings.card_minor, shop)}.", 11),
        ]
        if day.note:
            found += [Spacer(0, 8), text(day.note)]
        return found

    return _draw(f"Stall day {day.place} {day.business_date}", story, paper)


def settlement(
    sale: Sale, consignee: Consignee | None, shop: Shop | None, *, paper: str = "letter"
) -> bytes:
    """What a consignee sold since the last count, what they keep and what is due."""
    sold = stall.sold_rows(sale=sale)
    total = sum(row.sum_minor for row in sold)
    left = None
    if consignee:
        rows = stall.rows_at(consignee.place, consignee.price_list)
        left = sum(row.left for row in rows)

    def story() -> list[Flowable]:
        found = [
            *_head(f"Settlement, {sale.place}", shop, f"{sale.entry.business_date:%Y-%m-%d}"),
            *(text(line, 10) for line in _address(sale)),
            Spacer(0, 12),
            _sold_table(sold, paper),
            Spacer(0, 12),
            *_sums(
                [
                    ("Sold", total),
                    ("You keep", sale.commission_minor),
                    ("Due to us", total - sale.commission_minor),
                ],
                paper,
            ),
            Spacer(0, 10),
            text(
                f"Counted on {sale.entry.business_date:%Y-%m-%d}. Amounts in {_currency(shop)}.", 9
            ),
        ]
        if left is not None:
            found.append(text(f"Still with you when this was printed: {_bags(left)}.", 9))
        return found

    return _draw(f"Settlement {sale.place} {sale.entry.business_date}", story, paper)


def difference(cash: stall.Cash) -> str:
    """The difference between box and books in plain words."""
    if cash.difference_minor is None:
        return "The cash was not counted yet."
    if not cash.difference_minor:
        return "The box agrees with the books to the cent."
    word = "too much in the box" if cash.difference_minor > 0 else "missing in the box"
    return f"{_cents(cash.off_minor)} {word}."


def _address(sale: Sale) -> list[str]:
    if sale.customer is None:
        return []
    return [str(sale.customer), *sale.customer.address.splitlines()]


def _head(title: str, shop: Shop | None, day: str) -> list[Flowable]:
    name = shop.name if shop else ""
    lines = [part for part in (shop.address if shop else "").splitlines() if part.strip()]
    return [
        text(title, 18, bold=True),
        text(" · ".join(part for part in (name, day) if part), 11),
        *(text(line, 9) for line in lines),
        Spacer(0, 14),
    ]


def _sold_table(sold: Sequence[stall.SoldRow], paper: str) -> Flowable:
    body = [
        [
            text(str(row.product)),
            _right(str(row.bags)),
            _right(_cents(row.price_minor)),
            _right(_cents(row.sum_minor)),
        ]
        for row in sold
    ]
    if not body:
        return text("Nothing was sold.", 11)
    return _table(["Product", "Bags", "Price", "Sum"], body, (0.58, 0.12, 0.14, 0.16), paper)


def _table(heads: list[str], body: list[list], shares: Sequence[float], paper: str) -> Flowable:
    width = pdf.PAGES[paper][0] - 2 * pdf_flow.MARGIN
    figures = {"Price", "Taken", "Left", "Bags", "Sum"}
    rows = [[text(head, 8.5, bold=True, right=head in figures) for head in heads], *body]
    style = [
        ("LINEBELOW", (0, 0), (-1, -1), _HAIR, colors.grey),
        ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
    ]
    return Table(
        rows, colWidths=[width * share for share in shares], repeatRows=1, style=TableStyle(style)
    )


def _sums(rows: list[tuple[str, int | None]], paper: str) -> list[Flowable]:
    width = pdf.PAGES[paper][0] - 2 * pdf_flow.MARGIN
    body = [[text(label, 10.5), _right(_cents(minor), 10.5)] for label, minor in rows]
    table = Table(body, colWidths=[width * 0.4, width * 0.2], hAlign="LEFT")
    table.setStyle(TableStyle([("LINEBELOW", (0, 0), (-1, -1), _HAIR, colors.grey)]))
    return [table]


def _right(words: str, size: float = 9.5) -> Flowable:
    return text(words, size, right=True)


def _bags(count: int) -> str:
    return "1 bag" if count == 1 else f"{count} bags"


def _currency(shop: Shop | None) -> str:
    return shop.currency if shop else ""


def _cents(minor: int | None, shop: Shop | None = None) -> str:
    if minor is None:
        return "not counted"
    return f"{minor // 100:,}.{minor % 100:02d} {_currency(shop)}".strip()


def _draw(title: str, story: Callable[[], list[Flowable]], paper: str) -> bytes:
    return pdf_flow.draw(title, pdf.PAGES[paper], story)
