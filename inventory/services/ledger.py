"""The ledger's only pen: every movement in the house is written here.

An entry mixes what it draws and gives the mix to what it makes: contents and cost follow from that
one rule (design: the ledger's shape). Callers run inside `posting`'s transaction.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime

from django.db.models import Sum
from django.utils import timezone

from inventory import allocation, queries
from inventory.models import Content, Entry, Lot, Movement
from inventory.services import amending, reversal, standing
from inventory.services.posting import Key, LedgerError
from inventory.wording import quantity_text

Role = Movement.Role


@dataclass(frozen=True)
class Draw:
    """`quantity` millionths taken from a lot; `said` keeps the words it was entered in.

    `bench`: use beyond what the ledger knows is booked as found stock (rule 3); elsewhere it is
    refused with a LedgerError naming what is short and by how much."""

    lot: Lot
    quantity: int
    bench: bool = False
    said: str = ""
    estimated: bool = False


@dataclass(frozen=True)
class Make:
    """`quantity` millionths made in a lot.

    `base`: mL of base it holds, its weight in the mix. `cost` is given for goods from outside and
    left at SHARE for what the drawn lots pay. `bears_waste`: carries what the event threw away."""

    lot: Lot
    quantity: int
    base: int = 0
    cost: int | None | str = "share"
    bears_waste: bool = True
    said: str = ""
    estimated: bool = False


SHARE = "share"


@dataclass(frozen=True)
class Event:
    """What happened, when, and what stands behind it."""

    kind: str
    title: str
    happened_at: datetime | None = None
    business_date: date | None = None
    note: str = ""
    reference: str = ""
    look_at: str = ""
    draws: list[Draw] = field(default_factory=list)
    makes: list[Make] = field(default_factory=list)
    wasted: int = 0


def post(key: Key, event: Event, *, by, amends: Entry | None = None) -> Entry:
    """Writes one entry and brings its lots up to date; raises LedgerError when stock is short.

    `amends`: writes it in place of that entry (rule 9). The old one is undone though its outputs may
    be used; composition, melts and cost of all that came of it are derived again."""
    number = key.next()
    downstream = _downstream(amends, event) if amends else set()
    touched = {line.lot.pk for line in [*event.draws, *event.makes]} | downstream
    if amends:
        touched |= set(amends.movements.values_list("lot", flat=True))
    lots = _lock(touched)
    if amends:
        _may_amend(amends, event, lots, downstream)
        _write_opposite(f"{number}#undo", key, amends, lots, by, note=event.note)
        _cost_again(lots)
    entry = _write_entry(number, key, event, by, amends=amends)
    drawn_cost, drawn_contents = 0, {}
    for draw in event.draws:
        lot = lots[draw.lot.pk]
        _cover(entry, lot, draw)
        for item_id, quantity in queries.contents_of(lot, draw.quantity).items():
            drawn_contents[item_id] = drawn_contents.get(item_id, 0) + quantity
        cost = _remaining_share(lot, draw.quantity)
        drawn_cost = _plus(drawn_cost, cost)
        write(
            entry,
            lot,
            Role.DRAWN,
            -draw.quantity,
            _minus(cost),
            said=draw.said,
            estimated=draw.estimated,
        )
    costs = share_costs(drawn_cost, event.makes, event.wasted)
    weights = [make.base for make in event.makes] + [event.wasted]
    parts = {i: allocation.split(q, weights) for i, q in sorted(drawn_contents.items())}
    for index, make in enumerate(event.makes):
        movement = write(
            entry,
            lots[make.lot.pk],
            Role.MADE,
            make.quantity,
            costs[index],
            base=make.base,
            said=make.said,
            estimated=make.estimated,
        )
        mix = {item_id: part[index] for item_id, part in parts.items() if part[index]}
        _write_contents(movement, mix)
    if amends:
        _derive_again(f"{number}#values", key, entry, lots, downstream, by)
    _flag_late(entry, lots, skip=downstream)
    _save(lots)
    _tell_callers([*event.draws, *event.makes], lots)
    return entry


def adjust(key: Key, event: Event, lot: Lot, difference: int, *, by) -> Entry:
    """Posts a count's difference (millionths, either sign) at the lot's own cost per unit."""
    lots = _lock({lot.pk})
    lot = lots[lot.pk]
    if lot.on_hand + difference < lot.reserved:
        raise LedgerError(
            f"{lot.number} would fall below what orders hold "
            f"({quantity_text(lot.reserved, lot.item.stock_unit)}). Release the hold first."
        )
    entry = _write_entry(key.next(), key, event, by)
    if difference > 0:
        cost = _found_cost(lot, difference)
    else:
        cost = _minus(_remaining_share(lot, -difference)) if difference else 0
    write(entry, lot, Role.COUNTED, difference, cost)
    lot.count_me = False
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
    for lot in lots.values():
        if lot.on_hand < lot.reserved:
            raise LedgerError(
                f"Orders hold more of {lot.number} than would be left. Release the hold first."
            )


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
    Content.objects.bulk_create(
        Content(movement=movement, lot_id=movement.lot_id, item_id=item_id, quantity=quantity)
        for item_id, quantity in mix.items()
    )


def share_costs(total: int | None, makes: list[Make], wasted: int) -> list[int | None]:
    """Each made line's cost: as given, or its share of what was drawn (`amending.share_costs`)."""
    sharing = [(make.base, make.bears_waste) for make in makes if make.cost == SHARE]
    shares = iter(amending.share_costs(total, sharing, wasted))
    return [next(shares) if make.cost == SHARE else make.cost for make in makes]


def write(entry: Entry, lot: Lot, role: str, quantity: int, cost: int | None, **line) -> Movement:
    """One line, and the figures kept beside its lot; `_save` stores them."""
    movement = Movement.objects.create(
        entry=entry, lot=lot, role=role, quantity=quantity, cost=cost, **line
    )
    lot.on_hand += quantity
    if role == Role.MADE:
        lot.made += quantity
    lot.cost = _plus(lot.cost, cost)
    return movement


def _write_entry(
    number: str,
    key: Key,
    event: Event,
    by,
    reverses: Entry | None = None,
    amends: Entry | None = None,
) -> Entry:
    happened_at = event.happened_at or timezone.now()
    return Entry.objects.create(
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
    for lot in lots.values():
        lot.save(update_fields=["on_hand", "made", "cost", "melts", "count_me"])


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
        for name in ("on_hand", "made", "cost", "melts", "count_me"):
            setattr(line.lot, name, getattr(lots[line.lot.pk], name))


def _cover(entry: Entry, lot: Lot, draw: Draw) -> None:
    short = draw.quantity - (lot.on_hand if draw.bench else lot.available)
    if short <= 0:
        return
    unit = lot.item.stock_unit
    if not draw.bench:
        raise LedgerError(
            f"{lot.item.name}, lot {lot.number}: {quantity_text(draw.quantity, unit)} asked for, "
            f"{quantity_text(short, unit)} short."
        )
    write(entry, lot, Role.FOUND, short, _found_cost(lot, short))
    lot.count_me = True


def _found_cost(lot: Lot, quantity: int) -> int | None:
    """Found stock comes in at the lot's receipt cost; unknown stays unknown."""
    if lot.cost is None:
        return None
    made = lot.movements.filter(role=Role.MADE).aggregate(q=Sum("quantity"), c=Sum("cost"))
    return allocation.portion(made["c"], quantity, made["q"]) if made["q"] else None


def _remaining_share(lot: Lot, quantity: int) -> int | None:
    if lot.cost is None:
        return None
    if quantity == lot.on_hand:
        return lot.cost
    return allocation.portion(lot.cost, quantity, lot.on_hand)


def _plus(total: int | None, cost: int | None) -> int | None:
    return None if total is None or cost is None else total + cost


def _minus(cost: int | None) -> int | None:
    return None if cost is None else -cost
