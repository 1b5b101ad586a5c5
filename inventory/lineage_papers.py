"""A family and a recall on paper, and as a table for other programs."""

import io
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from django.urls import reverse
from reportlab.lib import colors
from reportlab.platypus import Flowable, Spacer, Table, TableStyle

from inventory import lineage_layout, lineage_picture, pdf, pdf_flow, units
from inventory.exchange.writing import Sheet, Value, write_csv
from inventory.lineage import Fact, Family
from inventory.lineage_layout import Layout
from inventory.lineage_picture import Box
from inventory.models import Lot
from inventory.pdf_flow import text
from inventory.recall import Recall
from inventory.wording import quantity_text

HEAD = (
    "direction",
    "lot",
    "item",
    "kind",
    "supplier",
    "supplier's lot",
    "since",
    "on hand",
    "unit",
    "on hold",
    "made from",
    "reached",
    "contact",
    "quantity that left",
    "on",
)
#: As high as a picture may be on a page that also holds its heading and the beginning of a table.
_PICTURE_H = 420.0


@dataclass(frozen=True)
class Picture:
    layout: Layout
    boxes: dict[int, Box]


@dataclass(frozen=True)
class Told:
    """A lot of a family with what its apps tell of it."""

    lot: Lot
    facts: list[Fact]


def picture(family: Family) -> Picture:
    """The family laid out; each box leads to that lot's own family."""
    layout = lineage_layout.lay_out(family.lot.pk, family.edges, family.back, family.forward)
    shown = {pk for row in layout.rows for pk in row}
    return Picture(layout, {pk: _box(family.lots[pk], family.facts.get(pk, [])) for pk in shown})


def _box(lot: Lot, facts: list[Fact]) -> Box:
    return Box(
        name=lot.number,
        said=next((fact.name for fact in facts if fact.name), lot.item.name),
        url=reverse("inventory:family", args=[lot.pk]),
        color=lot.item.color,
        held=lot.held,
    )


def told(family: Family, lots: Iterable[int]) -> list[Told]:
    return [Told(family.lots[pk], family.facts.get(pk, [])) for pk in lots]


def as_csv(family: Family) -> bytes:
    """One row a lot, then one for each time something left, with exact quantities."""
    out = io.BytesIO()
    write_csv(Sheet("family", HEAD, lambda: _rows(family)), out)
    return out.getvalue()


def _rows(family: Family) -> Iterator[tuple[Value, ...]]:
    parents: dict[int, list[str]] = {}
    for parent, child in sorted(family.edges):
        parents.setdefault(child, []).append(family.lots[parent].number)
    sides = [
        *(("made from", pk) for pk in reversed(family.back)),
        ("this lot", family.lot.pk),
        *(("went into", pk) for pk in family.forward),
    ]
    for side, pk in sides:
        lot = family.lots[pk]
        yield (
            *(side, lot.number, lot.item.name, lot.item.get_kind_display()),
            *(str(lot.supplier or ""), lot.supplier_lot, lot.received_on),
            *(units.from_micro(lot.on_hand), lot.item.stock_unit, lot.held),
            *(" ".join(parents.get(pk, [])), "", "", "", ""),
        )
    for each in family.reached:
        lot = family.lots[each.lot]
        yield (
            *("left the house", lot.number, lot.item.name, lot.item.get_kind_display()),
            *[""] * 7,
            *(f"{each.to} ({each.what})", each.contact, units.from_micro(each.quantity), each.on),
        )


def family_pdf(family: Family, *, shop: str, paper: str) -> bytes:
    """The picture, then every lot of the family and whom it reached."""
    page = pdf.PAGES[paper]
    width = page[0] - 2 * pdf_flow.MARGIN
    drawn = picture(family)
    title = f"Family of lot {pdf.clean(family.lot.number)}, {pdf.clean(shop)}"

    def story() -> list[Flowable]:
        return [
            text(f"Family of lot {family.lot.number}", 18, bold=True),
            text(family.lot.item.name, 11),
            Spacer(0, 10),
            _Drawn(drawn, family.lot.pk, width),
            Spacer(0, 12),
            *_lots("Made from", told(family, reversed(family.back)), width),
            *_lots("Went into", told(family, family.forward), width),
            *_left(family.reached, family.lots, width),
        ]

    return pdf_flow.draw(title, page, story)


def recall_pdf(recall: Recall, *, shop: str, on: str, paper: str) -> bytes:
    """What to fetch and whom to call: boxes to tick, one line each."""
    page = pdf.PAGES[paper]
    width = page[0] - 2 * pdf_flow.MARGIN
    title = f"Recall of lot {pdf.clean(recall.lot.number)}, {pdf.clean(shop)}"

    def story() -> list[Flowable]:
        here = [
            (
                "☐",
                lot.number,
                lot.item.name,
                _place(lot),
                quantity_text(lot.on_hand, lot.item.stock_unit),
            )
            for lot in recall.here
        ]
        heading = f"Recall sheet: everything that came of lot {recall.lot.number}"
        return [
            text(heading, 16, bold=True),
            text(f"{recall.lot.item.name}. {shop}, {on}.", 10.5),
            Spacer(0, 10),
            text("Still here", 12, bold=True),
            *_table(("", "Lot", "What", "Place", "On hand"), here, (4, 20, 44, 18, 14), width),
            Spacer(0, 12),
            text(f"Left the house: {quantity_text(recall.quantity, 'each')}", 12, bold=True),
            *_left_rows(recall, width),
            Spacer(0, 12),
            text(
                "Whether and how goods must be recalled is a matter of law: ask qualified advice.",
                8.5,
            ),
        ]

    return pdf_flow.draw(title, page, story)


class _Drawn(Flowable):
    """The picture of a family as a block of a page."""

    def __init__(self, drawn: Picture, middle: int, width: float) -> None:
        super().__init__()
        self.drawn, self.middle, self.width = drawn, middle, width
        wide, high = lineage_picture.size(drawn.layout)
        self.height = high * min(1.0, width / wide, _PICTURE_H / high)

    def draw(self) -> None:
        lineage_picture.draw(
            self.canv,
            self.drawn.layout,
            self.drawn.boxes,
            self.middle,
            left=0,
            top=self.height,
            room=(self.width, _PICTURE_H),
        )


def _lots(heading: str, lots: list[Told], width: float) -> list[Flowable]:
    rows = [
        (
            each.lot.number,
            "; ".join([each.lot.item.name, *(fact.text for fact in each.facts)]),
            " ".join(
                part for part in (str(each.lot.supplier or ""), each.lot.supplier_lot) if part
            ),
            each.lot.received_on.isoformat(),
            quantity_text(each.lot.on_hand, each.lot.item.stock_unit),
        )
        for each in lots
    ]
    head = ("Lot", "What", "Supplier and lot", "Since", "On hand")
    return [
        text(heading, 12, bold=True),
        *_table(head, rows, (18, 38, 18, 12, 14), width),
        Spacer(0, 8),
    ]


def _left(reached, lots, width: float) -> list[Flowable]:
    rows = [
        (
            each.to,
            each.what,
            each.on.isoformat(),
            lots[each.lot].number,
            quantity_text(each.quantity, lots[each.lot].item.stock_unit),
        )
        for each in reached
    ]
    head = ("To", "How", "On", "Lot", "Quantity")
    return [text("Left the house", 12, bold=True), *_table(head, rows, (30, 26, 14, 18, 12), width)]


def _left_rows(recall: Recall, width: float) -> list[Flowable]:
    rows = []
    for receiver in recall.receivers:
        who = " ".join(part for part in (receiver.name, receiver.contact) if part)
        for line in receiver.lines:
            left = line.reached
            amount = quantity_text(left.quantity, line.lot.item.stock_unit)
            rows.append(("☐", who, left.what, left.on.isoformat(), line.lot.number, amount))
            who = ""
    head = ("", "To", "How", "On", "Lot", "Bags")
    return _table(head, rows, (4, 36, 22, 13, 17, 8), width)


def _table(head, rows, shares, width: float) -> list[Flowable]:
    if not rows:
        return [text("Nothing.", 9.5)]
    cells = [[text(cell, 8.5, bold=True) for cell in head]]
    cells += [[text(str(cell), 8.5) for cell in row] for row in rows]
    table = Table(cells, colWidths=[share / 100 * width for share in shares], repeatRows=1)
    table.setStyle(
        TableStyle(
            [
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("LINEBELOW", (0, 0), (-1, -1), 0.4, colors.grey),
                ("LEFTPADDING", (0, 0), (-1, -1), 0),
                ("RIGHTPADDING", (0, 0), (-1, -1), 6),
            ]
        )
    )
    return [table]


def _place(lot: Lot) -> str:
    held = "on hold" if lot.held else ""
    return ", ".join(part for part in (str(lot.place or "no place"), held) if part)
