"""The shelf as a sheet: what each line says of an item and a lot of it, or what is wrong with it.

Pure: records in, items and troubles out. What the shelf already knows is passed in as `Shelf`.
"""

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from functools import cached_property
from typing import Any

from inventory import amounts, flake_sizes, stocking, temperature, units
from inventory import density as densities
from inventory.exchange import notation as notations
from inventory.exchange.notation import Notation
from inventory.exchange.reading import Line
from inventory.exchange.table import (
    AMOUNT,
    DAY,
    NUMBER,
    Cell,
    Column,
    Record,
    Records,
    Trouble,
    same_name,
)

COLOR_KINDS = ("dye", "pigment", "pearl")
FLAKE_SHAPES = ("hexagon", "square", "strip", "irregular")
HARDNESS_SCALES = ("shore 00", "shore A", "own")

COLUMNS = (
    Column("kind", needed=True, help=", ".join(stocking.BOUGHT)),
    Column("item", needed=True, also=("name", "item name"), help="your own name for it"),
    Column("stock unit", needed=True, also=("unit",), help="mL, g or each"),
    Column(
        "on hand",
        AMOUNT,
        also=("amount", "quantity", "quantity on hand"),
        help="what is in this lot, in any unit that turns into the stock unit: 1 qt, 3.5 fl oz, 40 g",
    ),
    Column(
        "lot number",
        longest=40,
        also=("lot",),
        help="what you wrote on the bottle, once for each; empty: one is made",
    ),
    Column("cost", NUMBER, help="of the whole lot; empty: unknown, not zero"),
    Column("supplier"),
    Column("supplier lot", longest=60),
    Column("expires", DAY, also=("expires on",), help="year-month-day"),
    Column(
        "counted on",
        DAY,
        also=("counted", "received on"),
        help="the day the lot was counted, year-month-day; empty: today",
    ),
    Column("place", longest=80),
    Column("density", NUMBER, also=("density (g/ml)", "density g/ml"), help="g/mL"),
    Column("mL per drop", NUMBER, also=("drop ml",), help="count 20 drops into 1 mL: 0.05"),
    Column("g per tsp", NUMBER, also=("g per teaspoon",)),
    Column("weight", NUMBER, also=("weight g", "weight of one"), help="g of one piece"),
    Column("color", longest=7, help="# and six hex digits: #3a5f2b"),
    Column("color kind", help=", ".join(COLOR_KINDS)),
    Column("flake size", AMOUNT, help="with its unit: 0.040 in, 1 mm"),
    Column("flake shape", help=", ".join(FLAKE_SHAPES)),
    Column("hardness", longest=40, help="the number or word on the data sheet"),
    Column("hardness scale", help=", ".join(HARDNESS_SCALES)),
    Column("heat limit", AMOUNT, help="with its unit: 177 °C, 350 °F"),
    Column("melt limit", NUMBER, help="most melts"),
    Column("shelf life days", NUMBER, also=("shelf life (days)", "shelf life")),
    Column("hazards", longest=4_000, help="in the words of its safety data sheet"),
    Column("minimum", AMOUNT, help="buy when at or under it"),
    Column("target", AMOUNT, help="buy up to it"),
)

#: Example lines of the empty file, by column.
EXAMPLES = (
    {
        "kind": "plastisol",
        "item": "Soft base",
        "stock unit": "mL",
        "on hand": "1 gal",
        "lot number": "SB-1",
        "cost": "52.00",
        "supplier": "Gray Heron Supply",
        "place": "lower shelf",
        "density": "1.03",
        "heat limit": "177 °C",
        "minimum": "1 qt",
        "target": "2 gal",
    },
    {
        "kind": "flake",
        "item": "Ember flake",
        "stock unit": "g",
        "on hand": "40 g",
        "lot number": "EF-1",
        "expires": "2031-03-31",
        "place": "rack",
        "density": "1.37",
        "g per tsp": "3.1",
        "color": "#c8502a",
        "flake size": "0.04 in",
        "flake shape": "hexagon",
        "minimum": "10 g",
    },
)

NOTES = (
    "One line for each lot: a bottle, a jar, a pail. An item with several lots has several lines; its "
    "facts need to stand only in one of them.",
    "An empty cell says nothing: what the shelf knows stays. An empty “on hand” lists the item without "
    "stock. Suppliers and places that are new are added.",
    "A lot that is there already, by its number, is not received again, and its amount is not changed: "
    "count it instead.",
    "Overwrite the example lines. Lines that begin with # are notes and are not read.",
)

#: Item fact → its column. The names are those of the item's own columns.
FACTS = {
    "density_g_per_ml": "density",
    "ml_per_drop": "mL per drop",
    "g_per_tsp": "g per tsp",
    "weight_g": "weight",
    "color": "color",
    "color_kind": "color kind",
    "flake_size_in": "flake size",
    "flake_shape": "flake shape",
    "hardness": "hardness",
    "hardness_scale": "hardness scale",
    "heat_limit_c": "heat limit",
    "melt_limit": "melt limit",
    "shelf_life_days": "shelf life days",
    "hazards": "hazards",
    "minimum": "minimum",
    "target": "target",
}
_FIGURES = ("density_g_per_ml", "ml_per_drop", "g_per_tsp")
Key = tuple[str, str]


@dataclass(frozen=True)
class KnownItem:
    """An item on the shelf: its facts by name, levels in millionths."""

    pk: int
    name: str
    stock_unit: str
    facts: Mapping[str, Any] = field(default_factory=dict)
    archived: bool = False


@dataclass(frozen=True)
class KnownLot:
    """A lot on the shelf; quantities in millionths. `made` 0: it was undone. `opening`: from an
    opening entry, so that a line without a number may be it."""

    pk: int
    number: str
    item: Key
    on_hand: int
    made: int
    supplier: str = ""
    supplier_lot: str = ""
    expires_on: date | None = None
    place: str = ""
    opening: bool = False


@dataclass(frozen=True)
class Shelf:
    """What the shelf has of what the sheet names. `today`: no count lies after it."""

    today: date
    items: Mapping[Key, KnownItem] = field(default_factory=dict)
    lots: Sequence[KnownLot] = ()

    @cached_property
    def by_number(self) -> dict[str, KnownLot]:
        return {lot.number: lot for lot in self.lots}

    @cached_property
    def by_item(self) -> dict[Key, list[KnownLot]]:
        found: dict[Key, list[KnownLot]] = {}
        for lot in self.lots:
            found.setdefault(lot.item, []).append(lot)
        return found


@dataclass(frozen=True)
class LotLine:
    """A lot as the sheet says it: millionths of the stock unit, cost in millionths of the currency
    unit (None: unknown). `known`: the lot that it is."""

    line: int
    number: str
    quantity: int
    said: str
    cost: int | None
    supplier: str
    supplier_lot: str
    expires_on: date | None
    counted_on: date | None
    place: str
    known: KnownLot | None = None


@dataclass
class ItemLines:
    """An item as the sheet says it: only the facts that stand there."""

    line: int
    kind: str
    name: str
    stock_unit: str
    facts: dict[str, Any] = field(default_factory=dict)
    #: Its usual place, where a line without stock names one or the item is new.
    place: str = ""
    lots: list[LotLine] = field(default_factory=list)
    known: KnownItem | None = None

    @property
    def key(self) -> Key:
        return self.kind, same_name(self.name)


@dataclass
class Reading:
    items: list[ItemLines] = field(default_factory=list)
    troubles: list[Trouble] = field(default_factory=list)


def named(records: Iterable[Record]) -> tuple[set[Key], set[str]]:
    """The items and the lot numbers that the sheet names: what the shelf is asked for."""
    items, numbers = set(), set()
    for record in records:
        items.add((record.text("kind").casefold(), same_name(record.text("item"))))
        numbers.add(record.text("lot number"))
    return items, numbers - {""}


def read(records: Records, notation: Notation, shelf: Shelf) -> Reading:
    """All lines understood or refused. First every item's facts are gathered, then the amounts read."""
    reading = Reading(troubles=list(records.troubles))
    items: dict[Key, ItemLines] = {}
    origin: dict[tuple[Key, str], int] = {}
    lines = []
    for record in records:
        line = _Line(record, notation, reading.troubles)
        if item := line.item(items, shelf):
            line.gather(item, origin)
            lines.append((line, item))
    numbers: dict[str, int] = {}
    for line, item in lines:
        line.levels(item, origin)
        line.lot(item, numbers, shelf)
    for item in items.values():
        _check(item, reading.troubles)
        _find_unnumbered(item, shelf)
    reading.items = list(items.values())
    reading.troubles.sort(key=lambda trouble: trouble.line)
    return reading


def figures(item: ItemLines) -> dict[str, Decimal | None]:
    """The figures by which the item's units turn into each other, the sheet's before the shelf's."""
    known = item.known.facts if item.known else {}
    return {name: item.facts.get(name) or known.get(name) for name in _FIGURES}


def _check(item: ItemLines, troubles: list[Trouble]) -> None:
    known = item.known.facts if item.known else {}
    facts = {**known, **item.facts}
    if not facts.get("density_g_per_ml") and stocking.needs_density(item.kind, item.stock_unit):
        troubles.append(
            Trouble(
                item.line,
                "density",
                "Stocked in g, it needs its density in g/mL (flake of PET: about 1.37).",
            )
        )
    if facts.get("target") and facts["target"] < facts.get("minimum", 0):
        troubles.append(Trouble(item.line, "target", "The target is less than the minimum."))


def _find_unnumbered(item: ItemLines, shelf: Shelf) -> None:
    """A line without a number is the opening lot that it fits best; only what is over is new.

    So a file loaded again, changed or not, never receives its lots twice."""
    taken = {lot.known.pk for lot in item.lots if lot.known}
    left = [
        lot
        for lot in shelf.by_item.get(item.key, [])
        if lot.opening and lot.made and lot.pk not in taken
    ]
    tests: list[Callable[[LotLine, KnownLot], bool]] = [
        lambda mine, lot: _same_origin(mine, lot) and mine.quantity == lot.made,
        _same_origin,
    ]
    for fits in tests:
        for place, mine in enumerate(item.lots):
            if mine.number or mine.known:
                continue
            if found := next((lot for lot in left if fits(mine, lot)), None):
                left.remove(found)
                item.lots[place] = LotLine(**{**vars(mine), "known": found})


def _same_origin(mine: LotLine, lot: KnownLot) -> bool:
    return mine.supplier_lot.casefold() == lot.supplier_lot.casefold()


class _Line(Line):
    """One line being read: says what is wrong in each cell."""

    def item(self, items: dict[Key, ItemLines], shelf: Shelf) -> ItemLines | None:
        """The item of the line, met before or new in the sheet; None when it can't be told."""
        kind, name, unit = self._kind(), self.record.text("item"), ""
        if kind:
            unit = self._stock_unit(kind)
        if not name:
            self.wrong("item", "The item has no name.")
        if not (kind and name and unit):
            return None
        key = (kind, same_name(name))
        known = shelf.items.get(key)
        there = items.get(key)
        if known and known.archived:
            self.wrong("item", f"“{name}” is archived. Take it back on its page first.")
        elif known and known.stock_unit != unit:
            self.wrong(
                "stock unit",
                f"“{known.name}” is kept in {known.stock_unit} on the shelf. Write {known.stock_unit} "
                "here, or give the item another name.",
            )
        elif there and there.stock_unit != unit:
            self.wrong(
                "stock unit",
                f"“{name}” has {there.stock_unit} on line {there.line}. Make them agree.",
            )
        else:
            if not there:
                there = ItemLines(self.record.line, kind, name, unit, known=known)
                items[key] = there
            return there
        return None

    def gather(self, item: ItemLines, origin: dict) -> None:
        """The facts that don't depend on others."""
        readers: dict[str, Callable[[Cell], Any]] = {
            "density_g_per_ml": self._density,
            "ml_per_drop": lambda cell: self._figure(cell, 1),
            "g_per_tsp": lambda cell: self._figure(cell, 150),
            "weight_g": self._weight,
            "color": lambda cell: _color(cell.text),
            "color_kind": lambda cell: _one_of(cell.text, COLOR_KINDS),
            "flake_size_in": lambda cell: flake_sizes.parse(self.pointed(cell)),
            "flake_shape": lambda cell: _one_of(cell.text, FLAKE_SHAPES),
            "hardness": lambda cell: cell.text,
            "hardness_scale": lambda cell: _one_of(cell.text, HARDNESS_SCALES),
            "heat_limit_c": lambda cell: temperature.parse(self.pointed(cell)),
            "melt_limit": lambda cell: self._whole(cell, 99),
            "shelf_life_days": lambda cell: self._whole(cell, 20_000),
            "hazards": lambda cell: cell.text,
        }
        for name, reader in readers.items():
            self._fact(item, name, self.cell(FACTS[name], reader), origin)

    def levels(self, item: ItemLines, origin: dict) -> None:
        for name in ("minimum", "target"):
            value = self.cell(name, lambda cell: self._amount(cell, item))
            self._fact(item, name, value, origin)

    def lot(self, item: ItemLines, numbers: dict[str, int], shelf: Shelf) -> None:
        text, place = self.record.text, self.record.text("place")
        cost = self.cell("cost", self._money)
        quantity = self.cell("on hand", lambda cell: self._amount(cell, item))
        expires = self.cell("expires", self._day)
        counted = self.cell("counted on", self._day)
        if counted and counted > shelf.today:
            self.wrong(
                "counted on",
                f"{counted} is still to come; today is {shelf.today}. Write the day it was counted.",
            )
        if not quantity:
            self._without_stock(item, place, cost)
            return
        number = text("lot number")
        if number and number.casefold() in numbers:
            first = numbers[number.casefold()]
            self.wrong(
                "lot number",
                f"“{number}” is already the lot on line {first}. Each lot has its own number.",
            )
            return
        if number:
            numbers[number.casefold()] = self.record.line
        known = shelf.by_number.get(number) if number else None
        if known and known.item != item.key:
            self.wrong(
                "lot number",
                f"“{number}” is a lot of {known.item[1]}. Give this one another number.",
            )
            return
        said = self.record.cells["on hand"]
        item.lots.append(
            LotLine(
                line=self.record.line,
                number=number,
                quantity=quantity,
                said=f"{said.text} {item.stock_unit}" if said.kind == NUMBER else said.text,
                cost=cost,
                supplier=text("supplier"),
                supplier_lot=text("supplier lot"),
                expires_on=expires,
                counted_on=counted,
                place=place,
                known=known,
            )
        )
        if place and not item.known and not item.place:
            item.place = place

    def _without_stock(self, item: ItemLines, place: str, cost: int | None) -> None:
        if cost is not None:
            self.wrong("cost", "A cost stands here, but nothing on hand.")
        if self.record.text("lot number"):
            self.wrong(
                "on hand", "A lot number stands here, but nothing on hand. Write how much is in it."
            )
        item.place = item.place or place

    def _fact(self, item: ItemLines, name: str, value: Any, origin: dict) -> None:
        if value in (None, ""):
            return
        first = origin.setdefault((item.key, name), self.record.line)
        if item.facts.setdefault(name, value) != value:
            self.wrong(
                FACTS[name],
                f"“{item.name}” has {self._before(item, name)} on line {first}. Leave this cell empty, "
                "or make them agree.",
            )

    def _before(self, item: ItemLines, name: str) -> str:
        return f"“{shown(name, item.facts[name], item.stock_unit)}”"

    def _kind(self) -> str:
        kind = self.record.text("kind").casefold()
        if kind in stocking.BOUGHT:
            return kind
        said = f"“{kind[:40]}” is no kind." if kind else "The kind is missing."
        self.wrong("kind", f"{said} Kinds: {', '.join(stocking.BOUGHT)}.")
        return ""

    def _stock_unit(self, kind: str) -> str:
        text = self.record.text("stock unit")
        try:
            unit = units.unit(text) if text else ""
        except units.UnitsError:
            unit = ""
        allowed = stocking.stock_units(kind)
        if unit in allowed:
            return unit
        said = f"“{text[:40]}” won't do." if text else "The stock unit is missing."
        self.wrong("stock unit", f"{said} A {kind} is stocked in {' or '.join(allowed)}.")
        return ""

    # --- Readers of one cell: ValueError says how to write it ------------------

    def _day(self, cell: Cell) -> date:
        return notations.day(cell, self.notation)

    def _amount(self, cell: Cell, item: ItemLines) -> int:
        amount = amounts.parse(self.pointed(cell), default_unit=item.stock_unit)
        converted = units.convert(amount.value, amount.unit, item.stock_unit, **figures(item))
        millionths = units.to_micro(converted)
        if amount.value and not millionths:
            raise ValueError("This is too little to keep: less than a millionth.")
        if item.stock_unit == "each" and millionths % units.MICRO:
            raise ValueError("It is counted: write a whole number.")
        return millionths

    def _figure(self, cell: Cell, most: int) -> Decimal:
        value = amounts.number(self.pointed(cell))
        if not 0 < value <= most:
            raise ValueError(f"“{cell.text[:40]}” must be more than 0 and at most {most}.")
        if value != round(value, 6):
            raise ValueError("Write at most 6 decimals.")
        return value

    def _density(self, cell: Cell) -> Decimal:
        written = amounts.number(self.pointed(cell))
        if written > densities.MOST:
            raise ValueError(densities.too_dense(written))
        return self._figure(cell, int(densities.MOST))

    def _weight(self, cell: Cell) -> Decimal:
        value = self._figure(cell, 100_000)
        if value != round(value, 3):
            raise ValueError("Write at most 3 decimals.")
        return value

    def _whole(self, cell: Cell, most: int) -> int:
        value = amounts.number(self.pointed(cell))
        if value != int(value) or not 0 < value <= most:
            raise ValueError(f"Write a whole number from 1 to {most:,}.")
        return int(value)

    def _money(self, cell: Cell) -> int:
        value = amounts.number(self.pointed(cell).lstrip("$€£ "))
        if value > 1_000_000_000:
            raise ValueError("This is too much money. Check the figure.")
        if value != round(value, 2):
            raise ValueError("Write at most 2 decimals.")
        return units.to_micro(value)


def _color(text: str) -> str:
    if not re.fullmatch(r"#[0-9a-fA-F]{6}", text):
        raise ValueError("Write the color as # and six hex digits: #3a5f2b.")
    return text.lower()


def _one_of(text: str, words: Sequence[str]) -> str:
    for word in words:
        if text.casefold() == word.casefold():
            return word
    raise ValueError(f"“{text[:40]}” is none of: {', '.join(words)}.")


def shown(name: str, value: Any, stock_unit: str) -> str:
    """A fact as the sheet writes it; reading it gives the same fact."""
    if value in (None, ""):
        return ""
    if name in ("minimum", "target"):
        text = f"{units.from_micro(value):f}"
        number = text.rstrip("0").rstrip(".") if "." in text else text
        return f"{number} {stock_unit}" if value else ""
    if name == "flake_size_in":
        return flake_sizes.as_typed(value)
    if name == "heat_limit_c":
        return temperature.as_typed(value)
    if isinstance(value, Decimal):
        text = f"{value:f}"
        return text.rstrip("0").rstrip(".") if "." in text else text
    return str(value)
