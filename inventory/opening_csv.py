"""Reading the opening shelf from a CSV file: every row is understood or refused in plain words.

Pure: text in, rows and errors out. What the shelf already knows is passed in as `Known` facts.
"""

import csv
import io
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from inventory import amounts, stocking, units

MUST = ("kind", "item", "stock unit", "amount")
MAY = (
    "cost",
    "supplier",
    "supplier lot",
    "expires",
    "place",
    "density",
    "drop mL",
    "color",
    "minimum",
    "target",
)
COLUMNS = (*MUST, *MAY)
MOST_BYTES = 1_000_000
# A shelf has fewer; more would keep other writers waiting for many seconds.
MOST_ROWS = 500
LONGEST = {"item": 120, "supplier": 120, "supplier lot": 60, "place": 80}

EXAMPLES = (
    ("plastisol", "Soft base", "mL", "1 gal", "52.00", "Gray Heron Supply", "", "", "lower shelf")
    + ("1.03", "", "", "1 qt", "2 gal"),
    ("colorant", "Copper dusk", "mL", "3.5 fl oz", "6.50", "Gray Heron Supply", "C-118")
    + ("2028-03-31", "rack", "", "0.03", "#9a5a2c", "20 mL", "118 mL"),
    (
        "flake",
        "Ember flake",
        "g",
        "40 g",
        "",
        "",
        "",
        "",
        "rack",
        "1.37",
        "",
        "#c8502a",
        "10 g",
        "",
    ),
    ("packaging", "Bag 4 x 6 in", "each", "200", "14.00", "", "", "", "", "", "", "", "50", "300"),
)


class FileError(ValueError):
    """The file as a whole can't be read; the text says why and what to do."""


@dataclass(frozen=True)
class Known:
    """An item already on the shelf: its stock unit and figures, levels in millionths."""

    stock_unit: str
    density_g_per_ml: Decimal | None = None
    ml_per_drop: Decimal | None = None
    g_per_tsp: Decimal | None = None
    color: str = ""
    minimum: int = 0
    target: int = 0
    archived: bool = False


@dataclass(frozen=True)
class Row:
    """One line understood. Quantities in millionths of the stock unit; `cost` in millionths of the
    currency unit, None when unknown; `quantity` 0 lists the item without stock."""

    line: int
    kind: str
    item: str
    stock_unit: str
    quantity: int
    said: str
    cost: int | None
    supplier: str
    supplier_lot: str
    expires_on: date | None
    place: str
    density_g_per_ml: Decimal | None
    ml_per_drop: Decimal | None
    color: str
    minimum: int | None
    target: int | None
    known: bool = False

    @property
    def key(self) -> tuple[str, str]:
        return self.kind, self.item.casefold()


@dataclass(frozen=True)
class Trouble:
    """What is wrong in a line, in which column ("" when it is the whole line)."""

    line: int
    column: str
    text: str


@dataclass
class Reading:
    rows: list[Row] = field(default_factory=list)
    troubles: list[Trouble] = field(default_factory=list)


def decode(data: bytes) -> str:
    """The file's text: UTF-8, with or without its byte-order mark. FileError otherwise."""
    if len(data) > MOST_BYTES:
        raise FileError("The file is larger than 1 MB. Split it, or remove what isn't needed.")
    if data.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0")):
        raise FileError("This is a spreadsheet file. Save it as CSV (UTF-8) and choose that one.")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise FileError(
            f"The file isn't UTF-8: line {line} has a letter that can't be read. "
            "In the spreadsheet, save it as “CSV UTF-8”."
        ) from error


def template() -> str:
    """The empty form of the file, with a few invented lines to overwrite."""
    out = io.StringIO()
    csv.writer(out).writerows([COLUMNS, *EXAMPLES])
    return out.getvalue()


def read(text: str, known: Mapping[tuple[str, str], Known]) -> Reading:
    """All lines understood or refused. `known` maps (kind, name in lower case) to what the shelf has.

    Raises FileError when the columns are wrong: then no line can be trusted."""
    if "\0" in text:
        raise FileError("The file holds characters that are no text. Save it as CSV (UTF-8) again.")
    lines = _lines(text)
    header = _header(lines)
    if len(lines) - 1 > MOST_ROWS:
        raise FileError(f"The file has more than {MOST_ROWS} lines. Load it in parts.")
    reading, first = Reading(), {}
    for number, cells in lines[1:]:
        try:
            row = _Line(number, header, cells).row(known, first)
        except _Wrong as wrong:
            reading.troubles += wrong.troubles
            continue
        reading.rows.append(row)
    if not lines[1:]:
        raise FileError("The file has its column names but no lines below them.")
    return reading


class _Wrong(Exception):
    def __init__(self, troubles: list[Trouble]) -> None:
        self.troubles = troubles


def _lines(text: str) -> list[tuple[int, list[str]]]:
    """The lines that hold anything, each with its number in the file."""
    head = text.lstrip("\r\n").split("\n", 1)[0]
    delimiter = max(",;\t", key=head.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    found, start = [], 1
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                found.append((start, [" ".join(cell.split()) for cell in cells]))
            start = reader.line_num + 1
    except csv.Error as error:
        raise FileError(
            f"Line {start} can't be read as CSV: a quotation mark isn't closed or stands alone."
        ) from error
    if not found:
        raise FileError("The file is empty.")
    return found


def _header(lines: list[tuple[int, list[str]]]) -> list[str]:
    by_name = {name.casefold(): name for name in COLUMNS}
    header = []
    cells = lines[0][1]
    while cells and not cells[-1]:
        cells = cells[:-1]
    for place, cell in enumerate(cells, start=1):
        name = by_name.get(cell.replace("_", " ").casefold())
        if name is None:
            left = [column for column in COLUMNS if column not in header]
            raise FileError(
                f"Column {place} is named “{cell[:40]}”, which isn't one of ours. Expected here: "
                f"{', '.join(left)}."
            )
        if name in header:
            raise FileError(f"The column “{name}” is there twice.")
        header.append(name)
    if missing := [name for name in MUST if name not in header]:
        raise FileError(f"The file lacks the column “{missing[0]}”. Needed: {', '.join(MUST)}.")
    return header


class _Line:
    """One line being read: collects what is wrong in each cell before it gives up."""

    def __init__(self, number: int, header: list[str], cells: list[str]) -> None:
        self.number, self.troubles = number, []
        if any(cells[len(header) :]):
            self._wrong(
                "",
                f"There are {len(cells)} cells but {len(header)} columns. A text with a comma in it "
                "must stand in quotation marks.",
            )
        self.cells = dict(zip(header, cells, strict=False))

    def row(self, known: Mapping[tuple[str, str], Known], first: dict) -> Row:
        kind = self._kind()
        item = self._text("item")
        if not item:
            self._wrong("item", "The item has no name.")
        there = known.get((kind, item.casefold()))
        unit = self._stock_unit(kind)
        density = self._cell("density", lambda text: _figure(text, 25))
        drop = self._cell("drop mL", lambda text: _figure(text, 1))
        facts = {
            "density_g_per_ml": density or (there.density_g_per_ml if there else None),
            "ml_per_drop": drop or (there.ml_per_drop if there else None),
            "g_per_tsp": there.g_per_tsp if there else None,
        }
        amount = self._cell("amount", lambda text: _amount(text, unit, facts)) if unit else None
        row = Row(
            line=self.number,
            kind=kind,
            item=item,
            stock_unit=unit,
            quantity=amount or 0,
            said=self.cells.get("amount", ""),
            cost=self._cell("cost", _money),
            supplier=self._text("supplier"),
            supplier_lot=self._text("supplier lot"),
            expires_on=self._cell("expires", _day),
            place=self._text("place"),
            density_g_per_ml=density,
            ml_per_drop=drop,
            color=self._cell("color", _color) or "",
            minimum=self._cell("minimum", lambda text: _amount(text, unit, facts))
            if unit
            else None,
            target=self._cell("target", lambda text: _amount(text, unit, facts)) if unit else None,
            known=there is not None,
        )
        self._check(row, there, first, facts)
        if self.troubles:
            raise _Wrong(self.troubles)
        first.setdefault(row.key, row)
        return row

    def _check(self, row: Row, there: Known | None, first: dict, facts: dict) -> None:
        if there and there.archived:
            self._wrong("item", f"“{row.item}” is archived. Take it back on its page first.")
        elif there:
            self._same(row, there, "already on the shelf")
        elif row.key in first:
            self._same(row, first[row.key], f"on line {first[row.key].line}")
        elif stocking.needs_density(row.kind, row.stock_unit) and not facts["density_g_per_ml"]:
            self._wrong(
                "density", "Stocked in g, it needs its density in g/mL (flake of PET: about 1.37)."
            )
        if row.target and row.minimum and row.target < row.minimum:
            self._wrong("target", "The target is less than the minimum.")
        if row.cost is not None and not row.quantity:
            self._wrong("cost", "A cost stands here, but no amount.")

    def _same(self, row: Row, other: "Known | Row", where: str) -> None:
        """An item has one set of facts: what a later line gives must agree with the first."""
        shared = {
            "stock unit": "stock_unit",
            "density": "density_g_per_ml",
            "drop mL": "ml_per_drop",
            "color": "color",
            "minimum": "minimum",
            "target": "target",
        }
        for column, name in shared.items():
            mine, theirs = getattr(row, name), getattr(other, name)
            if isinstance(mine, str) and isinstance(theirs, str):
                mine, theirs = mine.casefold(), theirs.casefold()
            if mine and mine != theirs:
                self._wrong(
                    column,
                    f"“{row.item}” is {where} with {_shown(theirs, other.stock_unit)}. Leave this "
                    "cell empty, or make them agree.",
                )

    def _kind(self) -> str:
        kind = self.cells.get("kind", "").casefold()
        if kind not in stocking.BOUGHT:
            said = f"“{kind[:40]}” is no kind." if kind else "The kind is missing."
            self._wrong("kind", f"{said} Kinds: {', '.join(stocking.BOUGHT)}.")
        return kind

    def _stock_unit(self, kind: str) -> str:
        text = self.cells.get("stock unit", "")
        try:
            unit = units.unit(text) if text else ""
        except units.UnitsError:
            unit = ""
        allowed = stocking.stock_units(kind)
        if unit not in allowed:
            said = f"“{text[:40]}” won't do." if text else "The stock unit is missing."
            self._wrong(
                "stock unit", f"{said} A {kind or 'item'} is stocked in {' or '.join(allowed)}."
            )
            return ""
        return unit

    def _text(self, column: str) -> str:
        text = self.cells.get(column, "")
        if len(text) > LONGEST[column]:
            self._wrong(column, f"This is longer than {LONGEST[column]} letters.")
            return text[: LONGEST[column]]
        return text

    def _cell(self, column: str, reader: Callable):
        text = self.cells.get(column, "")
        if not text:
            return None
        try:
            return reader(text)
        except (amounts.AmountError, units.UnitsError, ValueError) as error:
            self._wrong(column, str(error))
            return None

    def _wrong(self, column: str, text: str) -> None:
        self.troubles.append(Trouble(self.number, column, text))


def _shown(value: object, stock_unit: str) -> str:
    if isinstance(value, int) and value:
        return f"“{amounts.show(units.from_micro(value), stock_unit)}”"
    return f"“{value}”" if value else "none"


def _amount(text: str, stock_unit: str, facts: dict) -> int:
    amount = amounts.parse(text, default_unit=stock_unit)
    millionths = units.to_micro(units.convert(amount.value, amount.unit, stock_unit, **facts))
    if stock_unit == "each" and millionths % units.MICRO:
        raise ValueError("It is counted: write a whole number.")
    return millionths


def _figure(text: str, most: int) -> Decimal:
    value = amounts.number(text)
    if not 0 < value <= most:
        raise ValueError(f"This must be more than 0 and at most {most}.")
    if value != round(value, 6):
        raise ValueError("Write at most 6 decimals.")
    return value


def _money(text: str) -> int:
    value = amounts.number(text.lstrip("$€£ "))
    if value > 1_000_000_000:
        raise ValueError("This is too much money. Check the figure.")
    if value != round(value, 2):
        raise ValueError("Write at most 2 decimals.")
    return units.to_micro(value)


def _day(text: str) -> date:
    if not re.fullmatch(r"\d{4}-\d{2}-\d{2}", text, re.ASCII):
        raise ValueError(f"“{text[:40]}” isn't a day. Write year-month-day: 2027-06-30.")
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise ValueError(f"There is no day {text}.") from error


def _color(text: str) -> str:
    if not re.fullmatch(r"#[0-9a-fA-F]{6}", text):
        raise ValueError("Write the color as # and six hex digits: #3a5f2b.")
    return text.lower()
