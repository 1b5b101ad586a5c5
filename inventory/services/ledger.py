"""The ledger's only pen: every movement in the house is written here.

An entry mixes what it draws and gives the mix to what it makes: contents and cost follow from that
one rule (design: the ledger's shape). Callers run inside `posting`'s transaction.
"""

from dataclasses import dataclass, field
from datetime import date, datetime

from django.db.models import Sum
from django.utils import timezone

from inventory import allocation, queries
from inventory.models import Content, Entry, Lot, Movement
from inventory.services import reversal
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


def post(key: Key, event: Event, *, by) -> Entry:
    """Writes one entry and brings its lots up to date; raises LedgerError when stock is short."""
    lots = _lock([line.lot for line in [*event.draws, *event.makes]])
    entry = _write_entry(key, event, by)
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
        )
        Content.objects.bulk_create(
            Content(movement=movement, lot_id=make.lot.pk, item_id=item_id, quantity=part[index])
            for item_id, part in parts.items()
            if part[index]
        )
    _tell_callers([*event.draws, *event.makes], lots)
    return entry


def adjust(key: Key, event: Event, lot: Lot, difference: int, *, by) -> Entry:
    """Posts a count's difference (millionths, either sign) at the lot's own cost per unit."""
    lot = _lock([lot])[lot.pk]
    if lot.on_hand + difference < lot.reserved:
        raise LedgerError(
            f"{lot.number} would fall below what orders hold "
            f"({quantity_text(lot.reserved, lot.item.stock_unit)}). Release the hold first."
        )
    entry = _write_entry(key, event, by)
    if difference > 0:
        cost = _found_cost(lot, difference)
    else:
        cost = _minus(_remaining_share(lot, -difference)) if difference else 0
    write(entry, lot, Role.COUNTED, difference, cost)
    Lot.objects.filter(pk=lot.pk).update(count_me=False)
    return entry


def reverse(
    key: Key, entry: Entry, *, by, note: str = "", happened_at: datetime | None = None
) -> Entry:
    """Posts the exact opposite of an entry; raises `reversal.StillUsed` while its outputs are used."""
    lots = _lock(list(Lot.objects.filter(movements__entry=entry).distinct()))
    reversal.check(entry, lots)
    event = Event(
        kind=Entry.Kind.REVERSAL,
        title=f"Undone: {entry.title}"[:200],
        happened_at=happened_at,
        note=note,
        reference=entry.reference,
        business_date=entry.business_date,
        wasted=-entry.wasted,
    )
    opposite = _write_entry(key, event, by, reverses=entry)
    # Backwards, so that a lot never dips below zero on the way: what was found goes last.
    for line in entry.movements.prefetch_related("contents").order_by("-id"):
        movement = write(
            opposite,
            lots[line.lot_id],
            line.role,
            -line.quantity,
            _minus(line.cost),
            base=-line.base,
        )
        Content.objects.bulk_create(
            Content(movement=movement, lot_id=c.lot_id, item_id=c.item_id, quantity=-c.quantity)
            for c in line.contents.all()
        )
    for lot in lots.values():
        lot.cost = reversal.cost_of(lot)
        lot.save(update_fields=["cost"])
    return opposite


def share_costs(total: int | None, makes: list[Make], wasted: int) -> list[int | None]:
    """Each made line's cost. Lines that don't bear waste pay for their own base only; the rest, with
    the cost of what was thrown away, goes to the lines that do. An unknown total stays unknown."""
    costs = [None if make.cost == SHARE else make.cost for make in makes]
    sharing = [i for i, make in enumerate(makes) if make.cost == SHARE]
    if total is None or not sharing:
        return costs
    bearing = [i for i in sharing if makes[i].bears_waste]
    others = [i for i in sharing if not makes[i].bears_waste]
    rest = sum(makes[i].base for i in bearing) + wasted
    parts = allocation.split(total, [makes[i].base for i in others] + [rest])
    for i, part in zip(others, parts, strict=False):
        costs[i] = part
    if bearing:
        shares = allocation.split(parts[-1], [makes[i].base for i in bearing])
        for i, part in zip(bearing, shares, strict=True):
            costs[i] = part
    return costs


def write(entry: Entry, lot: Lot, role: str, quantity: int, cost: int | None, **line) -> Movement:
    """One line, and the figures kept beside its lot."""
    movement = Movement.objects.create(
        entry=entry, lot=lot, role=role, quantity=quantity, cost=cost, **line
    )
    lot.on_hand += quantity
    if role == Role.MADE:
        lot.made += quantity
    lot.cost = _plus(lot.cost, cost)
    lot.save(update_fields=["on_hand", "made", "cost"])
    return movement


def _write_entry(key: Key, event: Event, by, reverses: Entry | None = None) -> Entry:
    happened_at = event.happened_at or timezone.now()
    return Entry.objects.create(
        kind=event.kind,
        key=key.next(),
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
    )


def _lock(lots: list[Lot]) -> dict[int, Lot]:
    """The lots again, locked in key order so that two posters never wait for each other."""
    wanted = sorted({lot.pk for lot in lots})
    locked = Lot.objects.select_for_update(of=("self",)).select_related("item").order_by("pk")
    return {lot.pk: lot for lot in locked.filter(pk__in=wanted)}


def _tell_callers(lines: list, lots: dict[int, Lot]) -> None:
    """The caller's own lot objects get the new figures, so that nobody goes on with stale ones."""
    for line in lines:
        for name in ("on_hand", "made", "cost", "count_me"):
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
    Lot.objects.filter(pk=lot.pk).update(count_me=True)
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
