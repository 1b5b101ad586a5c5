"""Replays the ledger from its first entry and proves what is kept beside the lots.

It derives cost and composition again by the rules of the design, with its own state and none of the
services' sums, and says in plain words where the books differ. An amended entry's makings stand where its
first version stood, and every line counts with the corrections that were written for it later."""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from decimal import Decimal
from typing import NamedTuple

from inventory.allocation import portion, split
from inventory.models import Content, Entry, Item, Lot, Movement, PurchaseReceipt, Reservation

HEATED = {Entry.Kind.BATCH, Entry.Kind.ADDITION}
MIXES = HEATED | {
    Entry.Kind.SHOTS,
    Entry.Kind.SORTING,
    Entry.Kind.BAGGING,
    Entry.Kind.THINNING,
    Entry.Kind.MOVE,
}
#: Entries that move base from cup to cup: what is poured in comes out.
POURED = HEATED | {Entry.Kind.SHOTS}
PLASTIC = {Item.Kind.PLASTISOL, Item.Kind.LEFTOVER}
MADE, DRAWN = Movement.Role.MADE, Movement.Role.DRAWN
COUNTED, FOUND = Movement.Role.COUNTED, Movement.Role.FOUND
RETURNED = Movement.Role.RETURNED


class _Row(NamedTuple):
    """A movement as it is kept, and what it brought into its lot: a long ledger has many of them."""

    pk: int
    entry_id: int
    lot_id: int
    role: str
    quantity: int
    cost: int | None
    base: int
    revalues_id: int | None
    returns_id: int | None
    contents: dict[int, int]


@dataclass(slots=True)
class _Line:
    """A line with its corrections. Its cost is unknown while the last word on it is."""

    row: _Row
    quantity: int = 0
    total: int = 0
    known: bool = True
    contents: dict[int, int] = field(default_factory=lambda: defaultdict(int))
    #: For a draw: what was found to cover it.
    found: "_Line | None" = None

    @property
    def cost(self) -> int | None:
        return self.total if self.known else None

    @property
    def mix(self) -> dict[int, int]:
        return {item: quantity for item, quantity in self.contents.items() if quantity}

    def correct(self, row: _Row) -> None:
        self.quantity += row.quantity
        self.total += row.cost or 0
        self.known = row.cost is not None
        for item, quantity in row.contents.items():
            self.contents[item] += quantity


@dataclass
class _State:
    """A lot as the replay knows it."""

    on_hand: int = 0
    made: int = 0
    made_cost: int = 0
    cost: int = 0
    unknown: set[int] = field(default_factory=set)  # standing lines whose cost nobody knows
    contents: dict[int, int] = field(default_factory=lambda: defaultdict(int))

    def take(self, line: _Line, undone: int | None = None) -> None:
        self.on_hand += line.quantity
        self.cost += line.total
        if undone is not None:
            self.unknown.discard(undone)
        elif not line.known:
            self.unknown.add(line.row.pk)
        if line.row.role == MADE:
            self.made += line.quantity
            self.made_cost += line.total
            for item, quantity in line.contents.items():
                self.contents[item] += quantity

    def share_of_cost(self, quantity: int) -> int | None:
        if self.unknown:
            return None
        if quantity == self.on_hand:
            return self.cost
        return portion(self.cost, quantity, self.on_hand)

    def found_cost(self, quantity: int) -> int | None:
        if self.unknown or self.made <= 0:
            return None
        return portion(self.made_cost, quantity, self.made)

    def mix_of(self, lot: Lot, quantity: int) -> dict[int, int]:
        mix = {item: total for item, total in self.contents.items() if total}
        if not mix or self.made <= 0:
            return {lot.item_id: quantity}
        return {item: portion(total, quantity, self.made) for item, total in mix.items()}


def findings() -> Iterator[str]:
    """Every difference found, one sentence each; none when the books are right."""
    yield from _Replay().findings()
    yield from _check_purchases()


def _check_purchases() -> Iterator[str]:
    """What came on a purchase line is a lot of its item, brought in by the receipt it names."""
    for row in PurchaseReceipt.objects.select_related("lot", "line__item", "line__order"):
        if row.lot.item_id != row.line.item_id:
            yield f"{row.line.order}: lot {row.lot} is no {row.line.item}."
        made = Movement.objects.filter(entry=row.entry_id, lot=row.lot_id, role=MADE, revalues=None)
        if list(made.values_list("quantity", flat=True)) != [row.quantity]:
            yield f"{row.line.order}: entry {row.entry_id} did not bring in lot {row.lot} as written."


def _all_rows() -> list[_Row]:
    """Every movement in order of posting, read in a stream: no query names them one by one."""
    contents: dict[int, dict[int, int]] = {}
    brought = Content.objects.order_by().values_list("movement", "item", "quantity")
    for movement, item, quantity in brought.iterator():
        mix = contents.setdefault(movement, {})
        mix[item] = mix.get(item, 0) + quantity
    kept = Movement.objects.order_by("pk").values_list(*_Row._fields[:-1])
    nothing: dict[int, int] = {}
    return [_Row(*row, contents.get(row[0], nothing)) for row in kept.iterator()]


class _Replay:
    def __init__(self) -> None:
        self.lots = Lot.objects.select_related("item").in_bulk()
        self.entries = Entry.objects.defer("key", "digest", "note").in_bulk()
        self.amended = {e.amends_id for e in self.entries.values() if e.amends_id}
        self.undone = {e.reverses_id for e in self.entries.values() if e.reverses_id}
        self.of_entry: dict[int, list[_Line]] = defaultdict(list)
        self.of_lot: dict[int, list[_Line]] = defaultdict(list)
        self.undoes: dict[int, _Line] = {}
        self.drawn: dict[int, dict[int, int]] = {}
        self.rows = _all_rows()
        self._read()

    def findings(self) -> Iterator[str]:
        for pk, entry in sorted(self.entries.items()):
            if entry.reverses_id:
                yield from self._check_undo(entry, self.of_entry[pk])
        for pk, lines in sorted(self.of_lot.items()):
            yield from self._walk(self.lots[pk], lines)
        for pk, entry in sorted(self.entries.items()):
            if entry.reverses_id is None and pk not in self.amended:
                yield from self._check_entry(entry, self.of_entry[pk])
        yield from self._check_kept()

    def _read(self) -> None:
        lines: dict[tuple[int, str], _Line] = {}
        waiting: dict[tuple[int, int], _Line] = {}
        last: dict[tuple[int, int], _Line] = {}
        for row in self.rows:
            at = (row.entry_id, row.lot_id)
            if row.revalues_id is None:
                line = lines[row.pk, row.role] = _Line(row)
                if row.role == FOUND:
                    # Found just before the draw that it covers; taken back just after.
                    if row.quantity < 0:
                        last[at].found = line
                    else:
                        waiting[at] = line
                else:
                    self.of_entry[row.entry_id].append(line)
                    if row.role == DRAWN:
                        line.found, last[at] = waiting.pop(at, None), line
            elif (row.revalues_id, row.role) not in lines:
                line = lines[row.revalues_id, row.role] = _Line(row)
                lines[row.revalues_id, DRAWN].found = line
            line = lines[row.revalues_id or row.pk, row.role]
            line.correct(row)
        for pk, rows in self.of_entry.items():
            for line in rows:
                if not self._replaced(line):
                    self.of_lot[line.row.lot_id].append(line)
            undone = self.entries[pk].reverses_id
            for line, back in zip(self.of_entry.get(undone, []), reversed(rows), strict=False):
                self.undoes[back.row.pk] = line
        for rows in self.of_lot.values():
            rows.sort(key=self._place)

    def _replaced(self, line: _Line) -> bool:
        """Made by an entry that was amended, or the taking back of it: the new one stands there."""
        entry = self.entries[line.row.entry_id]
        return line.row.role == MADE and bool({entry.pk, entry.reverses_id} & self.amended)

    def _place(self, line: _Line) -> tuple[int, int]:
        pk = line.row.entry_id
        while line.row.role == MADE and self.entries[pk].amends_id:
            pk = self.entries[pk].amends_id
        return pk, line.row.pk

    def _walk(self, lot: Lot, lines: list[_Line]) -> Iterator[str]:
        """One lot from its first line to its last."""
        state = _State()
        out: dict[int, list] = {}  # draw → quantity and cost (None: unknown) that did not come back
        for line in lines:
            entry, found = self.entries[line.row.entry_id], line.found
            undone = self.undoes.get(line.row.pk)
            if undone:
                state.take(line, undone.row.pk)
                if found:
                    state.take(found, undone.found.row.pk if undone.found else None)
                if line.row.role == RETURNED:
                    self._send_again(out.get(undone.row.returns_id), line)
                continue
            if line.row.role == DRAWN:
                short = max(0, -line.quantity - state.on_hand)
                if (found.quantity if found else 0) != short:
                    yield f"{entry}: {short} of {lot} had to be found, the books say otherwise."
                if found:
                    yield from self._check_found(entry, lot, state, found)
                    state.take(found)
                self.drawn[line.row.pk] = state.mix_of(lot, -line.quantity)
            if line.row.role == DRAWN or (line.row.role == COUNTED and line.quantity < 0):
                expected = state.share_of_cost(-line.quantity)
                if line.cost != (None if expected is None else -expected):
                    yield f"{entry}: what left {lot} is valued at {line.cost}, not {expected}."
            elif line.row.role == COUNTED:
                yield from self._check_found(entry, lot, state, line)
            if line.row.role == DRAWN:
                out[line.row.pk] = [-line.quantity, None if line.cost is None else -line.cost]
            elif line.row.role == RETURNED:
                yield from self._check_returned(entry, lot, out, line)
            state.take(line)
            if state.on_hand < 0:
                yield f"{entry}: {lot} falls below zero."

    def _check_found(self, entry, lot, state, line) -> Iterator[str]:
        expected = state.found_cost(line.quantity)
        if line.quantity and line.cost != expected:
            yield f"{entry}: found stock of {lot} is valued at {line.cost}, not {expected}."

    def _check_returned(self, entry, lot, out, line) -> Iterator[str]:
        """What comes back had left this lot, and has its share of the cost it left at."""
        left = out.get(line.row.returns_id)
        if left is None or not 0 < line.quantity <= left[0]:
            yield f"{entry}: more of {lot} came back than had left it."
            return
        quantity, cost = left
        if cost is not None:
            whole = line.quantity == quantity
            cost = cost if whole else portion(cost, line.quantity, quantity)
            left[1] -= cost
        left[0] -= line.quantity
        if line.cost != cost:
            yield f"{entry}: what came back to {lot} is valued at {line.cost}, not {cost}."

    def _send_again(self, left: list | None, line: _Line) -> None:
        """The undo of what came back: it is out again."""
        if left is None:
            return
        left[0] -= line.quantity
        if left[1] is not None:
            left[1] -= line.total

    def _check_entry(self, entry: Entry, lines: list[_Line]) -> Iterator[str]:
        if entry.kind in MIXES:
            made = [line for line in lines if line.row.role == MADE]
            drawn = [line for line in lines if line.row.role == DRAWN]
            yield from self._check_mix(entry, made, drawn)
            if entry.pk not in self.undone:
                yield from self._check_melts(entry, made, drawn)
            if entry.kind == Entry.Kind.THINNING:
                yield from self._check_thinning(entry, made, drawn)
            if entry.kind == Entry.Kind.MOVE:
                yield from self._check_move(entry, made, drawn)

    def _check_mix(self, entry, made, drawn) -> Iterator[str]:
        total: dict[int, int] = defaultdict(int)
        for line in drawn:
            for item, quantity in self.drawn[line.row.pk].items():
                total[item] += quantity
        weights = [line.row.base for line in made] + [entry.wasted]
        parts = {item: split(quantity, weights) for item, quantity in sorted(total.items())}
        for index, line in enumerate(made):
            if line.mix != {item: part[index] for item, part in parts.items() if part[index]}:
                yield (
                    f"{entry}: the composition given to {self.lots[line.row.lot_id]} does not follow."
                )
        costs = [line.cost for line in drawn]
        cost = None if None in costs else -sum(costs)
        if [line.cost for line in made] != self._shared_costs(cost, made, entry.wasted):
            yield f"{entry}: its costs do not follow from what it drew."
        poured = sum(
            -line.quantity for line in drawn if self.lots[line.row.lot_id].item.kind in PLASTIC
        )
        if entry.kind in POURED and poured != sum(weights):
            yield f"{entry}: {poured} of base went in, {sum(weights)} came out."

    def _check_melts(self, entry, made, drawn) -> Iterator[str]:
        melts = max((self.lots[line.row.lot_id].melts for line in drawn), default=0)
        melts += entry.kind in HEATED
        for line in made:
            if self.lots[line.row.lot_id].melts < melts:
                yield f"{entry}: {self.lots[line.row.lot_id]} counts fewer melts than its sources."

    def _check_move(self, entry, made, drawn) -> Iterator[str]:
        """A move takes so much from one lot and puts as much of the same into another."""
        if len(made) != 1 or len(drawn) != 1:
            yield f"{entry}: a move has one lot that it takes from and one that it puts into."
            return
        source, there = (self.lots[line.row.lot_id] for line in (drawn[0], made[0]))
        if made[0].quantity != -drawn[0].quantity or there.item_id != source.item_id:
            yield f"{entry}: {there} is not what was taken from {source}."
        if there.printed != source.printed[: len(there.printed)]:
            yield f"{entry}: {there} does not carry the code of {source}."

    def _check_thinning(self, entry, made, drawn) -> Iterator[str]:
        """Volume in is volume out, and strength goes down by as much as the volume of colorant goes up."""
        for line in made:
            thinned = self.lots[line.row.lot_id]
            if line.quantity != -sum(row.quantity for row in drawn):
                yield f"{entry}: {thinned} is not what went into it."
            active = sum(
                -row.quantity * self.lots[row.row.lot_id].strength
                for row in drawn
                if self.lots[row.row.lot_id].item_id == thinned.item_id
            )
            expected = (active / line.quantity).quantize(Decimal("0.000001"))
            if thinned.strength != expected:
                yield f"{entry}: {thinned} has strength {thinned.strength}, not {expected}."

    def _shared_costs(self, total, made, wasted) -> list[int | None]:
        """Trim pays for its own base; everything else shares the rest, waste included, by base."""
        if total is None:
            return [None] * len(made)
        trim, baits = [], []
        for line in made:
            is_trim = self.lots[line.row.lot_id].form == Lot.Form.TRIM
            (trim if is_trim else baits).append(line)
        rest = sum(line.row.base for line in baits) + wasted
        parts = split(total, [line.row.base for line in trim] + [rest])
        cost = dict(zip((line.row.pk for line in trim), parts, strict=False))
        if baits:
            shares = split(parts[-1], [line.row.base for line in baits])
            cost |= dict(zip((line.row.pk for line in baits), shares, strict=True))
        return [cost[line.row.pk] for line in made]

    def _check_undo(self, entry: Entry, lines: list[_Line]) -> Iterator[str]:
        def shape(line: _Line | None, sign: int):
            if line is None or not (line.quantity or line.total or line.row.role != FOUND):
                return None
            return (
                line.row.lot_id,
                line.row.role,
                sign * line.quantity,
                sign * line.total,
                sign * line.row.base * (line.row.role != FOUND),
                {item: sign * quantity for item, quantity in line.mix.items()},
            )

        there = self.of_entry[entry.reverses_id]
        same = len(lines) == len(there) and all(
            shape(line, 1) == shape(back, -1) and shape(line.found, 1) == shape(back.found, -1)
            for line, back in zip(there, reversed(lines), strict=True)
        )
        if not same:
            yield f"{entry} is not the exact opposite of what it undoes."

    def _check_kept(self) -> Iterator[str]:
        held: dict[int, int] = defaultdict(int)
        for lot_id, quantity in Reservation.objects.values_list("lot_id", "quantity"):
            held[lot_id] += quantity
        sums: dict[int, list[int]] = defaultdict(lambda: [0, 0, 0])
        for row in self.rows:
            total = sums[row.lot_id]
            total[0] += row.quantity
            total[1] += row.quantity if row.role == MADE else 0
            total[2] += row.cost or 0
            if row.revalues_id and row.role in (MADE, DRAWN, RETURNED) and row.quantity:
                yield f"{self.entries[row.entry_id]}: a correction of value moved stock."
            if row.role != MADE and row.contents:
                yield "A line that made nothing carries a composition."
        unknown = set()
        for pk, lines in self.of_entry.items():
            if pk not in self.undone and self.entries[pk].reverses_id is None:
                for line in lines:
                    if not line.known or (line.found and not line.found.known):
                        unknown.add(line.row.lot_id)
        for pk, lot in self.lots.items():
            on_hand, made, cost = sums[pk]
            for name, kept, replayed in (
                ("on hand", lot.on_hand, on_hand),
                ("made", lot.made, made),
                ("cost", lot.cost, None if pk in unknown else cost),
                ("reserved", lot.reserved, held[pk]),
            ):
                if kept != replayed:
                    yield f"Lot {lot}: {name} is kept as {kept}, the ledger says {replayed}."
