"""An evening in the words of its batch record: what the books hold, batch by batch.

The count of queries does not grow with the evening."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence

from django.utils import timezone

from inventory import flake_sizes, forms_base, temperature
from inventory.models import Entry, Item, Lot, Movement
from inventory.wording import quantity_text
from production import (
    balance,
    evening_record,
    evening_story,
    pour_record,
    pour_sheet_facts,
    tally,
)
from production.models import Batch, Heat, Pour, ShotResult, Shots
from production.services import recipes

_ROLE = Movement.Role


def record(pour: Pour, shop) -> evening_record.EveningRecord:
    """The record of an evening as it stands. `shop` gives its name and its units."""
    batches = pour_record.batches(pour)
    books = _Books(pour, batches, getattr(shop, "units", "us"))
    doubts = evening_story.doubts(pour, batches)
    balances = {batch.pk: found for batch, found in doubts.balances}
    chain = evening_story.chain(batches)
    return evening_record.EveningRecord(
        shop=shop.name if shop else "",
        date=f"{pour.business_date:%A, %B} {pour.business_date.day}, {pour.business_date.year}",
        facts=tuple(_evening_facts(pour)),
        batches=tuple(books.batch(link, balances[link.batch.pk]) for link in chain.links),
        open_ends=tuple(f"{batch}: {found.sentence}" for batch, found in doubts.open_ended),
        note=pour.note,
        paper=pour_sheet_facts.paper_of(shop),
    )


def _evening_facts(pour: Pour) -> Iterable[tuple[str, str]]:
    sums = pour_record.sums(pour)
    yield "Began", _moment(pour.started_at) + (f", {pour.by}" if pour.by else "")
    yield "Closed", _moment(pour.closed_at) if pour.closed_at else "still open"
    counted = sums.baits
    rate = "" if counted.yield_percent is None else f", {counted.yield_percent} %"
    yield "Good baits", f"{counted.good} of {counted.cavities} cavities{rate}"
    yield "Seconds, rejects", f"{counted.seconds}, {counted.rejects}"
    yield "Base in trim", quantity_text(sums.trim, "mL")
    yield "Base thrown away", quantity_text(sums.wasted, "mL")
    checks = (
        ("injector purged", pour.purged),
        ("seals checked", pour.seals_checked),
        ("molds dry", pour.molds_dry),
    )
    done = ", ".join(words for words, said in checks if said)
    yield "Gear", done or "nothing was said"


def _moment(at) -> str:
    return f"{timezone.localtime(at):%Y-%m-%d %H:%M}"


def _clock(at) -> str:
    return f"{timezone.localtime(at):%H:%M}"


class _Books:
    """The lines around an evening's batches, read once and found by entry."""

    def __init__(self, pour: Pour, batches: Sequence[Batch], units: str) -> None:
        self.units = units
        entries = Entry.objects.filter(reference=f"pour:{pour.pk}")
        entries = entries.exclude(kind=Entry.Kind.REVERSAL)
        self.entries = {entry.pk: entry for entry in entries.select_related("by", "reversed_by")}
        self.lines: dict[int, list[Movement]] = defaultdict(list)
        own = Movement.objects.filter(entry__in=self.entries, revalues=None)
        for line in own.select_related("lot__item").order_by("id"):
            self.lines[line.entry_id].append(line)
        self.of_lot: dict[int, list[Entry]] = defaultdict(list)
        for pk, lines in sorted(self.lines.items()):
            for line in lines:
                if line.role == _ROLE.MADE:
                    self.of_lot[line.lot_id].append(self.entries[pk])
        standing = Shots.objects.filter(pour=pour, entry__reversed_by=None)
        self.tallies = tally.by_shots(standing)
        results = ShotResult.objects.select_related("bait").order_by("id")
        self.results: dict[int, list[ShotResult]] = defaultdict(list)
        for result in results.filter(shots__in=standing):
            self.results[result.shots_id].append(result)
        self.shots: dict[int, list[Shots]] = defaultdict(list)
        found = standing.select_related("mold", "pattern", "injector", "entry")
        for one in found.prefetch_related("batches"):
            for batch in one.batches.all():
                self.shots[batch.pk].append(one)

    def batch(
        self, link: evening_story.Link, found: balance.Balance | None
    ) -> evening_record.Batch:
        batch = link.batch
        return evening_record.Batch(
            name=str(batch),
            recipe=str(batch.version) if batch.version else "Free hand, no recipe",
            facts=tuple(self._facts(batch)),
            inputs=tuple(self._inputs(batch)),
            moldings=tuple(self._moldings(batch)),
            heats=tuple(self._heat(heat) for heat in batch.heats.all()),
            chain=tuple(_chain(link)),
            balance=found.sentence if found else "",
            amendments=tuple(self._amendments(batch)),
            notes=tuple(self._notes(batch)),
        )

    def _facts(self, batch: Batch) -> Iterable[tuple[str, str]]:
        entry = self.entries[batch.entry_id]
        yield (
            "Mixed",
            _clock(self._first(entry).happened_at) + (f", {entry.by}" if entry.by else ""),
        )
        yield "Lot", batch.lot.number
        yield "Base", quantity_text(batch.lot.made, "mL")
        yield "All in all", quantity_text(batch.total, "mL")
        yield "Cup", str(batch.cup or "not said")
        yield "Melt", str(batch.lot.melts)
        yield "Degassed", {True: "yes", False: "no", None: "not said"}[batch.degassed]
        yield "Color", batch.get_verdict_display() or "not said"
        left = quantity_text(batch.total_left, "mL")
        yield "Left", f"{left}, {batch.get_settled_display()}" if batch.settled else left

    def _first(self, entry: Entry) -> Entry:
        while entry.amends_id in self.entries:
            entry = self.entries[entry.amends_id]
        return entry

    def _inputs(self, batch: Batch) -> Iterable[evening_record.Input]:
        asked = {}
        if batch.version:
            doses = recipes.doses_for(batch.version, batch.lot.made)
            asked = {item.pk: (item, quantity) for item, quantity in doses}
        for entry in self.of_lot[batch.lot_id]:
            # An undone addition is not in the cup, though a later count may stand on the same lot.
            if getattr(entry, "reversed_by", None):
                continue
            added = entry.kind == Entry.Kind.ADDITION
            when = f"added {_clock(entry.happened_at)}" if added else ""
            for line in self.lines[entry.pk]:
                if line.role == _ROLE.DRAWN:
                    planned = asked.pop(line.lot.item_id, None)
                    yield self._input(line, planned[1] if planned else None, when)
        for item, quantity in asked.values():
            unit, name = item.stock_unit, self._name(item)
            yield evening_record.Input(name, quantity_text(quantity, unit), "none", "", "")

    def _input(self, line: Movement, planned: int | None, when: str) -> evening_record.Input:
        item, lot = line.lot.item, line.lot
        theirs = f", {lot.supplier_lot}" if lot.supplier_lot else ""
        # A thinned bottle is dosed by its own strength.
        weak = f", strength {forms_base.number_text(lot.strength)}" if lot.strength != 1 else ""
        form = f", {lot.get_form_display()}" if lot.form != Lot.Form.PACK else ""
        return evening_record.Input(
            what=self._name(item) + form,
            planned="" if planned is None else quantity_text(planned, item.stock_unit),
            actual=_amount(line),
            lot=f"{lot.number}{theirs}{weak}",
            when=when,
        )

    def _name(self, item: Item) -> str:
        """An item, with its size where it is a flake: another size of it is another look."""
        if item.flake_size_in is None:
            return item.name
        return f"{item.name}, {flake_sizes.show(item.flake_size_in, self.units)}"

    def _moldings(self, batch: Batch) -> Iterable[evening_record.Molding]:
        for one in self.shots[batch.pk]:
            way = f", {one.injector}" if one.injector else ", by hand"
            beside = [b for b in one.batches.all() if b.pk != batch.pk]
            with_ = f", with {', '.join(f'batch {b.number}' for b in beside)}" if beside else ""
            for result in self.results[one.pk]:
                counted = self.tallies.get((one.pk, result.bait_id), tally.Tally())
                reasons = [f"{count} {reason}" for reason, count in counted.reason_rows]
                yield evening_record.Molding(
                    f"{one.count} × {one.mold}, {one.pattern}{with_}{way}",
                    str(result.bait),
                    str(counted.good),
                    str(counted.seconds),
                    f"{counted.rejects}" + (f": {', '.join(reasons)}" if reasons else ""),
                    "" if counted.yield_percent is None else f"{counted.yield_percent} %",
                )

    def _heat(self, heat: Heat) -> str:
        minutes = "timer runs" if heat.minutes is None else f"{_plain(heat.minutes)} min"
        peak = "" if heat.peak_c is None else f", peak {temperature.show(heat.peak_c, self.units)}"
        note = f", {heat.note}" if heat.note else ""
        look = f" Look at this: {heat.look_at}" if heat.look_at else ""
        return f"{_clock(heat.started_at)}: {minutes}{peak}{note}.{look}"

    def _amendments(self, batch: Batch) -> Iterable[str]:
        """Each earlier version of the mix and of its shots as it was, and why it was replaced."""
        yield from self._versions(self.entries[batch.entry_id], self._drawn)
        for one in self.shots[batch.pk]:
            yield from self._versions(self.entries[one.entry_id], str)

    def _versions(self, entry: Entry, told: Callable[[Entry], str]) -> Iterable[str]:
        """What replaced what, the oldest first."""
        found = []
        while entry.amends_id in self.entries:
            old = self.entries[entry.amends_id]
            by = f", {entry.by}" if entry.by else ""
            why = f": {entry.note}" if entry.note else ""
            found.append(
                f"Before: {told(old)}. Now: {told(entry)}. "
                f"Amended {_moment(entry.posted_at)}{by}{why}."
            )
            entry = old
        return reversed(found)

    def _drawn(self, entry: Entry) -> str:
        lines = [line for line in self.lines[entry.pk] if line.role == _ROLE.DRAWN]
        return ", ".join(f"{_amount(line)} {line.lot.item}" for line in lines)

    def _notes(self, batch: Batch) -> Iterable[str]:
        if said := self._first(self.entries[batch.entry_id]).note:
            yield said
        shot = {one.entry_id for one in self.shots[batch.pk]}
        keys = tuple(f"{one.entry.key}#" for one in self.shots[batch.pk])
        for pk, entry in sorted(self.entries.items()):
            if getattr(entry, "reversed_by", None):
                continue
            lines = self.lines[pk]
            if keys and entry.key.startswith(keys) and _parts(lines):
                yield f"{_clock(entry.happened_at)}: {entry.title}"
            touches = pk in shot or any(line.lot_id == batch.lot_id for line in lines)
            if touches and entry.look_at:
                yield f"Look at this: {entry.look_at}"
            if touches and entry.kind in (Entry.Kind.COUNT, Entry.Kind.WASTE):
                by = f", {entry.by}" if entry.by else ""
                why = f" {entry.note}" if entry.note else ""
                yield f"{_clock(entry.happened_at)}{by}: {entry.title}.{why}"


def _parts(lines: Sequence[Movement]) -> bool:
    return any(line.lot.item.kind == Item.Kind.PART for line in lines)


def _amount(line: Movement) -> str:
    """What was drawn, and in which words it was said where those are others."""
    amount = quantity_text(-line.quantity, line.lot.item.stock_unit)
    mark = "≈ " if line.estimated else ""
    said = f" ({line.said})" if line.said and line.said != amount else ""
    return f"{mark}{amount}{said}"


def _chain(link: evening_story.Link) -> Iterable[str]:
    for feed in link.came:
        amount = quantity_text(feed.base, "mL")
        if feed.source:
            yield f"Took {amount} of {_batch_name(feed.source, link.batch)}, {feed.lot.number}."
        else:
            yield f"Took {amount} of {feed.lot.get_form_display()}, {feed.lot.number}."
    for feed in link.went:
        yield f"{quantity_text(feed.base, 'mL')} went into {_batch_name(feed.into, link.batch)}."


def _batch_name(batch: Batch, beside: Batch) -> str:
    if batch.pour_id == beside.pour_id:
        return str(batch)
    return f"{batch} of {batch.pour.business_date:%Y-%m-%d}"


def _plain(value) -> str:
    return forms_base.number_text(round(value, 1))
