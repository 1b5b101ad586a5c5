"""Writing a long history at once: the shelf's books in memory, entries written down by the thousand.

What an entry comes to is reckoned by the same `reckoning` that `ledger.post` uses, from lots held here
instead of read and locked each time. For one writer alone, inside one transaction, telling events in the
order in which they happened. Tests hold that the rows are those that the services would have written."""

import itertools
from bisect import insort
from collections import defaultdict
from collections.abc import Iterator, Sequence
from datetime import date, datetime
from typing import Any

from django.core.management.color import no_style
from django.db import connection
from django.db.models import Max, Model, Sum

from inventory import queries
from inventory.models import Entry, Item, Lot, LotNumber, Movement
from inventory.services import ledger, lots, reckoning
from inventory.services.posting import Key, digest_of

Role = Movement.Role

#: Rows kept back before they are written; what is held in memory stays small.
MOST_ROWS = 40_000
_KEPT = ("on_hand", "made", "cost", "melts", "count_me", "form")


class Books:
    """The lots that can still be drawn from, and rows not yet written. Call `flush` at the end."""

    def __init__(self, *, by) -> None:
        self.by = by
        self._ids: dict[type[Model], Iterator[int]] = {}
        self._rows: dict[type[Model], list[Model]] = defaultdict(list)
        self._late: dict[tuple, dict[int, Model]] = defaultdict(dict)
        self._waiting = 0
        self._numbers: dict[str, int] = {}
        self._fresh: set[int] = set()
        self._changed: set[int] = set()
        self.read()

    def read(self) -> None:
        """Takes the lots from the database as they stand: those in stock, and each item's newest."""
        newest = Lot.objects.order_by().values("item").annotate(last=Max("id")).values("last")
        stocked = Lot.objects.in_stock() | Lot.objects.filter(pk__in=newest)
        self._lots = {lot.pk: lot for lot in stocked.select_related("item").order_by("pk")}
        self._of_item: dict[int, list[Lot]] = defaultdict(list)
        for lot in self._lots.values():
            insort(self._of_item[lot.item_id], lot, key=_order_of_use)
        self.holds = queries.compositions(self._lots)
        made = Movement.objects.filter(lot__in=self._lots, role=Role.MADE).order_by()
        totals = made.values_list("lot").annotate(Sum("quantity"), Sum("cost"))
        self._received = {lot: (quantity, cost) for lot, quantity, cost in totals}
        counted = Movement.objects.filter(
            queries.STANDING_LINE, lot__in=self._lots, role=Role.COUNTED
        )
        last = counted.order_by().values_list("lot").annotate(Max("entry__happened_at"))
        self._counted: dict[int, datetime] = dict(last)

    def in_stock(self, item: Item) -> list[Lot]:
        """What there is of an item, in the order of use."""
        return [lot for lot in self._of_item[item.pk] if lot.on_hand > 0]

    def pick(self, item: Item, quantity: int) -> list[tuple[Lot, int]]:
        """What `queries.pick` says, from the lots held here."""
        if picked := queries.pick_from(self.in_stock(item), quantity):
            return picked
        ever = self._of_item[item.pk]
        return [(max(ever, key=lambda lot: (lot.received_on, lot.pk)), quantity)] if ever else []

    def open_lot(self, item: Item, form: str, day: date, **facts: Any) -> Lot:
        """What `lots.open_lot` does."""
        number = self.number(lots.LETTERS[form], day)
        lot = Lot(item=item, form=form, received_on=day, number=number, **facts)
        self.add(lot)
        self._lots[lot.pk] = lot
        self._fresh.add(lot.pk)
        insort(self._of_item[item.pk], lot, key=_order_of_use)
        return lot

    def number(self, letters: str, day: date) -> str:
        """What `lots.next_number` gives."""
        prefix = f"{letters}{day:%y%m%d}"
        if prefix not in self._numbers:
            known = LotNumber.objects.filter(prefix=prefix).first()
            self._numbers[prefix] = known.last if known else 0
        self._numbers[prefix] += 1
        return f"{prefix}-{self._numbers[prefix]:02d}"

    def key(self, text: str, service: str, **facts: Any) -> Key:
        """The one-time key of a service's posting of these facts."""
        return Key(text, digest_of(service, facts))

    def post(self, key: Key, event: reckoning.Event) -> Entry:
        """What `ledger.post` does for an event that amends nothing."""
        touched = {line.lot.pk: line.lot for line in (*event.draws, *event.makes)}
        holds = {draw.lot.pk: self.holds.get(draw.lot.pk, {}) for draw in event.draws}
        lines = reckoning.reckon(event, touched, holds, self._receipt, {})
        return self._write(key, event, touched, lines)

    def adjust(self, key: Key, event: reckoning.Event, lot: Lot, difference: int) -> Entry:
        """What `ledger.adjust` does."""
        line = reckoning.counted(lot, difference, self._receipt)
        entry = self._write(key, event, {lot.pk: lot}, [line])
        self._counted[lot.pk] = max(entry.happened_at, self._counted.get(lot.pk, entry.happened_at))
        return entry

    def add(self, row: Model) -> Model:
        """A row beside the ledger, written with the rest; it has its number already."""
        if row.pk is None and row._meta.pk.get_internal_type() == "BigAutoField":
            row.pk = next(self._ids_of(type(row)))
        self._rows[type(row)].append(row)
        self._waiting += 1
        return row

    def changed(self, lot: Lot) -> None:
        """A lot whose form was changed beside the ledger."""
        self._changed.add(lot.pk)

    def touch(self, row: Model, *fields: str) -> None:
        """A row beside the ledger was changed; written again only if it was written before."""
        if not row._state.adding:
            self._late[type(row), fields][row.pk] = row

    def rest(self) -> None:
        """A good moment to write down what waits, if it is much."""
        if self._waiting >= MOST_ROWS:
            self.flush()

    def flush(self) -> None:
        """Writes everything down and forgets the lots that are empty."""
        for model, rows in self._rows.items():
            model.objects.bulk_create(rows)
        for (model, fields), late in self._late.items():
            model.objects.bulk_update(late.values(), fields, batch_size=100)
        self._save_lots()
        LotNumber.objects.bulk_create(
            [LotNumber(prefix=prefix, last=last) for prefix, last in self._numbers.items()],
            update_conflicts=True,
            unique_fields=["prefix"],
            update_fields=["last"],
        )
        for statement in connection.ops.sequence_reset_sql(no_style(), list(self._rows)):
            with connection.cursor() as cursor:
                cursor.execute(statement)
        self._rows.clear()
        self._late.clear()
        self._numbers.clear()
        self._waiting = 0
        self._forget_empty()

    def _write(
        self,
        key: Key,
        event: reckoning.Event,
        touched: dict[int, Lot],
        lines: Sequence[reckoning.Line],
    ) -> Entry:
        entry = ledger.entry_of(key.next(), key, event, self.by)
        self.add(entry)
        for line in lines:
            row = self.add(ledger.row_of(entry, line))
            if line.role == Role.MADE:
                self._count_in(line)
            for content in ledger.contents_of(row, line.contents):
                self.add(content)
        for pk, lot in touched.items():
            if pk in self._counted and self._counted[pk] > entry.happened_at:
                lot.count_me = True
        self._changed |= touched.keys()
        return entry

    def _count_in(self, line: reckoning.Line) -> None:
        holds = self.holds.setdefault(line.lot.pk, {})
        for item, quantity in line.contents.items():
            holds[item] = holds.get(item, 0) + quantity
        made, cost = self._received.get(line.lot.pk, (0, None))
        if line.cost is not None:
            cost = line.cost + (cost or 0)
        self._received[line.lot.pk] = (made + line.quantity, cost)

    def _receipt(self, lot: Lot) -> tuple[int, int | None]:
        return self._received.get(lot.pk, (0, None))

    def _ids_of(self, model: type[Model]) -> Iterator[int]:
        if model not in self._ids:
            last = model.objects.aggregate(last=Max("pk"))["last"] or 0
            self._ids[model] = itertools.count(last + 1)
        return self._ids[model]

    def _save_lots(self) -> None:
        older = [self._lots[pk] for pk in sorted(self._changed - self._fresh)]
        Lot.objects.bulk_update(older, _KEPT, batch_size=100)
        self._changed.clear()
        self._fresh.clear()

    def _forget_empty(self) -> None:
        for item, ever in list(self._of_item.items()):
            newest = max(ever, key=lambda lot: (lot.received_on, lot.pk), default=None)
            for lot in ever:
                if lot.on_hand <= 0 and lot is not newest:
                    del self._lots[lot.pk]
                    for known in (self.holds, self._received, self._counted):
                        known.pop(lot.pk, None)
            self._of_item[item] = [lot for lot in ever if lot.pk in self._lots]


def _order_of_use(lot: Lot) -> tuple[bool, date, date, int]:
    """First expiring first, then first in (`LotQuerySet.first_expiring_first`)."""
    return lot.expires_on is None, lot.expires_on or lot.received_on, lot.received_on, lot.pk
