"""Orders in a file from elsewhere: which column means what, and what each line then says.

Pure: tables in, orders and troubles out. Nothing about products or customers is known here.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from inventory import amounts
from inventory.exchange import notation as notations
from inventory.exchange.notation import Notation
from inventory.exchange.reading import Line
from inventory.exchange.table import (
    DAY,
    NUMBER,
    Cell,
    Column,
    FileError,
    Record,
    Records,
    Table,
    Trouble,
    same_name,
)

MOST_BAGS = 100_000
MOST_PRICE = Decimal(1_000_000)
#: Lines of one order, as in the form.
MOST_LINES = 60
_SAMPLES = 3
_CENT = Decimal("0.01")

#: What a column can mean. `also`: headings that are taken for it until someone says otherwise.
COLUMNS = [
    Column("order number", needed=True, also=("order", "order id", "number", "name", "order no"), longest=60),
    Column("ordered on", kind=DAY, also=("date", "order date", "created at", "placed on"), longest=40),
    Column("due on", kind=DAY, also=("due", "due date", "needed by", "ship by"), longest=40),
    Column("customer", needed=True, also=("customer name", "billing name", "buyer", "ship name"), longest=120),
    Column("email", also=("e-mail", "customer email", "email address"), longest=254),
    Column("address", also=("ship to", "shipping address", "address"), longest=400),
    Column("product", needed=True, also=("item", "item name", "product name", "sku", "line item"), longest=160),
    Column("bags", kind=NUMBER, needed=True, also=("quantity", "qty", "count"), longest=20),
    Column("price", kind=NUMBER, also=("price a bag", "unit price", "item price"), longest=30),
    Column("note", also=("notes", "comment", "message"), longest=2000),
    Column("shipping", kind=NUMBER, also=("shipping charged", "shipping price", "postage"), longest=30),
]  # fmt: skip
_BY_NAME = {column.name: column for column in COLUMNS}
NEEDED = [column.name for column in COLUMNS if column.needed]

#: A time behind a day is left out: an order has a day.
_TIME = re.compile(
    r"(?<=\d)(?:T|\s+|,\s*)(?:at\s+)?\d{1,2}:\d{2}(?::\d{2}(?:\.\d+)?)?\s*(?:[AaPp]\.?[Mm]\.?)?"
    r"\s*(?:Z|[A-Z]{2,4}|[+-]\d{2}:?\d{2})?\s*$"
)
_MONEY = re.compile(r"^[$€£]?\s*([^$€£A-Za-z]*?)\s*(?:[$€£]|[A-Z]{3})?$")


@dataclass(frozen=True)
class Heading:
    """One column of a file: its heading (told apart where two are the same), and what stands in it."""

    name: str
    samples: tuple[str, ...]


@dataclass
class Placed:
    """One order as the file has it. `line`: where it begins."""

    reference: str
    line: int
    customer: str = ""
    email: str = ""
    address: str = ""
    note: str = ""
    ordered_on: date | None = None
    due_on: date | None = None
    shipping_minor: int = 0
    lines: list["PlacedLine"] = field(default_factory=list)


@dataclass(frozen=True)
class PlacedLine:
    """`price_minor` None: the file names none."""

    line: int
    product: str
    bags: int
    price_minor: int | None


def headings(table: Table) -> list[Heading]:
    """The columns of the file, in its order. Raises FileError where it has no line below its headings."""
    if len(table.rows) < 2:
        raise FileError("The file has no line below its column names.")
    head = [cell.text for cell in table.rows[0][1]]
    width = max(len(cells) for _, cells in table.rows)
    found, seen = [], set()
    for place in range(width):
        name = (head[place] if place < len(head) else "")[:80] or f"column {place + 1}"
        while same_name(name) in seen:
            name = f"{name} again"
        seen.add(same_name(name))
        texts = [cells[place].text for _, cells in table.rows[1:] if place < len(cells)]
        samples = list(dict.fromkeys(text[:40] for text in texts if text))
        found.append(Heading(name, tuple(samples[:_SAMPLES])))
    return found


def guess(found: Sequence[Heading]) -> dict[str, str]:
    """Meaning → heading, as far as the headings are words of ours. It is shown before it counts."""
    names = {same_name(heading.name.replace("_", " ")): heading.name for heading in found}
    guessed: dict[str, str] = {}
    for column in COLUMNS:
        for said in (column.name, *column.also):
            if said in names and names[said] not in guessed.values():
                guessed[column.name] = names[said]
                break
    return guessed


def fitting(mapping: Mapping[str, str], found: Sequence[Heading]) -> dict[str, str]:
    """What of a kept mapping is in this file: letter size and spaces of a heading don't count."""
    names = {same_name(heading.name): heading.name for heading in found}
    return {
        meaning: names[same_name(heading)]
        for meaning, heading in mapping.items()
        if meaning in _BY_NAME and same_name(heading) in names
    }


def chosen(table: Table, mapping: Mapping[str, str]) -> Table:
    """The mapped columns of the file alone, under our names for them."""
    places = {heading.name: place for place, heading in enumerate(headings(table))}
    columns = [(meaning, places[name]) for meaning, name in mapping.items()]
    head = (table.rows[0][0], tuple(Cell(meaning) for meaning, _ in columns))
    rows = [
        (line, tuple(_cell(cells, place, _BY_NAME[meaning]) for meaning, place in columns))
        for line, cells in table.rows[1:]
    ]
    kept = [(line, cells) for line, cells in rows if any(c.text or c.trouble for c in cells)]
    return Table(
        (head, *kept), separator=table.separator, notes=table.notes, troubles=table.troubles
    )


def _cell(cells: Sequence[Cell], place: int, column: Column) -> Cell:
    cell = cells[place] if place < len(cells) else Cell()
    if column.kind == DAY:
        return Cell(_TIME.sub("", cell.text), cell.kind, cell.trouble)
    return cell


def read(records: Records, notation: Notation, today: date) -> tuple[list[Placed], list[Trouble]]:
    """The orders of the file, lines of one number together, and everything that is wrong with them.

    What the first line of an order says of the order holds for the others that leave it empty."""
    troubles = list(records.troubles)
    orders: dict[str, Placed] = {}
    for record in records:
        line = _OrderLine(record, notation, troubles)
        if reference := line.reference():
            line.take_into(orders.setdefault(same_name(reference), Placed(reference, record.line)))
    for order in orders.values():
        troubles += _of_order(order, today)
    return list(orders.values()), sorted(troubles, key=lambda trouble: trouble.line)


class _OrderLine(Line):
    def reference(self) -> str:
        text = self.record.text("order number").lstrip("#").strip()
        if not text:
            self.wrong("order number", "Every line names its order. Write the number here.")
        return text

    def take_into(self, order: Placed) -> None:
        for column, name in (
            ("customer", "customer"), ("email", "email"), ("address", "address"), ("note", "note"),
        ):  # fmt: skip
            self._keep(order, column, name, self.record.text(column))
        self._keep(order, "ordered on", "ordered_on", self.cell("ordered on", self._day))
        self._keep(order, "due on", "due_on", self.cell("due on", self._day))
        self._keep(order, "shipping", "shipping_minor", self.cell("shipping", self._money))
        product, bags = self.record.text("product"), self.cell("bags", self._bags)
        if not product:
            self.wrong("product", "What was ordered? Write the product here.")
        if bags is None and not self.record.text("bags"):
            self.wrong("bags", "How many bags? Write the number here.")
        order.lines.append(
            PlacedLine(self.record.line, product, bags or 0, self.cell("price", self._money))
        )

    def _keep(self, order: Placed, column: str, name: str, value) -> None:
        had = getattr(order, name)
        if value and had and value != had:
            self.wrong(
                column,
                f"Order {order.reference} has another {column} in line {order.line}. Make them the "
                "same, or give the orders different numbers.",
            )
        elif value:
            setattr(order, name, value)

    def _day(self, cell: Cell) -> date:
        return notations.day(cell, self.notation)

    def _bags(self, cell: Cell) -> int:
        bags = amounts.number(self.pointed(cell))
        if bags != int(bags):
            raise ValueError("Bags are counted: write a whole number.")
        if not 1 <= bags <= MOST_BAGS:
            raise ValueError(f"Write a number from 1 to {MOST_BAGS:,}.")
        return int(bags)

    def _money(self, cell: Cell) -> int:
        bare = _MONEY.fullmatch(cell.text)
        if not bare or not bare[1]:
            raise ValueError("This isn't money. Write it as 6.50.")
        value = amounts.number(self.pointed(Cell(bare[1], cell.kind)))
        if value > MOST_PRICE:
            raise ValueError(f"This is more than {MOST_PRICE:,}. Check the point and the zeros.")
        if value != value.quantize(_CENT):
            raise ValueError("Money has two decimals at most.")
        return int(value * 100)


def _of_order(order: Placed, today: date) -> list[Trouble]:
    wrong = []
    if not order.customer:
        wrong.append(Trouble(order.line, "customer", "Who ordered it? Write the name here."))
    if order.ordered_on and order.ordered_on > today:
        said = f"{order.ordered_on} is still to come. Write the day it was ordered."
        wrong.append(Trouble(order.line, "ordered on", said))
    if order.due_on and order.due_on < (order.ordered_on or today):
        said = f"{order.due_on} is before the order itself. Mend one of the two days."
        wrong.append(Trouble(order.line, "due on", said))
    if len(order.lines) > MOST_LINES:
        said = f"Order {order.reference} has more than {MOST_LINES} lines. Split it in two."
        wrong.append(Trouble(order.line, "order number", said))
    return wrong


def records_of(table: Table) -> list[Record]:
    """The lines of a chosen table, for what must be asked before it is read."""
    names = [cell.text for cell in table.rows[0][1]]
    return [Record(line, dict(zip(names, cells, strict=True))) for line, cells in table.rows[1:]]
