"""What an evening tells once it is over: its yields, the chain of its leftovers, and what does not add up.

The count of queries does not grow with the batches, shots or molds of the evening."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from django.db.models import Q

from inventory import queries
from inventory.models import Entry, Item, Lot, Movement
from production import balance, batch_balance, chain_picture, chip, pattern_chip, tally
from production.models import Bait, Batch, Mold, Pour, Shots

_STANDING = Q(entry__reversed_by=None)
_LINE = queries.STANDING_LINE & Q(revalues=None)
_MIXED = [Entry.Kind.BATCH, Entry.Kind.ADDITION]
MOST_LOTS = 12


@dataclass(frozen=True)
class YieldRow:
    """What one mold gave of one bait."""

    mold: Mold
    bait: Bait
    tally: tally.Tally


def yields(pour: Pour) -> list[YieldRow]:
    """Rows by mold, then bait, in the order of their names."""
    found = tally.by_mold_and_bait(Shots.objects.filter(_STANDING, pour=pour))
    molds = Mold.objects.in_bulk({mold for mold, _bait in found})
    baits = Bait.objects.in_bulk({bait for _mold, bait in found})
    rows = [YieldRow(molds[mold], baits[bait], counted) for (mold, bait), counted in found.items()]
    return sorted(rows, key=lambda row: (row.mold.name, row.bait.name))


@dataclass(frozen=True)
class Feed:
    """Poured plastic that went into a batch: `base` millionths of a mL, out of a lot. `source` is the
    batch it came from, None for trim and plastic from elsewhere; `into` the batch it went to."""

    lot: Lot
    base: int
    into: Batch
    source: Batch | None = None


@dataclass(frozen=True)
class Link:
    """One batch of the evening in its chain."""

    batch: Batch
    came: Sequence[Feed]
    went: Sequence[Feed]


@dataclass
class Chain:
    links: list[Link] = field(default_factory=list)

    @property
    def has_feeds(self) -> bool:
        return any(link.came or link.went for link in self.links)

    @property
    def picture(self) -> chip.Drawing:
        """The evening's batches and an arc for each that went into another of them."""
        rows = {link.batch.pk: row for row, link in enumerate(self.links)}
        edges = [
            (rows[feed.source.pk], rows[link.batch.pk])
            for link in self.links
            for feed in link.came
            if feed.source and feed.source.pk in rows
        ]
        nodes = [chain_picture.Node(str(link.batch), color_of(link.batch)) for link in self.links]
        return chain_picture.svg(nodes, edges, title="Which batch went into which")


def color_of(batch: Batch) -> str:
    """A batch's color by its recipe as #rrggbb; "" where it has none that can be drawn."""
    return pattern_chip.version_color(batch.version)


def chain(batches: Sequence[Batch]) -> Chain:
    """What poured plastic went into each of these batches, and what of theirs went into others."""
    own = {batch.lot_id: batch for batch in batches}
    trims = set(
        Shots.objects.filter(_STANDING, batches__in=batches, trim_lot__isnull=False).values_list(
            "trim_lot", flat=True
        )
    )
    makers = Movement.objects.filter(_LINE, lot__in=own, role=Movement.Role.MADE)
    takers = Movement.objects.filter(
        _LINE, lot__in=set(own) | trims, role=Movement.Role.DRAWN, entry__kind__in=_MIXED
    )
    entries = set(makers.values_list("entry", flat=True)) | set(
        takers.values_list("entry", flat=True)
    )
    lines = list(
        Movement.objects.filter(_LINE, entry__in=entries)
        .exclude(role=Movement.Role.COUNTED)
        .select_related("lot__item", "lot__batch__version__recipe", "lot__batch__pour")
        .order_by("id")
    )
    into = {
        line.entry_id: batch
        for line in lines
        if line.role == Movement.Role.MADE and (batch := _batch_of(line.lot))
    }
    feeds = [
        Feed(line.lot, -line.quantity, into[line.entry_id], _batch_of(line.lot))
        for line in lines
        if line.role == Movement.Role.DRAWN
        and line.lot.item.kind == Item.Kind.LEFTOVER
        and line.entry_id in into
    ]
    return Chain(
        [
            Link(
                batch,
                [feed for feed in feeds if feed.into.pk == batch.pk],
                [feed for feed in feeds if feed.source and feed.source.pk == batch.pk],
            )
            for batch in batches
        ]
    )


def _batch_of(lot: Lot) -> Batch | None:
    return getattr(lot, "batch", None)


@dataclass
class Doubts:
    """What does not add up. `balances`: each batch and its balance; `open_ended`: batches whose balance
    does not close. All of it is for looking at; nothing is refused because of it."""

    balances: list[tuple[Batch, balance.Balance]]
    unshot: list[Batch]
    undosed: list[Batch]
    unsettled: list[Batch]
    to_count: list[Lot]
    to_look_at: list[Entry]
    warmings: list[tuple[Batch, str]]

    @property
    def open_ended(self) -> list[tuple[Batch, balance.Balance]]:
        return [(batch, found) for batch, found in self.balances if not found.closes]

    @property
    def any(self) -> bool:
        return bool(
            self.open_ended
            or self.unshot
            or self.undosed
            or self.unsettled
            or self.to_count
            or self.to_look_at
            or self.warmings
        )


def doubts(pour: Pour, batches: Sequence[Batch]) -> Doubts:
    """What of the evening someone should look at before, or after, it is closed."""
    reference = f"pour:{pour.pk}"
    shot = set(
        Shots.objects.filter(_STANDING, batches__in=batches).values_list("batches", flat=True)
    )
    lines = Movement.objects.filter(_LINE, entry__reference=reference)
    dosed = set(
        lines.filter(
            role=Movement.Role.DRAWN, lot__item__kind__in=[*Item.DOSED, Item.Kind.LEFTOVER]
        ).values_list("entry", flat=True)
    )
    poured = _went_on(batches)
    by_entry = _entries_of(batches)
    balances = batch_balance.of(batches)
    marked = Entry.objects.filter(reference=reference, reversed_by=None)
    marked = marked.exclude(kind=Entry.Kind.REVERSAL)
    return Doubts(
        balances=[(batch, balances[batch.pk]) for batch in batches],
        unshot=[b for b in batches if b.pk not in shot and b.lot_id not in poured],
        undosed=[
            b
            for b in batches
            if b.version and b.version.doses.all() and not by_entry[b.lot_id] & dosed
        ],
        unsettled=[b for b in batches if b.in_cup and not b.settled],
        to_count=list(
            Lot.objects.filter(count_me=True, movements__entry__reference=reference)
            .select_related("item")
            .distinct()
            .order_by("item__name", "id")[:MOST_LOTS]
        ),
        to_look_at=list(marked.exclude(look_at="").order_by("id")),
        warmings=[
            (batch, heat.look_at) for batch in batches for heat in batch.heats.all() if heat.look_at
        ],
    )


def _went_on(batches: Iterable[Batch]) -> set[int]:
    """Lots of these batches that something else was mixed from."""
    return set(
        Movement.objects.filter(
            _LINE,
            lot__in=[batch.lot_id for batch in batches],
            role=Movement.Role.DRAWN,
            entry__kind__in=_MIXED,
        ).values_list("lot", flat=True)
    )


def _entries_of(batches: Iterable[Batch]) -> dict[int, set[int]]:
    """The entries that made each batch's lot."""
    found: dict[int, set[int]] = defaultdict(set)
    made = Movement.objects.filter(
        _LINE, lot__in=[batch.lot_id for batch in batches], role=Movement.Role.MADE
    )
    for lot, entry in made.values_list("lot", "entry"):
        found[lot].add(entry)
    return found
