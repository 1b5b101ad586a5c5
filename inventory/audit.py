"""Replays the ledger from its first entry and proves what is kept beside the lots.

It derives cost and composition again by the rules of the design, with its own state and none of the
services' sums, and says in plain words where the books differ."""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from decimal import Decimal

from inventory.allocation import portion, split
from inventory.models import Content, Entry, Item, Lot, Movement, Reservation

FROM_OUTSIDE = {Entry.Kind.OPENING, Entry.Kind.RECEIPT}
MIXES = {Entry.Kind.BATCH, Entry.Kind.SHOTS, Entry.Kind.BAGGING, Entry.Kind.THINNING}
PLASTIC = {Item.Kind.PLASTISOL, Item.Kind.LEFTOVER}


@dataclass
class _State:
    """A lot as the replay knows it."""

    on_hand: int = 0
    made: int = 0
    made_cost: int = 0
    cost: int = 0
    unknown: set[int] = field(default_factory=set)  # standing lines whose cost nobody knows
    contents: dict[int, int] = field(default_factory=lambda: defaultdict(int))

    def draw(self, lot: Lot, quantity: int) -> dict[int, int]:
        mix = {item: total for item, total in self.contents.items() if total}
        if not mix or self.made <= 0:
            return {lot.item_id: quantity}
        return {item: portion(total, quantity, self.made) for item, total in mix.items()}


def findings() -> Iterator[str]:
    """Every difference found, one sentence each; none when the books are right."""
    lots = Lot.objects.select_related("item").in_bulk()
    states: dict[int, _State] = defaultdict(_State)
    lines_of: dict[int, list[Movement]] = {}
    entries = Entry.objects.order_by("id").prefetch_related("movements__contents")
    for entry in entries.iterator(chunk_size=500):
        lines = sorted(entry.movements.all(), key=lambda line: line.pk)
        lines_of[entry.pk] = lines
        if entry.reverses_id:
            yield from _check_reversal(entry, lines, lines_of[entry.reverses_id])
            _apply(states, lines, lines_of[entry.reverses_id])
        else:
            yield from _check_entry(entry, lines, lots, states)
    yield from _check_kept(lots, states)


def _check_entry(entry, lines, lots, states) -> Iterator[str]:
    drawn_cost, drawn = 0, defaultdict(int)
    for line in lines:
        state, lot = states[line.lot_id], lots[line.lot_id]
        if line.role == Movement.Role.DRAWN:
            for item, quantity in state.draw(lot, -line.quantity).items():
                drawn[item] += quantity
            expected = _share_of_cost(state, -line.quantity)
            drawn_cost = None if expected is None or drawn_cost is None else drawn_cost + expected
            if line.cost != (None if expected is None else -expected):
                yield f"{entry}: the draw from {lot} costs {line.cost}, not {expected}."
        elif line.role == Movement.Role.COUNTED and line.quantity < 0:
            expected = _share_of_cost(state, -line.quantity)
            if line.cost != (None if expected is None else -expected):
                yield f"{entry}: the count of {lot} is valued at {line.cost}, not {expected}."
        elif line.role in (Movement.Role.FOUND, Movement.Role.COUNTED):
            known = not state.unknown and state.made
            expected = portion(state.made_cost, line.quantity, state.made) if known else None
            if line.cost != expected and line.quantity:
                yield f"{entry}: found stock of {lot} is valued at {line.cost}, not {expected}."
        _apply(states, [line])
        if state.on_hand < 0:
            yield f"{entry}: {lot} falls below zero."
    made = [line for line in lines if line.role == Movement.Role.MADE]
    if entry.kind in MIXES:
        yield from _check_mix(entry, lines, made, lots, drawn, drawn_cost)
    if entry.kind == Entry.Kind.THINNING:
        yield from _check_thinning(entry, lines, made, lots)


def _check_mix(entry, lines, made, lots, drawn, drawn_cost) -> Iterator[str]:
    weights = [line.base for line in made] + [entry.wasted]
    parts = {item: split(quantity, weights) for item, quantity in sorted(drawn.items())}
    for index, line in enumerate(made):
        expected = {item: part[index] for item, part in parts.items() if part[index]}
        if {c.item_id: c.quantity for c in line.contents.all()} != expected:
            yield f"{entry}: the composition given to {lots[line.lot_id]} does not follow."
    expected_costs = _shared_costs(drawn_cost, made, lots, entry.wasted)
    if [line.cost for line in made] != expected_costs:
        yield f"{entry}: its costs do not follow from what it drew."
    drawn_lots = [lots[line.lot_id] for line in lines if line.role == Movement.Role.DRAWN]
    melts = max((lot.melts for lot in drawn_lots), default=0)
    melts += entry.kind == Entry.Kind.BATCH
    for line in made:
        if lots[line.lot_id].melts < melts:
            yield f"{entry}: {lots[line.lot_id]} counts fewer melts than its sources."
    if entry.kind not in (Entry.Kind.BAGGING, Entry.Kind.THINNING):
        poured = sum(
            -line.quantity
            for line in lines
            if line.role == Movement.Role.DRAWN and lots[line.lot_id].item.kind in PLASTIC
        )
        if poured != sum(weights):
            yield f"{entry}: {poured} of base went in, {sum(weights)} came out."


def _check_thinning(entry, lines, made, lots) -> Iterator[str]:
    """Volume in is volume out, and strength goes down by as much as the volume of colorant goes up."""
    drawn = [line for line in lines if line.role == Movement.Role.DRAWN]
    for line in made:
        thinned = lots[line.lot_id]
        if line.quantity != -sum(row.quantity for row in drawn):
            yield f"{entry}: {thinned} is not what went into it."
        active = sum(
            -row.quantity * lots[row.lot_id].strength
            for row in drawn
            if lots[row.lot_id].item_id == thinned.item_id
        )
        expected = (active / line.quantity).quantize(Decimal("0.000001"))
        if thinned.strength != expected:
            yield f"{entry}: {thinned} has strength {thinned.strength}, not {expected}."


def _shared_costs(total, made, lots, wasted) -> list[int | None]:
    """Trim pays for its own base; everything else shares the rest, waste included, by base."""
    if total is None:
        return [None] * len(made)
    trim = [line for line in made if lots[line.lot_id].form == Lot.Form.TRIM]
    baits = [line for line in made if lots[line.lot_id].form != Lot.Form.TRIM]
    rest = sum(line.base for line in baits) + wasted
    parts = split(total, [line.base for line in trim] + [rest])
    cost = dict(zip((line.pk for line in trim), parts, strict=False))
    if baits:
        shares = split(parts[-1], [line.base for line in baits])
        cost |= dict(zip((line.pk for line in baits), shares, strict=True))
    return [cost[line.pk] for line in made]


def _share_of_cost(state: _State, quantity: int) -> int | None:
    if state.unknown:
        return None
    if quantity == state.on_hand:
        return state.cost
    return portion(state.cost, quantity, state.on_hand)


def _check_reversal(entry, lines, original) -> Iterator[str]:
    def shape(rows, sign):
        return sorted(
            (
                row.lot_id,
                row.role,
                sign * row.quantity,
                row.cost is None or sign * row.cost,
                sign * row.base,
                sorted((c.item_id, sign * c.quantity) for c in row.contents.all()),
            )
            for row in rows
        )

    if shape(lines, -1) != shape(original, 1):
        yield f"{entry} is not the exact opposite of what it undoes."


def _apply(states, lines, undone=()) -> None:
    for line in lines:
        state = states[line.lot_id]
        state.on_hand += line.quantity
        state.cost += line.cost or 0
        if line.role == Movement.Role.MADE:
            state.made += line.quantity
            state.made_cost += line.cost or 0
        if line.cost is None and not undone:
            state.unknown.add(line.pk)
        for content in line.contents.all():
            state.contents[content.item_id] += content.quantity
    for line in undone:
        states[line.lot_id].unknown.discard(line.pk)


def _check_kept(lots, states) -> Iterator[str]:
    held: dict[int, int] = defaultdict(int)
    for lot_id, quantity in Reservation.objects.values_list("lot_id", "quantity"):
        held[lot_id] += quantity
    for pk, lot in lots.items():
        state = states[pk]
        cost = None if state.unknown else state.cost
        for name, kept, replayed in (
            ("on hand", lot.on_hand, state.on_hand),
            ("made", lot.made, state.made),
            ("cost", lot.cost, cost),
            ("reserved", lot.reserved, held[pk]),
        ):
            if kept != replayed:
                yield f"Lot {lot}: {name} is kept as {kept}, the ledger says {replayed}."
    stray = Content.objects.exclude(movement__role=Movement.Role.MADE)
    if stray.exists():
        yield "A line that made nothing carries a composition."
