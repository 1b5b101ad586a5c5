"""The family of a lot: all that went into it, all that came of it, and who it reached.

Read from standing ledger entries alone: an entry's drawn lots are the parents of the lots it made."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date

from inventory import queries
from inventory.models import Entry, Lot, Movement

Role = Movement.Role


@dataclass(frozen=True)
class Reached:
    """So much of a lot (millionths) that left the house, in one event. `to` is whom or what it reached."""

    lot: int
    quantity: int
    to: str
    on: date
    what: str
    url: str = ""
    contact: str = ""


@dataclass(frozen=True)
class Fact:
    """Something worth knowing of a lot in its family: its heats, its data sheet.

    `name`: what to call the lot in a picture, when its item says little."""

    lot: int
    text: str
    url: str = ""
    name: str = ""


#: Lot ids → what left of them; in a fixed number of queries.
Reacher = Callable[[Iterable[int]], Iterable[Reached]]
#: Lot ids → what to tell of them; in a fixed number of queries.
Teller = Callable[[Iterable[int]], Iterable[Fact]]

_reachers: list[Reacher] = []
_tellers: list[Teller] = []


def register(*, reacher: Reacher | None = None, teller: Teller | None = None) -> None:
    """The shelf knows no customers and no heats; the apps that do tell of them."""
    if reacher and reacher not in _reachers:
        _reachers.append(reacher)
    if teller and teller not in _tellers:
        _tellers.append(teller)


@dataclass(frozen=True)
class Family:
    """`lots` by id, `lot` among them; `edges` from parent to child; `back` and `forward` are ids, the
    nearest generation first."""

    lot: Lot
    lots: Mapping[int, Lot]
    edges: frozenset[tuple[int, int]]
    back: tuple[int, ...]
    forward: tuple[int, ...]
    reached: tuple[Reached, ...] = ()
    facts: Mapping[int, list[Fact]] = field(default_factory=dict)

    @property
    def ancestors(self) -> list[Lot]:
        return [self.lots[pk] for pk in self.back]

    @property
    def descendants(self) -> list[Lot]:
        return [self.lots[pk] for pk in self.forward]

    @property
    def here(self) -> list[Lot]:
        """The lot and what came of it, as far as any is on hand."""
        return [lot for lot in (self.lot, *self.descendants) if lot.on_hand > 0]


def family(lot: Lot, *, back: bool = True, tell: bool = True) -> Family:
    """The whole family of a lot: a fixed number of queries for each generation.

    `back` False leaves out what it was made from, `tell` False the facts."""
    edges: set[tuple[int, int]] = set()
    ancestors = _walk(lot.pk, parents_of, edges) if back else []
    descendants = _walk(lot.pk, children_of, edges)
    pks = [lot.pk, *ancestors, *descendants]
    # Many lots share few items: fetched once each, not once a lot.
    lots = Lot.objects.prefetch_related("item", "place", "supplier").in_bulk(pks)
    reached = _reached([lot.pk, *descendants])
    facts: dict[int, list[Fact]] = {}
    for teller in _tellers if tell else ():
        for fact in teller(pks):
            facts.setdefault(fact.lot, []).append(fact)
    return Family(
        lot=lots[lot.pk],
        lots=lots,
        edges=frozenset(edges),
        back=tuple(ancestors),
        forward=tuple(descendants),
        reached=tuple(reached),
        facts=facts,
    )


def trace_back(lot: Lot) -> list[Lot]:
    """Every lot that went into this one, through any depth: nearest generation first."""
    return _found(_walk(lot.pk, parents_of, set()))


def trace_forward(lot: Lot) -> list[Lot]:
    """Every lot this one went into, through any depth: nearest generation first."""
    return _found(_walk(lot.pk, children_of, set()))


def parents_of(lots: Iterable[int]) -> set[tuple[int, int]]:
    """(parent, child) for every lot that the makers of these lots drew."""
    return _pairs(Role.MADE, lots)


def children_of(lots: Iterable[int]) -> set[tuple[int, int]]:
    """(parent, child) for every lot made by those that drew from these lots."""
    return _pairs(Role.DRAWN, lots)


def _pairs(role: str, lots: Iterable[int]) -> set[tuple[int, int]]:
    """Two queries: the lines of these lots, and the other side of their entries."""
    lines = Movement.objects.filter(queries.STANDING_LINE, lot__in=list(lots), role=role)
    lines = lines.exclude(entry__kind=Entry.Kind.REVALUATION)
    ours: dict[int, set[int]] = {}
    for entry, lot in lines.order_by().values_list("entry", "lot"):
        ours.setdefault(entry, set()).add(lot)
    other = Role.DRAWN if role == Role.MADE else Role.MADE
    theirs = Movement.objects.filter(entry__in=list(ours), role=other).order_by()
    pairs = set()
    for entry, lot in theirs.values_list("entry", "lot"):
        for own in ours[entry]:
            pairs.add((lot, own) if role == Role.MADE else (own, lot))
    return {(parent, child) for parent, child in pairs if parent != child}


def _walk(start: int, step, edges: set[tuple[int, int]]) -> list[int]:
    seen, generation, order = {start}, {start}, []
    while generation:
        pairs = step(generation)
        edges |= pairs
        generation = {pk for pair in pairs for pk in pair} - seen
        seen |= generation
        order += sorted(generation)
    return order


def _found(order: list[int]) -> list[Lot]:
    lots = Lot.objects.select_related("item").in_bulk(order)
    return [lots[pk] for pk in order]


def _reached(lots: list[int]) -> list[Reached]:
    found = [each for reacher in _reachers for each in reacher(lots)]
    return sorted(found, key=lambda each: (each.to.casefold(), each.on, each.lot))
