"""What an entry's lines come to, reckoned from the event and its lots as they stand; nothing is stored.

An entry mixes what it draws and gives the mix to what it makes: contents and cost follow from that
one rule (design: the ledger's shape). `ledger.post` writes the lines down."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime

from inventory import allocation, queries
from inventory.models import Lot, Movement
from inventory.services import amending, standing
from inventory.services.posting import LedgerError
from inventory.wording import quantity_text

Role = Movement.Role
Contents = dict[int, int]
#: Tells a lot's total in and what it cost.
Received = Callable[[Lot], tuple[int, int | None]]
SHARE = "share"


@dataclass(frozen=True)
class Draw:
    """`quantity` millionths taken from a lot; `said` keeps the words it was entered in.

    `bench`: use beyond what the ledger knows is booked as found stock (rule 3); elsewhere it is
    refused with a LedgerError naming what is short and by how much. `lost`: gone, whoever holds it;
    otherwise only the bench may draw what is held."""

    lot: Lot
    quantity: int
    bench: bool = False
    lost: bool = False
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
    cost: int | None | str = SHARE
    bears_waste: bool = True
    said: str = ""
    estimated: bool = False


@dataclass(frozen=True)
class Back:
    """`quantity` millionths come back into the lot that a line drew them from, at the cost they left at."""

    draw: Movement
    quantity: int


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
    #: What comes back, before anything is drawn.
    backs: list[Back] = field(default_factory=list)
    wasted: int = 0


@dataclass(frozen=True)
class Line:
    """One line of an entry, as `Movement` keeps it, and what it brings into its lot."""

    lot: Lot
    role: str
    quantity: int
    cost: int | None
    base: int = 0
    said: str = ""
    estimated: bool = False
    contents: Contents = field(default_factory=dict)
    returns: Movement | None = None


def reckon(
    event: Event,
    lots: Mapping[int, Lot],
    holds: Mapping[int, Contents],
    received: Received,
    still_out: Mapping[int, standing.Out],
) -> list[Line]:
    """The lines of an event, and the figures kept beside its `lots` (by id) brought up to date.

    `holds`: the composition of each drawn lot, by lot and item; nothing for goods from outside.
    `still_out`: what did not come back yet of each draw (by id) that something comes back of. Raises LedgerError when stock is short."""
    lines = [_returned(back, lots[back.draw.lot_id], still_out) for back in event.backs]
    drawn_cost: int | None = 0
    drawn: Contents = {}
    for draw in event.draws:
        lot = lots[draw.lot.pk]
        lines += _covered(lot, draw, received)
        for item_id, quantity in queries.share_of(
            lot, holds.get(lot.pk, {}), draw.quantity
        ).items():
            drawn[item_id] = drawn.get(item_id, 0) + quantity
        cost = remaining_share(lot, draw.quantity)
        drawn_cost = plus(drawn_cost, cost)
        line = Line(
            lot, Role.DRAWN, -draw.quantity, minus(cost), said=draw.said, estimated=draw.estimated
        )
        lines.append(taken(line))
    costs = _share_costs(drawn_cost, event.makes, event.wasted)
    weights = [make.base for make in event.makes] + [event.wasted]
    parts = {item: allocation.split(q, weights) for item, q in sorted(drawn.items())}
    for index, make in enumerate(event.makes):
        line = Line(
            lots[make.lot.pk],
            Role.MADE,
            make.quantity,
            costs[index],
            base=make.base,
            said=make.said,
            estimated=make.estimated,
            contents={item: part[index] for item, part in parts.items() if part[index]},
        )
        lines.append(taken(line))
    return lines


def taken(line: Line) -> Line:
    """The line, once the figures kept beside its lot count it in."""
    lot = line.lot
    lot.on_hand += line.quantity
    if line.role == Role.MADE:
        lot.made += line.quantity
    lot.cost = plus(lot.cost, line.cost)
    return line


def counted(lot: Lot, difference: int, received: Received) -> Line:
    """The line of a count's difference (either sign), at the lot's own cost per unit."""
    if difference > 0:
        cost = found_cost(lot, difference, received)
    else:
        cost = minus(remaining_share(lot, -difference)) if difference else 0
    lot.count_me = False
    return taken(Line(lot, Role.COUNTED, difference, cost))


def found_cost(lot: Lot, quantity: int, received: Received) -> int | None:
    """Found stock comes in at the lot's receipt cost; unknown stays unknown."""
    if lot.cost is None:
        return None
    made, cost = received(lot)
    return allocation.portion(cost, quantity, made) if made else None


def remaining_share(lot: Lot, quantity: int) -> int | None:
    """The cost of a draw: remaining cost × drawn ÷ remaining, and the last draw takes the rest."""
    if lot.cost is None:
        return None
    if quantity == lot.on_hand:
        return lot.cost
    return allocation.portion(lot.cost, quantity, lot.on_hand)


def plus(total: int | None, cost: int | None) -> int | None:
    return None if total is None or cost is None else total + cost


def minus(cost: int | None) -> int | None:
    return None if cost is None else -cost


def _covered(lot: Lot, draw: Draw, received: Received) -> list[Line]:
    """What had to be found before the draw; nothing as a rule."""
    whatever_is_held = draw.bench or draw.lost
    if lot.held and not whatever_is_held:
        raise LedgerError(f"{lot.item.name}, lot {lot.number} is on hold. Let it go first.")
    short = draw.quantity - (lot.on_hand if whatever_is_held else lot.available)
    if short <= 0:
        return []
    if not draw.bench:
        unit = lot.item.stock_unit
        text = (
            f"{lot.item.name}, lot {lot.number}: {quantity_text(draw.quantity, unit)} asked for, "
            f"{quantity_text(short, unit)} short."
        )
        if lot.reserved and not whatever_is_held:
            text += f" {quantity_text(lot.reserved, unit)} of it is held for orders."
        raise LedgerError(text)
    cost = found_cost(lot, short, received)
    lot.count_me = True
    return [taken(Line(lot, Role.FOUND, short, cost))]


def _returned(back: Back, lot: Lot, still_out: Mapping[int, standing.Out]) -> Line:
    out = still_out[back.draw.pk]
    if back.quantity > out.quantity:
        unit = lot.item.stock_unit
        raise LedgerError(
            f"{lot.item.name}, lot {lot.number}: {quantity_text(back.quantity, unit)} to come back, only "
            f"{quantity_text(out.quantity, unit)} left with it."
        )
    cost = out.take(back.quantity)
    return taken(Line(lot, Role.RETURNED, back.quantity, cost, returns=back.draw))


def _share_costs(total: int | None, makes: list[Make], wasted: int) -> list[int | None]:
    """Each made line's cost: as given, or its share of what was drawn (`amending.share_costs`)."""
    sharing = [(make.base, make.bears_waste) for make in makes if make.cost == SHARE]
    shares = iter(amending.share_costs(total, sharing, wasted))
    return [next(shares) if make.cost == SHARE else make.cost for make in makes]
