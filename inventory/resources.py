"""Sheets into rows of the database: what is new, what changes, what stays; rehearsed, then done.

A resource's dataset has one column, THING: what a sheet says of one item, mold or recipe, read before.
The rows are written by the app's own services, so that a file can do no more than a form.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

import tablib
from django.db import models
from django.utils import timezone
from import_export import resources
from import_export.instance_loaders import BaseInstanceLoader
from import_export.results import Result, RowResult

from inventory import density, flake_sizes, shelf_sheet, temperature, units
from inventory.exchange.table import Record, Trouble
from inventory.models import Entry, Item, Lot, Place, Supplier
from inventory.services import catalog, ledger, lots
from inventory.services.posting import Key, LedgerError
from inventory.wording import money_text, quantity_text

THING = "thing"
NEW, CHANGED, SAME = RowResult.IMPORT_TYPE_NEW, RowResult.IMPORT_TYPE_UPDATE, "same"


@dataclass
class Outcome:
    """What the file does to one thing: `state` NEW, CHANGED or SAME, and each part of it in words.

    `hints`: what to look at: what the import leaves alone, with the lot to count (or None), and figures
    that look wrong."""

    title: str
    line: int
    state: str = SAME
    details: list[str] = field(default_factory=list)
    hints: list[tuple[str, Lot | shelf_sheet.KnownLot | None]] = field(default_factory=list)


class SheetResource(resources.Resource):
    """What all sheets share. A subclass says `find`, `compare` and `write`."""

    class Meta:
        instance_loader_class = BaseInstanceLoader
        import_id_fields = ()
        use_transactions = True
        # Differences are said in words by `compare`.
        skip_diff = True

    #: What was posted to the ledger.
    entries: list[Entry] = []
    #: Field of a refusal → the column of the sheet that it is about.
    columns: Mapping[str, str] = {}

    def find(self, thing: Any) -> models.Model | None:
        """The row that the sheet's thing is; None when it is new."""
        raise NotImplementedError

    def compare(self, instance: models.Model | None, thing: Any) -> Outcome:
        """What writing it would do."""
        raise NotImplementedError

    def write(self, instance: models.Model | None, thing: Any, *, dry_run: bool) -> None:
        """Makes or changes it; raises ValidationError or LedgerError. A rehearsal may write as well: it
        is rolled back."""
        raise NotImplementedError

    def get_or_init_instance(self, instance_loader, row):
        found = self.find(row[THING])
        return (found, False) if found is not None else (self._meta.model(), True)

    def import_instance(self, instance, row, **kwargs) -> None:
        self.outcome = self.compare(instance if instance.pk else None, row[THING])

    def skip_row(self, instance, original, row, import_validation_errors=None) -> bool:
        return self.outcome.state == SAME

    def save_instance(self, instance, is_create, row, **kwargs) -> None:
        self.write(None if is_create else instance, row[THING], dry_run=kwargs["dry_run"])

    def after_import_row(self, row, row_result, **kwargs) -> None:
        row_result.outcome = self.outcome


def run(
    resource: SheetResource, things: list, *, dry_run: bool
) -> tuple[list[Outcome], list[Trouble]]:
    """Imports the things: all of them or, with any trouble or as a rehearsal, none.

    Raises IntegrityError when someone else wrote the same thing at this moment."""
    dataset = tablib.Dataset(*[(thing,) for thing in things], headers=[THING])
    result = resource.import_data(
        dataset, dry_run=dry_run, use_transactions=True, rollback_on_validation_errors=True
    )
    troubles = _troubles(result, things, resource.columns)
    if troubles:
        return [], troubles
    return [row.outcome for row in result.rows], []


def _troubles(result: Result, things: list, columns: Mapping[str, str]) -> list[Trouble]:
    troubles = [_trouble(error.error, None, columns) for error in result.base_errors]
    for row, thing in zip(result.rows, things, strict=False):
        if row.errors:
            troubles.append(_trouble(row.errors[0].error, thing, columns))
        elif row.validation_error:
            troubles += [
                Trouble(thing.line, columns.get(name, ""), text)
                for name, texts in row.validation_error.message_dict.items()
                for text in texts
            ]
    return troubles


def _trouble(error: Exception, thing: Any, columns: Mapping[str, str]) -> Trouble:
    if not isinstance(error, LedgerError | units.UnitsError):
        # No fault of the file: it must be seen, not shown as a line to mend.
        raise error
    row, lines = getattr(error, "row", None), getattr(thing, "lines", ())
    line = lines[row].line if row is not None and row < len(lines) else getattr(thing, "line", 1)
    return Trouble(line, columns.get(getattr(error, "field", ""), ""), str(error))


#: Questions about a figure that can be kept but looks as if it were written in another unit.
_DOUBTS: dict[str, Callable[[Any], str]] = {
    "density_g_per_ml": density.doubt,
    "flake_size_in": flake_sizes.doubt,
    "heat_limit_c": temperature.doubt,
}


class ShelfResource(SheetResource):
    """Items, and the opening lots that are not there yet.

    A rehearsal checks and writes nothing, so that a long list holds up nobody at the bench. `key` and
    `by` are the posting's."""

    class Meta(SheetResource.Meta):
        model = Item

    columns = {"name": "item", "stock_unit": "stock unit", "place": "place", **shelf_sheet.FACTS}

    def __init__(self, *, key: Key, by=None) -> None:
        super().__init__()
        self.key, self.by = key, by
        self.entries: list[Entry] = []
        self._suppliers = {row.name.casefold(): row for row in Supplier.objects.all()}
        self._places = {row.name.casefold(): row for row in Place.objects.all()}
        self._items: dict[int, Item] = {}
        self._arrivals: dict[date, list[ledger.Make]] = {}

    def find(self, thing: shelf_sheet.ItemLines) -> Item | None:
        return self._items[thing.known.pk] if thing.known else None

    def before_import(self, dataset, **kwargs) -> None:
        known = [thing.known.pk for thing in dataset[THING] if thing.known]
        self._items = Item.objects.select_related("place").in_bulk(known)

    def compare(self, instance: Item | None, thing: shelf_sheet.ItemLines) -> Outcome:
        outcome = Outcome(f"{thing.name} ({thing.kind})", thing.line)
        if instance is None:
            outcome.state = NEW
        changed = self._changed(instance, thing)
        for name, value in changed.items():
            label = shelf_sheet.FACTS.get(name, name)
            after = shelf_sheet.shown(name, value, thing.stock_unit) or "none"
            before = shelf_sheet.shown(name, getattr(instance, name, None), thing.stock_unit)
            outcome.details.append(
                f"{label}: {before} → {after}" if before else f"{label}: {after}"
            )
            if name in _DOUBTS and (doubt := _DOUBTS[name](value)):
                outcome.hints.append((f"line {thing.line}, {label}: {doubt}", None))
        for line in thing.lots:
            self._compare_lot(outcome, line, thing.stock_unit)
        if outcome.details and instance is not None:
            outcome.state = CHANGED
        return outcome

    def write(self, instance: Item | None, thing: shelf_sheet.ItemLines, *, dry_run: bool) -> None:
        if instance is None:
            instance = catalog.unsaved_item(
                kind=thing.kind, name=thing.name, stock_unit=thing.stock_unit, **thing.facts
            )
            if dry_run:
                return
            instance.place = self._place(thing.place)
            instance.save(force_insert=True)
        elif dry_run:
            return
        elif changed := self._changed(instance, thing):
            if "place" in changed:
                changed["place"] = self._place(changed["place"])
            instance = catalog.change_item(instance, **changed)
        for line in thing.lots:
            if line.known is None or not line.known.made:
                self._receive(instance, line)
            elif changed := _lot_facts(line):
                self._change_lot(line, changed)

    def after_import(self, dataset, result: Result, **kwargs) -> None:
        """Posts what arrived, an opening entry for each day it was counted on."""
        if result.has_errors() or result.has_validation_errors():
            return
        now = timezone.localtime()
        for day, makes in sorted(self._arrivals.items()):
            plural = "" if len(makes) == 1 else "s"
            event = ledger.Event(
                kind=Entry.Kind.OPENING,
                title=f"Opening shelf: {len(makes)} lot{plural}",
                happened_at=now.replace(year=day.year, month=day.month, day=day.day),
                business_date=day,
                makes=makes,
            )
            self.entries.append(ledger.post(self.key, event, by=self.by))

    def _changed(self, instance: Item | None, thing: shelf_sheet.ItemLines) -> dict[str, Any]:
        """The facts that the sheet says otherwise than the shelf."""
        said = dict(thing.facts)
        if instance is None:
            return said
        changed = {name: value for name, value in said.items() if not _alike(instance, name, value)}
        if thing.place and thing.place.casefold() != str(instance.place or "").casefold():
            changed["place"] = thing.place
        return changed

    def _compare_lot(self, outcome: Outcome, line: shelf_sheet.LotLine, unit: str) -> None:
        amount, known = quantity_text(line.quantity, unit), line.known
        if known is None:
            words = [amount if line.said == amount else f"{amount} ({line.said})"]
            words.append(
                f"cost {money_text(line.cost)}" if line.cost is not None else "cost unknown"
            )
            words += [text for text in (line.supplier, line.supplier_lot, line.place) if text]
            words += [f"expires {line.expires_on}"] if line.expires_on else []
            words += [f"counted on {line.counted_on}"] if line.counted_on else []
            outcome.details.append(f"new lot {line.number}: {', '.join(words)}".replace(" :", ":"))
            return
        if not known.made:
            outcome.details.append(f"lot {known.number}, undone before, comes in again: {amount}")
            return
        for name, (before, after) in _lot_facts(line).items():
            label = name.replace("_", " ")
            outcome.details.append(f"lot {known.number}, {label}: {before or 'none'} → {after}")
        if line.quantity not in (known.on_hand, known.made):
            books = quantity_text(known.on_hand, unit)
            outcome.hints.append(
                (f"Lot {known.number}: the file says {amount}, the books say {books}.", known)
            )
        elif not line.number:
            outcome.hints.append(
                (
                    f"Line {line.line} has no lot number and is taken for lot {known.number}. If it is "
                    "another one, give it a number of its own.",
                    None,
                )
            )

    def _receive(self, item: Item, line: shelf_sheet.LotLine) -> None:
        day = line.counted_on or timezone.localdate()
        facts = {
            "supplier": self._supplier(line.supplier),
            "supplier_lot": line.supplier_lot,
            "expires_on": line.expires_on,
            "place": self._place(line.place) or item.place,
        }
        if line.known:
            Lot.objects.filter(pk=line.known.pk).update(received_on=day, **facts)
            lot = Lot.objects.get(pk=line.known.pk)
        elif line.number:
            lot = lots.open_named_lot(item, line.number, day, **facts)
        else:
            lot = lots.open_lot(item, Lot.Form.PACK, day, **facts)
        make = ledger.Make(lot, line.quantity, cost=line.cost, said=line.said[:60])
        self._arrivals.setdefault(day, []).append(make)

    def _change_lot(self, line: shelf_sheet.LotLine, changed: dict) -> None:
        readers: dict[str, Callable] = {"supplier": self._supplier, "place": self._place}
        facts = {
            name: readers.get(name, lambda value: value)(after)
            for name, (_, after) in changed.items()
        }
        Lot.objects.filter(pk=line.known.pk).update(**facts)

    def _supplier(self, name: str) -> Supplier | None:
        return _named(self._suppliers, name, Supplier)

    def _place(self, name: str) -> Place | None:
        return _named(self._places, name, Place)


def _named(known: dict, name: str, model: type[models.Model]) -> Any:
    """The row of that name, made when it is new; None for no name."""
    if not name:
        return None
    if name.casefold() not in known:
        known[name.casefold()] = model.objects.create(name=name)
    return known[name.casefold()]


def _alike(instance: Item, name: str, value: Any) -> bool:
    there = getattr(instance, name)
    if isinstance(there, str) and isinstance(value, str):
        if name == "color":
            return there.lower() == value.lower()
        return there.replace("\r\n", "\n").strip() == value
    return there == value


def _lot_facts(line: shelf_sheet.LotLine) -> dict[str, tuple[Any, Any]]:
    """What the sheet says otherwise of a lot that is there: fact → (before, after)."""
    known = line.known
    said = {
        "supplier": (known.supplier, line.supplier),
        "supplier_lot": (known.supplier_lot, line.supplier_lot),
        "expires_on": (known.expires_on, line.expires_on),
        "place": (known.place, line.place),
    }
    return {
        name: (before, after)
        for name, (before, after) in said.items()
        if after and str(before or "").casefold() != str(after).casefold()
    }


def known_shelf(records: Iterable[Record]) -> shelf_sheet.Shelf:
    """What the shelf has of what the sheet names: two queries, however long the ledger."""
    keys, numbers = shelf_sheet.named(records)
    items = {}
    for item in Item.objects.filter(kind__in=Item.BOUGHT):
        key = (item.kind, shelf_sheet.same_name(item.name))
        if key in keys:
            items[key] = shelf_sheet.KnownItem(
                pk=item.pk,
                name=item.name,
                stock_unit=item.stock_unit,
                facts={name: getattr(item, name) for name in shelf_sheet.FACTS},
                archived=item.archived,
            )
    return shelf_sheet.Shelf(timezone.localdate(), items, _known_lots(items, numbers))


def _known_lots(items: dict, numbers: set[str]) -> list[shelf_sheet.KnownLot]:
    opened = models.Exists(
        Entry.objects.filter(
            kind=Entry.Kind.OPENING,
            reversed_by=None,
            movements__lot=models.OuterRef("pk"),
        )
    )
    pks = [item.pk for item in items.values()]
    wanted = models.Q(number__in=numbers) | models.Q(item__in=pks, opening=True)
    found = (
        Lot.objects.annotate(opening=opened)
        .filter(wanted)
        .select_related("item", "supplier", "place")
        .order_by("id")
    )
    return [
        shelf_sheet.KnownLot(
            pk=lot.pk,
            number=lot.number,
            item=(lot.item.kind, shelf_sheet.same_name(lot.item.name)),
            on_hand=lot.on_hand,
            made=lot.made,
            supplier=lot.supplier.name if lot.supplier else "",
            supplier_lot=lot.supplier_lot,
            expires_on=lot.expires_on,
            place=lot.place.name if lot.place else "",
            opening=lot.opening,
        )
        for lot in found
    ]
