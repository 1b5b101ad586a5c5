"""What an amended entry changes in everything that came of it (rule 9).

The new entry stands where the old one stood: the lots it makes have what it gave from then on. Each lot's
lines are walked again in that order; what is drawn from a lot carries on into what it made, until nothing
changes. The differences are written as one entry of corrections: no quantity, only cost and composition,
but for what was found to cover a draw, and counts, which fix what was there."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field

from django.db.models import Prefetch

from inventory import allocation
from inventory.models import Content, Entry, Lot, Movement
from inventory.services import standing
from inventory.services.posting import LedgerError
from inventory.services.standing import Contents, Line

Role = Movement.Role
HEATED = {Entry.Kind.BATCH, Entry.Kind.ADDITION}
FROM_OUTSIDE = {Entry.Kind.OPENING, Entry.Kind.RECEIPT}


def descendants(made: Iterable[int]) -> set[int]:
    """These lots and every lot that anything drawn from them went into, undone entries included."""
    seen, generation = set(), set(made)
    while generation:
        seen |= generation
        drawn = Movement.objects.filter(lot__in=generation, role=Role.DRAWN, revalues=None)
        takers = drawn.filter(entry__amended_by=None).exclude(entry__kind=Entry.Kind.REVERSAL)
        lines = Movement.objects.filter(
            entry__in=takers.values("entry"), role=Role.MADE, revalues=None
        )
        generation = set(lines.values_list("lot", flat=True)) - seen
    return seen


def changed(old: Entry, given: dict[int, tuple[int, int | None]]) -> set[int]:
    """Ids of the lots that an entry made, but for those that get the same again from outside.

    `given`: lot id → (quantity, cost) of the new lines whose cost is given."""
    made = old.movements.filter(role=Role.MADE, revalues=None)
    return {line.lot_id for line in made if given.get(line.lot_id) != (line.quantity, line.cost)}


@dataclass
class Due:
    """What a line should come to; `found`: what had to be found first to cover a draw."""

    quantity: int
    cost: int | None
    contents: Contents = field(default_factory=dict)
    found: int = 0
    found_cost: int | None = 0


@dataclass
class _State:
    """A lot on its way through its lines."""

    item_id: int
    on_hand: int = 0
    cost: int = 0
    made: int = 0
    made_cost: int = 0
    unknown: set[int] = field(default_factory=set)
    contents: Contents = field(default_factory=lambda: defaultdict(int))

    def share_of_cost(self, quantity: int) -> int | None:
        if self.unknown:
            return None
        if not quantity:
            # An empty draw only ties entries together; an emptied lot may still await its costs.
            return 0
        if quantity == self.on_hand:
            return self.cost
        return allocation.portion(self.cost, quantity, self.on_hand)

    def found_cost(self, quantity: int) -> int | None:
        if self.unknown or self.made <= 0:
            return None
        return allocation.portion(self.made_cost, quantity, self.made)

    def contents_of(self, quantity: int) -> Contents:
        mix = {item: total for item, total in self.contents.items() if total}
        if not mix or self.made <= 0:
            return {self.item_id: quantity}
        return {i: allocation.portion(total, quantity, self.made) for i, total in mix.items()}

    def take_in(self, key: int, quantity: int, cost: int | None) -> None:
        self.on_hand += quantity
        self.cost += cost or 0
        if cost is None:
            self.unknown.add(key)

    def make(self, due: Due, sign: int = 1) -> None:
        self.made += sign * due.quantity
        self.made_cost += sign * (due.cost or 0)
        for item, quantity in due.contents.items():
            self.contents[item] += sign * quantity


class Derivation:
    """The lots of `dirty` derived again, now that `new` stands in place of the entry it amends."""

    def __init__(self, new: Entry, dirty: set[int]) -> None:
        self.new, self.dirty = new, dirty
        self._load()
        self.due = {line.movement.pk: _as_it_stands(line) for line in self.lines}
        self.held = self._after_counts()
        self.drawn: dict[int, Contents] = {}
        for _ in range(len(self.rows) + 2):
            if not self._pass():
                break
        else:
            raise LedgerError(
                "This change would make a batch out of what was made from it. "
                "Choose another source, or undo the later entries first."
            )

    def _load(self) -> None:
        contents = Prefetch("contents", Content.objects.only("movement_id", "item_id", "quantity"))
        found = Movement.objects.select_related("lot").prefetch_related(contents)
        own = Movement.objects.filter(lot__in=self.dirty, revalues=None)
        touching = own.filter(role__in=[Role.DRAWN, Role.MADE, Role.RETURNED]).values(
            "entry", "entry__reverses"
        )
        touched = {row["entry__reverses"] or row["entry"] for row in touching}
        whole = touched | set(
            Entry.objects.filter(reverses__in=touched).values_list("pk", flat=True)
        )
        rows = {
            m.pk: m
            for m in [
                *found.filter(lot__in=self.dirty),
                *found.filter(entry__in=whole, revalues=None),
                *found.filter(revalues__entry__in=whole),
            ]
        }
        # The composition of what a taker drew from other leftovers needs the whole of those lots.
        mixed = {m.lot_id for m in rows.values() if m.role == Role.DRAWN} - self.dirty
        mixed &= set(Content.objects.filter(lot__in=mixed).values_list("lot", flat=True))
        for m in found.filter(lot__in=mixed):
            rows[m.pk] = m
        self.lines = standing.lines(rows.values())
        ids = {line.movement.entry_id for line in self.lines}
        self.entries = Entry.objects.select_related("amended_by", "reverses__amended_by").in_bulk(
            ids
        )
        self.places = places(self.entries.values())
        self.rows: dict[int, list[Line]] = defaultdict(list)
        self.of_entry: dict[int, list[Line]] = defaultdict(list)
        for line in self.lines:
            self.of_entry[line.movement.entry_id].append(line)
            if line.movement.lot_id in self.dirty | mixed and not self._gone(line):
                self.rows[line.movement.lot_id].append(line)
        for rows in self.rows.values():
            rows.sort(key=self._place)
        self.mirrors = self._mirrors()
        moved = (line.movement for line in self.lines)
        self.returned = {m.pk: m.returns_id for m in moved if m.returns_id}
        self.derived = [
            entry
            for pk, entry in sorted(self.entries.items())
            if pk in touched
            and entry.kind not in FROM_OUTSIDE
            and entry.reverses_id is None
            and not _amended(entry)
        ]

    def _gone(self, line: Line) -> bool:
        """What an amended entry once made, and its taking back: the new entry stands there."""
        entry = self.entries[line.movement.entry_id]
        dead = _amended(entry) or (entry.reverses_id and _amended(entry.reverses))
        return line.movement.role == Role.MADE and bool(dead)

    def _place(self, line: Line) -> tuple[int, int]:
        made = line.movement.role == Role.MADE
        entry = line.movement.entry_id
        return (self.places[entry] if made else entry, line.movement.pk)

    def _mirrors(self) -> dict[int, int]:
        """An undo's line → the line it is the opposite of."""
        pairs = {}
        for pk, entry in self.entries.items():
            if entry.reverses_id in self.of_entry:
                there, back = self.of_entry[entry.reverses_id], self.of_entry[pk]
                if len(there) == len(back):
                    for line, opposite in zip(there, reversed(back), strict=True):
                        pairs[opposite.movement.pk] = line.movement.pk
        return pairs

    def _after_counts(self) -> dict[int, int]:
        """What each count left on hand before this change: a count fixes it (rule 10)."""
        old = self.new.amends_id
        held: dict[int, int] = {}
        on_hand: dict[int, int] = defaultdict(int)
        for line in sorted(self.lines, key=self._place):
            entry = self.entries[line.movement.entry_id]
            lately = entry.pk == self.new.pk or entry.reverses_id == old
            if lately or (self._gone(line) and entry.pk != old):
                continue
            on_hand[line.movement.lot_id] += line.now.quantity + line.found.quantity
            if line.movement.role == Role.COUNTED:
                held[line.movement.pk] = on_hand[line.movement.lot_id]
        return held

    def _pass(self) -> bool:
        """Walks every lot once and mixes every entry once; whether anything changed."""
        changed = False
        for lot_id, rows in self.rows.items():
            changed |= self._walk(lot_id, rows)
        for entry in self.derived:
            changed |= self._mix(entry)
        return changed

    def _walk(self, lot_id: int, rows: list[Line]) -> bool:
        state = _State(rows[0].movement.lot.item_id)
        out: dict[int, standing.Out] = {}
        changed = False
        for line in rows:
            movement = line.movement
            due = self.due[movement.pk]
            if movement.pk in self.mirrors:
                new = _opposite(self.due[self.mirrors[movement.pk]])
            elif movement.role == Role.RETURNED:
                cost = out[movement.returns_id].take(due.quantity)
                new = Due(due.quantity, cost) if lot_id in self.dirty else due
            elif lot_id in self.dirty and movement.role in (Role.DRAWN, Role.COUNTED):
                new = self._derive(state, line)
            else:
                new = due
            if movement.role == Role.DRAWN and movement.pk not in self.mirrors:
                if new.found:
                    state.take_in(-movement.pk, new.found, new.found_cost)
                self.drawn[movement.pk] = state.contents_of(-new.quantity)
            self._note_out(out, movement, new)
            changed |= new != due
            self.due[movement.pk] = new
            self._apply(state, movement, new)
        return changed

    def _note_out(self, out: dict[int, standing.Out], movement: Movement, due: Due) -> None:
        """Keeps what is still out of each draw, for what comes back of it later."""
        undone = self.mirrors.get(movement.pk)
        if movement.role == Role.DRAWN and undone is None:
            out[movement.pk] = standing.Out(-due.quantity, _minus(due.cost))
        elif movement.role == Role.RETURNED and undone is not None:
            out[self.returned[undone]].put_back(-due.quantity, _minus(due.cost))

    def _derive(self, state: _State, line: Line) -> Due:
        movement = line.movement
        if movement.role == Role.COUNTED:
            difference = self.held[movement.pk] - state.on_hand
            if difference >= 0:
                return Due(difference, state.found_cost(difference) if difference else 0)
            return Due(difference, _minus(state.share_of_cost(-difference)))
        wanted = -line.now.quantity
        short = max(0, wanted - state.on_hand)
        found_cost = state.found_cost(short) if short else 0
        covered = _State(state.item_id, state.on_hand, state.cost, unknown=set(state.unknown))
        if short:
            covered.take_in(0, short, found_cost)
        return Due(line.now.quantity, _minus(covered.share_of_cost(wanted)), {}, short, found_cost)

    def _apply(self, state: _State, movement: Movement, due: Due) -> None:
        mirrored = self.mirrors.get(movement.pk)
        if mirrored is None:
            state.take_in(movement.pk, due.quantity, due.cost)
            if movement.role == Role.MADE:
                state.make(due)
            return
        state.on_hand += due.quantity + due.found
        state.cost += (due.cost or 0) + (due.found_cost or 0)
        state.unknown -= {mirrored, -mirrored}
        if movement.role == Role.MADE:
            state.make(due)

    def _mix(self, entry: Entry) -> bool:
        """Gives what an entry drew to what it made, as the ledger's one rule says."""
        lines = self.of_entry[entry.pk]
        made = [line for line in lines if line.movement.role == Role.MADE]
        total, contents = 0, defaultdict(int)
        for line in lines:
            if line.movement.role != Role.DRAWN:
                continue
            due, movement = self.due[line.movement.pk], line.movement
            total = None if total is None or due.cost is None else total - due.cost
            mix = self.drawn.get(movement.pk, {movement.lot.item_id: -due.quantity})
            for item, quantity in mix.items():
                contents[item] += quantity
        costs = share_costs(
            total,
            [(line.movement.base, line.movement.lot.form != Lot.Form.TRIM) for line in made],
            entry.wasted,
        )
        weights = [line.movement.base for line in made] + [entry.wasted]
        parts = {i: allocation.split(q, weights) for i, q in sorted(contents.items())}
        changed = False
        for index, line in enumerate(made):
            mix = {item: part[index] for item, part in parts.items() if part[index]}
            new = Due(line.now.quantity, costs[index], mix)
            changed |= new != self.due[line.movement.pk]
            self.due[line.movement.pk] = new
        return changed

    def corrections(self) -> list[tuple[Line, Due]]:
        """Lines of the dirty lots that no longer come to what is booked."""
        return [
            (line, due)
            for line in self.lines
            if line.movement.lot_id in self.dirty
            and not self._gone(line)
            and (due := self.due[line.movement.pk]) != _as_it_stands(line)
        ]

    def melts(self) -> dict[int, int]:
        """How often the plastic of each dirty lot was made liquid, by the entries that stand."""
        melts = {line.movement.lot_id: line.movement.lot.melts for line in self.lines}
        makers: dict[int, list[Entry]] = defaultdict(list)
        undone = {entry.reverses_id for entry in self.entries.values()}
        for entry in self.entries.values():
            if entry.reverses_id is None and entry.pk not in undone and not _amended(entry):
                for line in self.of_entry[entry.pk]:
                    if line.movement.role == Role.MADE:
                        makers[line.movement.lot_id].append(entry)
        mixed = {
            lot
            for lot in self.dirty & set(makers)
            if all(entry.kind not in FROM_OUTSIDE for entry in makers[lot])
        }
        for lot in mixed:
            melts[lot] = 0
        for _ in range(len(mixed) + 1):
            for lot in mixed:
                melts[lot] = max(melts_of(e, self.of_entry[e.pk], melts) for e in makers[lot])
        return {lot: melts[lot] for lot in mixed}


def melts_of(entry: Entry, lines: Iterable[Line], melts: dict[int, int]) -> int:
    """Melts of what an entry makes: the most of its sources, and one more when it was heated."""
    drawn = [melts[row.movement.lot_id] for row in lines if row.movement.role == Role.DRAWN]
    return max(drawn, default=0) + (entry.kind in HEATED)


def share_costs(total: int | None, makes: list[tuple[int, bool]], wasted: int) -> list[int | None]:
    """The cost of each made line, given as (mL of base, whether it bears what was thrown away).

    A line that bears no waste pays for its own base only; the rest, with the cost of what was thrown
    away, goes to the lines that do. An unknown total stays unknown."""
    if total is None:
        return [None] * len(makes)
    bearing = [i for i, (_, bears) in enumerate(makes) if bears]
    others = [i for i, (_, bears) in enumerate(makes) if not bears]
    rest = sum(makes[i][0] for i in bearing) + wasted
    parts = allocation.split(total, [makes[i][0] for i in others] + [rest])
    costs: dict[int, int] = dict(zip(others, parts, strict=False))
    if bearing:
        shares = allocation.split(parts[-1], [makes[i][0] for i in bearing])
        costs |= dict(zip(bearing, shares, strict=True))
    return [costs[i] for i in range(len(makes))]


def places(entries: Iterable[Entry]) -> dict[int, int]:
    """Where each entry's makings stand: at the first version of it."""
    replaced = {entry.pk: entry.amends_id for entry in entries}
    missing = {pk for pk in replaced.values() if pk} - set(replaced)
    while missing:
        found = Entry.objects.filter(pk__in=missing).values_list("pk", "amends_id")
        replaced |= dict(found)
        missing = {pk for pk in replaced.values() if pk} - set(replaced)
    result = {}
    for pk in replaced:
        first = pk
        while replaced[first]:
            first = replaced[first]
        result[pk] = first
    return result


def _amended(entry: Entry) -> bool:
    return getattr(entry, "amended_by", None) is not None


def _as_it_stands(line: Line) -> Due:
    mix = {item: quantity for item, quantity in line.now.contents.items() if quantity}
    found_cost = line.found.cost if line.found.quantity else 0
    return Due(line.now.quantity, line.now.cost, mix, line.found.quantity, found_cost)


def _opposite(due: Due) -> Due:
    mix = {item: -quantity for item, quantity in due.contents.items()}
    return Due(-due.quantity, _minus(due.cost), mix, -due.found, _minus(due.found_cost))


def _minus(cost: int | None) -> int | None:
    return None if cost is None else -cost
