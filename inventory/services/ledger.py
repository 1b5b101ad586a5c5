"""The ledger's only pen: every movement in the house is written here.

What the lines of an event come to is reckoned in `reckoning`. Callers run inside `posting`'s transaction.
"""

from collections.abc import Iterable
from datetime import datetime

from django.db.models import Sum
from django.utils import timezone

from inventory import queries, signals
from inventory.models import Content, Entry, Lot, Movement
from inventory.services import amending, holding, reckoning, reversal, standing
from inventory.services.posting import Key, LedgerError
from inventory.services.reckoning import SHARE, Draw, Event, Line, Make

__all__ = ["Draw", "Event", "Make", "adjust", "post", "reverse"]

Role = Movement.Role


def post(key: Key, event: Event, *, by, amends: Entry | None = None) -> Entry:
    """Writes one entry and brings its lots up to date; raises LedgerError when stock is short.

    `amends`: writes it in place of that entry (rule 9). The old one is undone though its outputs may
    be used; composition, melts and cost of all that came of it are derived again."""
    number = key.next()
    downstream = _downstream(amends, event) if amends else set()
    touched = {line.lot.pk for line in [*event.draws, *event.makes]} | downstream
    touched |= {back.draw.lot_id for back in event.backs}
    if amends:
        touched |= set(amends.movements.values_list("lot", flat=True))
    lots = _lock(touched)
    if amends:
        _may_amend(amends, event, lots, downstream)
        _write_opposite(f"{number}#undo", key, amends, lots, by, note=event.note)
        _cost_again(lots)
    entry = _write_entry(number, key, event, by, amends=amends)
    holds = queries.compositions({draw.lot.pk for draw in event.draws})
    out = standing.still_out([back.draw.pk for back in event.backs])
    write_lines(entry, reckoning.reckon(event, lots, holds, _received, out))
    if amends:
        _derive_again(f"{number}#values", key, entry, lots, downstream, by)
    _flag_late(entry, lots, skip=downstream)
    _save(lots)
    _tell_callers([*event.draws, *event.makes], lots)
    if amends:
        signals.amended.send(Entry, entry=entry, amends=amends)
    return entry


def adjust(key: Key, event: Event, lot: Lot, difference: int, *, by) -> Entry:
    """Posts a count's difference (millionths, either sign) at the lot's own cost per unit.

    A count is what was seen: holds on what is not there give way."""
    lots = _lock({lot.pk})
    lot = lots[lot.pk]
    entry = _write_entry(key.next(), key, event, by)
    write_lines(entry, [reckoning.counted(lot, difference, _received)])
    _save(lots)
    return entry


def reverse(
    key: Key, entry: Entry, *, by, note: str = "", happened_at: datetime | None = None
) -> Entry:
    """Posts the exact opposite of an entry; raises `reversal.StillUsed` while its outputs are used."""
    lots = _lock(set(entry.movements.values_list("lot", flat=True)))
    reversal.check(entry, lots)
    opposite = _write_opposite(key.next(), key, entry, lots, by, note=note, happened_at=happened_at)
    _cost_again(lots)
    _flag_late(entry, lots)
    _save(lots)
    return opposite


def _downstream(old: Entry, event: Event) -> set[int]:
    """Ids of the lots that an amended entry changes: what it made, and what came of that."""
    given = {m.lot.pk: (m.quantity, m.cost) for m in event.makes if m.cost != SHARE}
    changed = amending.changed(old, given)
    return amending.descendants(changed) | {m.lot.pk for m in event.makes if m.lot.pk not in given}


def _may_amend(old: Entry, event: Event, lots: dict[int, Lot], downstream: set[int]) -> None:
    reversal.check_once(old)
    if queries.returns_of(old):
        raise LedgerError("Some of what this sent has come back. Undo the return first.")
    for draw in event.draws:
        if draw.quantity and draw.lot.pk in downstream:
            raise LedgerError(
                f"{lots[draw.lot.pk].number} was made from this one, so it can't go into it. "
                "Choose another source."
            )


def _write_opposite(
    number: str,
    key: Key,
    entry: Entry,
    lots: dict[int, Lot],
    by,
    *,
    note: str = "",
    happened_at: datetime | None = None,
) -> Entry:
    """The exact opposite of an entry as it stands, corrections of value included."""
    event = Event(
        kind=Entry.Kind.REVERSAL,
        title=f"Undone: {entry.title}"[:200],
        happened_at=happened_at,
        note=note,
        reference=entry.reference,
        business_date=entry.business_date,
        wasted=-entry.wasted,
    )
    opposite = _write_entry(number, key, event, by, reverses=entry)
    # Backwards, so that a lot never dips below zero on the way: what was found goes last.
    for line in reversed(standing.of_entry(entry)):
        first, lot = line.movement, lots[line.movement.lot_id]
        cost = -line.now.booked if line.now.ever_known else None
        movement = write(opposite, lot, first.role, -line.now.quantity, cost, base=-first.base)
        _write_contents(movement, {i: -q for i, q in line.now.contents.items() if q})
        if line.found.quantity:
            cost = -line.found.booked if line.found.ever_known else None
            write(opposite, lot, Role.FOUND, -line.found.quantity, cost)
    return opposite


def _derive_again(
    number: str, key: Key, entry: Entry, lots: dict[int, Lot], downstream: set[int], by
) -> None:
    """Writes what an amended entry changed in everything that came of it."""
    derivation = amending.Derivation(entry, downstream)
    corrections = derivation.corrections()
    if corrections:
        event = Event(
            kind=Entry.Kind.REVALUATION,
            title=f"Values corrected after: {entry.title}",
            business_date=entry.business_date,
            reference=f"entry:{entry.pk}",
        )
        correcting = _write_entry(number, key, event, by)
        for line, due in corrections:
            _write_correction(correcting, lots[line.movement.lot_id], line, due)
    for pk, melts in derivation.melts().items():
        lots[pk].melts = melts
    _cost_again(lots)


def _write_correction(entry: Entry, lot: Lot, line: standing.Line, due: amending.Due) -> None:
    first = line.movement
    changed = {
        item: due.contents.get(item, 0) - line.now.contents.get(item, 0)
        for item in {*due.contents, *line.now.contents}
    }
    changed = {item: quantity for item, quantity in sorted(changed.items()) if quantity}
    difference = due.quantity - line.now.quantity
    if difference or changed or due.cost != line.now.cost:
        cost = None if due.cost is None else due.cost - line.now.booked
        correction = write(entry, lot, first.role, difference, cost, revalues=first)
        _write_contents(correction, changed)
    found = due.found - line.found.quantity
    if found or (due.found and due.found_cost != line.found.cost):
        cost = None if due.found_cost is None else due.found_cost - line.found.booked
        write(entry, lot, Role.FOUND, found, cost, revalues=line.found_root or first)
        lot.count_me |= found > 0


def _write_contents(movement: Movement, mix: dict[int, int]) -> None:
    Content.objects.bulk_create(contents_of(movement, mix))


def write_lines(entry: Entry, lines: list[Line]) -> None:
    """Writes down reckoned lines and what they bring into their lots."""
    rows = Movement.objects.bulk_create(row_of(entry, line) for line in lines)
    Content.objects.bulk_create(
        content
        for row, line in zip(rows, lines, strict=True)
        for content in contents_of(row, line.contents)
    )


def row_of(entry: Entry, line: Line) -> Movement:
    """A line as it is kept; not saved."""
    return Movement(
        entry=entry,
        lot=line.lot,
        role=line.role,
        quantity=line.quantity,
        cost=line.cost,
        base=line.base,
        said=line.said,
        estimated=line.estimated,
        returns=line.returns,
    )


def contents_of(movement: Movement, mix: dict[int, int]) -> list[Content]:
    """What a made line brings into its lot, as it is kept; not saved."""
    return [
        Content(movement=movement, lot_id=movement.lot_id, item_id=item_id, quantity=quantity)
        for item_id, quantity in mix.items()
    ]


def write(entry: Entry, lot: Lot, role: str, quantity: int, cost: int | None, **line) -> Movement:
    """One line, and the figures kept beside its lot; `_save` stores them."""
    movement = Movement.objects.create(
        entry=entry, lot=lot, role=role, quantity=quantity, cost=cost, **line
    )
    reckoning.taken(Line(lot, role, quantity, cost))
    return movement


def _write_entry(
    number: str,
    key: Key,
    event: Event,
    by,
    reverses: Entry | None = None,
    amends: Entry | None = None,
) -> Entry:
    entry = entry_of(number, key, event, by, reverses, amends)
    entry.save(force_insert=True)
    return entry


def entry_of(
    number: str,
    key: Key,
    event: Event,
    by,
    reverses: Entry | None = None,
    amends: Entry | None = None,
) -> Entry:
    """An event as it is kept; not saved."""
    happened_at = event.happened_at or timezone.now()
    return Entry(
        kind=event.kind,
        key=number,
        digest=key.digest,
        happened_at=happened_at,
        business_date=event.business_date or timezone.localdate(happened_at),
        by=by,
        title=event.title[:200],
        note=event.note,
        reference=event.reference,
        wasted=event.wasted,
        look_at=event.look_at[:300],
        reverses=reverses,
        amends=amends,
    )


def _lock(wanted: set[int]) -> dict[int, Lot]:
    """The lots again, locked in key order so that two posters never wait for each other."""
    locked = Lot.objects.select_for_update(of=("self",)).select_related("item").order_by("pk")
    return {lot.pk: lot for lot in locked.filter(pk__in=wanted)}


def _cost_again(lots: dict[int, Lot]) -> None:
    for lot in lots.values():
        lot.cost = standing.cost_of(lot)


def _save(lots: dict[int, Lot]) -> None:
    """Stores the lots; the newest holds give way where less is left than they hold."""
    lost = holding.give_way(lots.values())
    for lot in lots.values():
        lot.save(update_fields=["on_hand", "made", "cost", "melts", "count_me", "reserved"])
    if lost:
        signals.holds_lost.send(Lot, lost=lost)


def _flag_late(entry: Entry, lots: dict[int, Lot], skip: Iterable[int] = ()) -> None:
    """What happened before a lot's last count but is posted after it asks for a new one (rule 10)."""
    moved = [pk for pk in lots if pk not in skip]
    counted = Movement.objects.filter(
        queries.STANDING_LINE,
        lot__in=moved,
        role=Role.COUNTED,
        entry__happened_at__gt=entry.happened_at,
    )
    for pk in counted.values_list("lot", flat=True):
        lots[pk].count_me = True


def _tell_callers(lines: list, lots: dict[int, Lot]) -> None:
    """The caller's own lot objects get the new figures, so that nobody goes on with stale ones."""
    for line in lines:
        for name in ("on_hand", "made", "cost", "melts", "count_me", "reserved"):
            setattr(line.lot, name, getattr(lots[line.lot.pk], name))


def _received(lot: Lot) -> tuple[int, int | None]:
    """A lot's total in and what it cost, from the lines that made it."""
    made = lot.movements.filter(role=Role.MADE).aggregate(q=Sum("quantity"), c=Sum("cost"))
    return made["q"] or 0, made["c"]
