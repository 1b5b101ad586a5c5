"""Lines of the ledger as they stand: with every later correction of value counted in.

An amended entry changes what came after it; the corrections are lines that point to the line they
correct (`Movement.revalues`). A chain is a line and its corrections, in one lot and one role. Its cost
is known when the last of it is, and is then the sum of all that is known."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field

from django.db.models import Exists, OuterRef, Q, Sum

from inventory import allocation
from inventory.models import Entry, Lot, Movement

Role = Movement.Role
Contents = dict[int, int]


@dataclass
class Chain:
    """What a chain comes to. `booked`: the sum of its known costs; `known`: whether that is its cost."""

    quantity: int = 0
    booked: int = 0
    known: bool = True
    ever_known: bool = False
    contents: Contents = field(default_factory=dict)

    @property
    def cost(self) -> int | None:
        return self.booked if self.known else None

    def add(self, line: Movement) -> None:
        self.quantity += line.quantity
        self.booked += line.cost or 0
        self.known = line.cost is not None
        self.ever_known |= self.known
        for content in line.contents.all():
            self.contents[content.item_id] = (
                self.contents.get(content.item_id, 0) + content.quantity
            )


@dataclass
class Line:
    """A first line and what it comes to; for a draw, also what was found to cover it (rule 3)."""

    movement: Movement
    now: Chain
    found: Chain = field(default_factory=Chain)
    #: The first line of what was found, if it was there from the start.
    found_root: Movement | None = None

    def cover(self, root: Movement | None, chains: dict[tuple[int, str], Chain]) -> None:
        """Counts in what was found for this draw: a line of its own, or only corrections."""
        self.found_root = root
        self.found = chains.get(((root or self.movement).pk, Role.FOUND), Chain())


@dataclass
class Out:
    """What a draw took and did not come back yet. What comes back has its share of the draw's cost, and
    the last of it takes the rest."""

    quantity: int
    cost: int | None

    def take(self, quantity: int) -> int | None:
        """The cost of so much of it, which is then no longer out."""
        cost = None
        if self.cost is not None:
            whole = quantity == self.quantity
            cost = self.cost if whole else allocation.portion(self.cost, quantity, self.quantity)
            self.cost -= cost
        self.quantity -= quantity
        return cost

    def put_back(self, quantity: int, cost: int | None) -> None:
        """So much of it did not come back after all."""
        self.quantity += quantity
        if self.cost is not None:
            self.cost += cost or 0


def still_out(draws: Iterable[int]) -> dict[int, Out]:
    """What is still out of each draw, given by the ids of their first lines. Three queries or none."""
    draws = set(draws)
    if not draws:
        return {}
    undo = Entry.Kind.REVERSAL
    back = Movement.objects.filter(returns__in=draws, entry__reversed_by=None)
    back = set(back.exclude(entry__kind=undo).values_list("pk", flat=True))
    rows = Movement.objects.filter(Q(pk__in=draws | back) | Q(revalues__in=draws | back))
    chains: dict[int, Chain] = defaultdict(Chain)
    of: dict[int, int] = {}
    for row in rows.exclude(role=Role.FOUND).order_by("pk").prefetch_related("contents"):
        chains[row.revalues_id or row.pk].add(row)
        if row.returns_id:
            of[row.pk] = row.returns_id
    found = {}
    for pk in draws:
        cost = chains[pk].cost
        found[pk] = Out(-chains[pk].quantity, None if cost is None else -cost)
    for pk, draw in sorted(of.items()):
        found[draw].put_back(-chains[pk].quantity, -chains[pk].booked)
    return found


def lines(movements: Iterable[Movement]) -> list[Line]:
    """The first lines among these movements of whole entries or whole lots, in order of posting.

    What was found stands just before the draw it covers; in an undo, just after."""
    chains: dict[tuple[int, str], Chain] = defaultdict(Chain)
    roots = []
    for movement in sorted(movements, key=lambda m: m.pk):
        chains[movement.revalues_id or movement.pk, movement.role].add(movement)
        if movement.revalues_id is None:
            roots.append(movement)
    result: list[Line] = []
    covering: dict[tuple[int, int], Movement] = {}
    draws: dict[tuple[int, int], Line] = {}
    for root in roots:
        place = (root.entry_id, root.lot_id)
        if root.role == Role.FOUND:
            if root.quantity < 0:
                draws[place].cover(root, chains)
            else:
                covering[place] = root
            continue
        line = Line(root, chains[root.pk, root.role])
        if root.role == Role.DRAWN:
            line.cover(covering.pop(place, None), chains)
            draws[place] = line
        result.append(line)
    return result


def of_entry(entry: Entry) -> list[Line]:
    """The lines of one entry as they stand now. Two queries or three."""
    rows = Movement.objects.filter(Q(entry=entry, revalues=None) | Q(revalues__entry=entry))
    return lines(rows.prefetch_related("contents"))


def cost_of(lot: Lot) -> int | None:
    """The lot's cost from its lines: unknown while any line that still stands is unknown."""
    rows = Movement.objects.filter(lot=lot)
    later = Movement.objects.filter(role=OuterRef("role"), pk__gt=OuterRef("pk")).filter(
        Q(revalues=OuterRef("pk")) | Q(revalues=OuterRef("revalues"))
    )
    undo = Entry.Kind.REVERSAL
    own = Q(revalues=None, entry__reversed_by=None) & ~Q(entry__kind=undo)
    correcting = Q(revalues__isnull=False, revalues__entry__reversed_by=None)
    standing = own | (correcting & ~Q(revalues__entry__kind=undo))
    if rows.filter(standing, ~Exists(later), cost=None).exists():
        return None
    return rows.aggregate(total=Sum("cost"))["total"] or 0
