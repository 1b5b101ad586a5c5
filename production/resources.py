"""Sheets of molds and of recipes into rows of the database: what is new, what changes, what stays."""

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from django.db.models import Prefetch

from inventory.exchange.notation import Notation
from inventory.exchange.table import Records, Trouble, same_name
from inventory.forms_base import number_text
from inventory.models import Item
from inventory.resources import CHANGED, NEW, THING, Outcome, SheetResource
from inventory.services.exchange import Importing
from production import mold_sheet, recipe_sheet, said
from production.models import Bait, Cavity, Dose, Mold, Recipe, RecipeVersion
from production.services import molds, recipes


def _plain(text: str) -> str:
    return text.replace("\r\n", "\n").strip()


class MoldResource(SheetResource):
    """Molds with their cavities, and the baits that these name."""

    class Meta(SheetResource.Meta):
        model = Mold

    columns = {
        "name": "mold",
        "bait": "bait",
        "count": "cavities",
        "bait_ml": "bait volume",
        "shot_ml": "shot volume",
        "length_mm": "bait length",
        "part": "part",
    }
    _LABELS = {
        "shot_ml": ("shot volume", "mL"),
        "copies": ("copies", ""),
        "minutes_per_cycle": ("minutes per cycle", ""),
        "notes": ("notes", ""),
    }

    def __init__(self, *, key: Any = None, by: Any = None) -> None:
        """`key` and `by` are for postings; a mold is none."""
        super().__init__()

    def before_import(self, dataset, **kwargs) -> None:
        known = [thing.known for thing in dataset[THING] if thing.known]
        cavities = Cavity.objects.select_related("bait", "part")
        queryset = Mold.objects.prefetch_related(Prefetch("cavities", queryset=cavities))
        self._molds = queryset.in_bulk(known)
        self._baits = {same_name(bait.name): bait for bait in Bait.objects.all()}
        self._parts = Item.objects.filter(kind=Item.Kind.PART).in_bulk()

    def find(self, thing: mold_sheet.MoldLines) -> Mold | None:
        return self._molds[thing.known] if thing.known else None

    def compare(self, instance: Mold | None, thing: mold_sheet.MoldLines) -> Outcome:
        outcome = Outcome(thing.name, thing.line)
        if instance is None:
            outcome.state = NEW
        for name, value in thing.facts.items():
            label, unit = self._LABELS[name]
            before = None if instance is None else getattr(instance, name)
            if instance is None or not _same(before, value):
                words = [_words(each, unit) for each in (before, value)]
                outcome.details.append(f"{label}: {' → '.join(word for word in words if word)}")
        for line in thing.lines:
            outcome.details += self._bait_changes(line)
        outcome.details += self._cavity_changes(instance, thing)
        if instance is not None and outcome.details:
            outcome.state = CHANGED
        return outcome

    def write(self, instance: Mold | None, thing: mold_sheet.MoldLines, *, dry_run: bool) -> None:
        names = ("shot_ml", "copies", "minutes_per_cycle")
        facts = {name: getattr(instance, name) for name in names} if instance else {}
        before = dict(self._baits)
        try:
            cavities = [self._cavity(line) for line in thing.lines]
            molds.save_mold(
                mold=instance,
                name=instance.name if instance else thing.name,
                cavities=cavities,
                **{**facts, **thing.facts},
            )
        except Exception:
            # The line is rolled back, and what was made for it with it.
            self._baits = before
            raise

    def _cavity(self, line: mold_sheet.CavityLine) -> molds.CavitySpec:
        key = same_name(line.bait)
        bait = self._baits.get(key)
        if bait is None or self._bait_facts(line):
            facts = {"length_mm": bait.length_mm, "flat": bait.flat} if bait else {}
            bait = molds.save_bait(
                bait=bait,
                name=bait.name if bait else line.bait,
                **{**facts, **self._bait_facts(line)},
            )
            self._baits[key] = bait
        inlay = None
        if line.part:
            inlay = molds.Inlay(self._parts[line.part], line.parts_each or 1)
        return molds.CavitySpec(bait, line.count, line.bait_ml, inlay)

    def _bait_facts(self, line: mold_sheet.CavityLine) -> dict[str, Any]:
        """What the sheet says otherwise of the bait, or all it says of a new one."""
        bait = self._baits.get(same_name(line.bait))
        facts = {"length_mm": line.length_mm, "flat": line.flat}
        return {
            name: value
            for name, value in facts.items()
            if value is not None and (bait is None or getattr(bait, name) != value)
        }

    def _bait_changes(self, line: mold_sheet.CavityLine) -> Iterable[str]:
        bait = self._baits.get(same_name(line.bait))
        facts = self._bait_facts(line)
        if bait is None:
            flat = ", flat" if facts.get("flat") else ""
            yield f"new bait {line.bait}: {number_text(facts['length_mm'])} mm{flat}"
            return
        if "length_mm" in facts:
            after = number_text(facts["length_mm"])
            yield f"bait {bait}: length {number_text(bait.length_mm)} → {after} mm"
        if "flat" in facts:
            yield f"bait {bait}: {'flat' if facts['flat'] else 'not flat'}"

    def _cavity_changes(self, instance: Mold | None, thing: mold_sheet.MoldLines) -> Iterable[str]:
        there = {same_name(c.bait.name): c for c in instance.cavities.all()} if instance else {}
        for line in thing.lines:
            cavity = there.pop(same_name(line.bait), None)
            part, each = line.part, line.parts_each or 1
            if part is None and cavity:
                part, each = cavity.part_id, cavity.parts_each
            wanted = (line.count, line.bait_ml, part, each if part else 1)
            after = self._cavity_words(*wanted)
            if cavity is None:
                yield f"{line.bait}: {after}"
                continue
            now = (
                cavity.count,
                cavity.bait_ml,
                cavity.part_id,
                cavity.parts_each if cavity.part_id else 1,
            )
            if now != wanted:
                yield f"{line.bait}: {self._cavity_words(*now)} → {after}"
        for cavity in there.values():
            yield f"{cavity.bait} is taken from the mold"

    def _cavity_words(self, count: int, bait_ml: Decimal, part: int | None, each: int) -> str:
        words = f"{count} × {number_text(bait_ml)} mL"
        return f"{words} with {each} × {self._parts[part]}" if part else words


def _same(before: Any, after: Any) -> bool:
    return _plain(before) == after if isinstance(before, str) else before == after


def _words(value: Any, unit: str) -> str:
    if value in (None, ""):
        return ""
    text = number_text(value) if isinstance(value, Decimal | int) else str(value)
    return f"{text} {unit}".strip()


class RecipeResource(SheetResource):
    """Recipes; a recipe whose doses changed gets its next version (rule 6)."""

    class Meta(SheetResource.Meta):
        model = Recipe

    columns = {
        "name": "recipe",
        "grade": "base",
        "reference": "doses are for",
        "item": "item",
        "amount": "amount",
    }

    def __init__(self, *, key: Any = None, by: Any = None) -> None:
        """`key` and `by` are for postings; a recipe is none."""
        super().__init__()

    def before_import(self, dataset, **kwargs) -> None:
        known = [thing.known for thing in dataset[THING] if thing.known]
        self._recipes = Recipe.objects.in_bulk(known)
        doses = Dose.objects.select_related("item")
        versions = (
            RecipeVersion.objects.filter(recipe__in=known)
            .select_related("grade", "recipe")
            .prefetch_related(Prefetch("doses", queryset=doses))
            .order_by("number")
        )
        # The newest comes last and stays.
        self._newest = {version.recipe_id: version for version in versions}
        self._items = Item.objects.filter(kind__in=[*Item.DOSED, Item.Kind.PLASTISOL]).in_bulk()

    def find(self, thing: recipe_sheet.RecipeLines) -> Recipe | None:
        return self._recipes[thing.known] if thing.known else None

    def compare(self, instance: Recipe | None, thing: recipe_sheet.RecipeLines) -> Outcome:
        outcome = Outcome(thing.name, thing.line)
        if instance is None:
            outcome.state = NEW
            amount, unit = thing.reference
            base = self._items[thing.base]
            outcome.details.append(f"for {said.said(amount, unit)} of {base}")
            outcome.details += [self._dose_words(line) for line in thing.lines] or ["no doses"]
            return outcome
        version = self._newest[instance.pk]
        outcome.details += self._changes(version, thing)
        if outcome.details:
            outcome.state = CHANGED
            if recipes.is_used(version):
                outcome.details.append(f"becomes version {version.number + 1}")
            else:
                outcome.details.append(f"version {version.number} changes: it was never poured")
        return outcome

    def write(
        self, instance: Recipe | None, thing: recipe_sheet.RecipeLines, *, dry_run: bool
    ) -> None:
        doses = [
            recipes.DoseSpec(self._items[line.item], line.amount, line.unit) for line in thing.lines
        ]
        if instance is None:
            amount, unit = thing.reference
            facts = {"grade": self._items[thing.base], "notes": thing.notes or ""}
            recipes.create(
                name=thing.name, reference_amount=amount, reference_unit=unit, doses=doses, **facts
            )
            return
        version = self._newest[instance.pk]
        amount, unit = thing.reference or (version.reference_ml, "mL")
        recipes.revise(
            version,
            grade=self._items[thing.base] if thing.base else version.grade,
            reference_amount=amount,
            reference_unit=unit,
            doses=doses,
            notes=version.notes if thing.notes is None else thing.notes,
        )

    def _changes(self, version: RecipeVersion, thing: recipe_sheet.RecipeLines) -> Iterable[str]:
        if thing.base and thing.base != version.grade_id:
            yield f"base: {version.grade} → {self._items[thing.base]}"
        if thing.reference:
            amount, unit = thing.reference
            millilitres = recipes.reference_ml(amount, unit)
            if millilitres != version.reference_ml:
                yield f"doses are for: {version.reference_said} → {said.said(amount, unit)}"
        if thing.notes is not None and thing.notes != _plain(version.notes):
            yield f"notes: {thing.notes}"
        there = {dose.item_id: dose for dose in version.doses.all()}
        for line in thing.lines:
            dose = there.pop(line.item, None)
            if dose is None:
                yield f"new dose: {self._dose_words(line)}"
            elif (dose.amount, dose.unit) != (round(line.amount, 6), line.unit):
                before = said.said(dose.amount, dose.unit)
                yield f"{line.name}: {before} → {said.said(line.amount, line.unit)}"
        for dose in there.values():
            yield f"{dose.item} is left out"

    def _dose_words(self, line: recipe_sheet.DoseLine) -> str:
        return f"{said.said(line.amount, line.unit)} {line.name}"


def _known_molds() -> mold_sheet.Known:
    parts = Item.objects.current().filter(kind=Item.Kind.PART)
    return mold_sheet.Known(
        molds={same_name(mold.name): (mold.pk, mold.archived) for mold in Mold.objects.all()},
        baits={
            same_name(bait.name): mold_sheet.KnownBait(
                bait.pk, bait.name, bait.length_mm, bait.flat, bait.archived
            )
            for bait in Bait.objects.all()
        },
        parts={same_name(item.name): (item.pk, item.name) for item in parts},
    )


def _known_recipes() -> recipe_sheet.Known:
    bases: dict[str, recipe_sheet.KnownItem] = {}
    dosed: dict[str, list[recipe_sheet.KnownItem]] = {}
    kinds = [*Item.DOSED, Item.Kind.PLASTISOL]
    for item in Item.objects.current().filter(kind__in=kinds):
        known = recipe_sheet.KnownItem(item.pk, item.kind, item.name, item.stock_unit, item.facts())
        if item.kind == Item.Kind.PLASTISOL:
            bases[same_name(item.name)] = known
        else:
            dosed.setdefault(same_name(item.name), []).append(known)
    return recipe_sheet.Known(
        recipes={same_name(row.name): (row.pk, row.archived) for row in Recipe.objects.all()},
        bases=bases,
        items=dosed,
    )


def _read_molds(records: Records, notation: Notation) -> tuple[list, list[Trouble]]:
    return mold_sheet.read(records, notation, _known_molds())


def _read_recipes(records: Records, notation: Notation) -> tuple[list, list[Trouble]]:
    return recipe_sheet.read(records, notation, _known_recipes())


MOLDS = Importing(
    sheet="molds",
    columns=mold_sheet.COLUMNS,
    examples=mold_sheet.EXAMPLES,
    notes=mold_sheet.NOTES,
    read=_read_molds,
    resource=MoldResource,
    most_rows=500,
)
RECIPES = Importing(
    sheet="recipes",
    columns=recipe_sheet.COLUMNS,
    examples=recipe_sheet.EXAMPLES,
    notes=recipe_sheet.NOTES,
    read=_read_recipes,
    resource=RecipeResource,
    most_rows=500,
)
