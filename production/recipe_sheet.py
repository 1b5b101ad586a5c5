"""Recipes as a sheet: a line for each dose.

Pure: records in, recipes and troubles out. What the shop already knows is passed in.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from inventory import amounts, units
from inventory.exchange.notation import Notation
from inventory.exchange.reading import Line
from inventory.exchange.table import (
    AMOUNT,
    NUMBER,
    Cell,
    Column,
    Record,
    Records,
    Trouble,
    closest,
    same_name,
)

COLUMNS = (
    Column("recipe", needed=True, longest=80, also=("name", "color"), help="your own name for it"),
    Column("base", needed=True, also=("base plastisol", "grade"), help="the name of a plastisol"),
    Column(
        "doses are for",
        AMOUNT,
        needed=True,
        longest=30,
        also=("reference",),
        help="so much base: 1 US cup, 100 mL",
    ),
    Column("kind", help="colorant, flake or additive; only where two items share a name"),
    Column("item", needed=True, also=("dose of",), help="what goes in"),
    Column("amount", AMOUNT, needed=True, also=("dose",), help="30 drops, ¼ tsp, 1 g"),
    Column("notes", longest=2_000),
)
EXAMPLES = (
    {
        "recipe": "Marsh Lantern",
        "base": "Soft base",
        "doses are for": "1 US cup",
        "item": "Ember flake",
        "amount": "½ tsp",
        "notes": "Stir until it is even.",
    },
)
NOTES = (
    "One line for each dose. The base, what the doses are for and the notes need to stand only in one "
    "line of a recipe.",
    "All lines of a recipe together are the recipe. Where its doses changed it gets its next version; a "
    "version that was poured is never edited.",
    "Base and items must be on the shelf already, with what their units need: a drop size, a weight of "
    "a teaspoon, a density.",
    "Overwrite the example lines. Lines that begin with # are notes and are not read.",
)
DOSED = ("colorant", "flake", "additive")


@dataclass(frozen=True)
class KnownItem:
    pk: int
    kind: str
    name: str
    stock_unit: str
    facts: Mapping[str, Decimal | None] = field(default_factory=dict)


@dataclass(frozen=True)
class Known:
    """What the shop has, by `same_name`: recipes (id, archived), plastisols, and items to dose."""

    recipes: Mapping[str, tuple[int, bool]] = field(default_factory=dict)
    bases: Mapping[str, KnownItem] = field(default_factory=dict)
    items: Mapping[str, list[KnownItem]] = field(default_factory=dict)


@dataclass(frozen=True)
class DoseLine:
    line: int
    item: int
    name: str
    amount: Decimal
    unit: str


@dataclass
class RecipeLines:
    """`reference` as said: (amount, unit). `base`: the plastisol's id; None: the sheet doesn't say."""

    line: int
    name: str
    base: int | None = None
    reference: tuple[Decimal, str] | None = None
    notes: str | None = None
    lines: list[DoseLine] = field(default_factory=list)
    known: int | None = None


def read(
    records: Records, notation: Notation, known: Known
) -> tuple[list[RecipeLines], list[Trouble]]:
    """The recipes of the sheet, and what is wrong with it."""
    troubles = list(records.troubles)
    recipes: dict[str, RecipeLines] = {}
    for record in records:
        _Line(record, notation, known, troubles).read(recipes)
    for recipe in recipes.values():
        if recipe.known:
            continue
        if recipe.base is None and not _told(troubles, recipe.line, "base"):
            troubles.append(Trouble(recipe.line, "base", "Write the base plastisol of the recipe."))
        if recipe.reference is None and not _told(troubles, recipe.line, "doses are for"):
            troubles.append(
                Trouble(
                    recipe.line,
                    "doses are for",
                    "Write how much base the doses are for, for example 1 US cup.",
                )
            )
    troubles.sort(key=lambda trouble: trouble.line)
    return list(recipes.values()), troubles


def _told(troubles: list[Trouble], line: int, column: str) -> bool:
    return any((trouble.line, trouble.column) == (line, column) for trouble in troubles)


class _Line(Line):
    def __init__(
        self, record: Record, notation: Notation, known: Known, troubles: list[Trouble]
    ) -> None:
        super().__init__(record, notation, troubles)
        self.known = known

    def read(self, recipes: dict[str, RecipeLines]) -> None:
        name = self.record.text("recipe")
        if not name:
            self.wrong("recipe", "The recipe has no name.")
            return
        pk, archived = self.known.recipes.get(same_name(name), (None, False))
        if archived:
            self.wrong("recipe", f"“{name}” is put away. Take it back on its page first.")
        recipe = recipes.setdefault(same_name(name), RecipeLines(self.record.line, name, known=pk))
        for fact, column, reader in (
            ("base", "base", self._base),
            ("reference", "doses are for", self._reference),
            ("notes", "notes", lambda cell: cell.text),
        ):
            value = self.cell(column, reader)
            if value is None:
                continue
            if getattr(recipe, fact) not in (None, value):
                self.wrong(column, f"“{name}” has another one on an earlier line. Make them agree.")
            setattr(recipe, fact, value)
        if dose := self._dose(recipe):
            recipe.lines.append(dose)

    def _dose(self, recipe: RecipeLines) -> DoseLine | None:
        if not self.record.text("item") and not self.record.text("amount"):
            # The base alone, without a dose.
            return None
        for column, what in (("item", "what goes in"), ("amount", "how much of it, with its unit")):
            if not self.record.text(column):
                self.wrong(column, f"Write {what}.")
                return None
        item = self.cell("item", self._item)
        if item is None:
            return None
        if any(line.item == item.pk for line in recipe.lines):
            self.wrong("item", f"“{item.name}” is already in this recipe. Add up its doses.")
            return None
        amount = self.cell("amount", lambda cell: self._amount(cell, item))
        return amount and DoseLine(self.record.line, item.pk, item.name, *amount)

    def _base(self, cell: Cell) -> int:
        found = self.known.bases.get(same_name(cell.text))
        if found:
            return found.pk
        hint = closest(cell.text, [base.name for base in self.known.bases.values()])
        raise ValueError(
            f"There is no plastisol called “{cell.text[:60]}” on the shelf.{hint} Add it there first."
        )

    def _reference(self, cell: Cell) -> tuple[Decimal, str]:
        if cell.kind == NUMBER:
            raise ValueError(f"Write its unit as well: {cell.text} mL, or 1 US cup.")
        amount = amounts.parse(self.pointed(cell))
        if amount.unit == "drop" or units.kind(amount.unit) != "volume":
            raise ValueError("Write a volume of base, for example 1 US cup or 100 mL.")
        if not 0 < units.convert(amount.value, amount.unit, "mL") <= 100_000:
            raise ValueError("This must be above 0 and at most 100 L.")
        return amount.value, amount.unit

    def _item(self, cell: Cell) -> KnownItem:
        kind = self.record.text("kind").casefold()
        if kind and kind not in DOSED:
            raise ValueError(f"“{kind[:40]}” is no kind that is dosed: {', '.join(DOSED)}.")
        found = [
            item
            for item in self.known.items.get(same_name(cell.text), [])
            if kind in ("", item.kind)
        ]
        if not found:
            names = [item.name for items in self.known.items.values() for item in items]
            raise ValueError(
                f"There is no {kind or 'colorant, flake or additive'} called “{cell.text[:60]}” on the "
                f"shelf.{closest(cell.text, names)} Add it there first."
            )
        if len(found) > 1:
            kinds = ", ".join(sorted(item.kind for item in found))
            raise ValueError(
                f"There is more than one “{cell.text}”: {kinds}. Write in the column “kind” which is "
                "meant."
            )
        return found[0]

    def _amount(self, cell: Cell, item: KnownItem) -> tuple[Decimal, str]:
        amount = amounts.parse(self.pointed(cell), default_unit=item.stock_unit)
        if not amount.value:
            raise ValueError("The dose must be more than zero.")
        try:
            units.to_micro(units.convert(amount.value, amount.unit, item.stock_unit, **item.facts))
        except units.UnitsError as error:
            raise ValueError(f"{item.name}: {error}") from error
        return amount.value, amount.unit
