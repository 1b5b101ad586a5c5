"""What one batch's page shows: what went in and when, how far it is, what is left, where it went."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db.models import QuerySet, Sum

from inventory import lineage, queries, units
from inventory.models import Entry, Item, Lot, Movement
from production import pour_record
from production.models import Batch, Heat, Shots
from production.services import batches, recipes


def find(pour: int) -> QuerySet[Batch]:
    """The standing batches of an evening, with all that their page needs beside them."""
    return Batch.objects.filter(pour=pour, entry__reversed_by=None).select_related(
        "pour", "lot__item", "entry", "version__recipe", "version__grade", "cup"
    )


@dataclass(frozen=True)
class Line:
    """One thing that went in: as it was said, and whether it came later than the mix."""

    movement: Movement
    added_at: datetime | None


@dataclass(frozen=True)
class RealDose:
    """One dose: millionths of the stock unit in the cup, and what the recipe asks for (None: nothing)."""

    item: Item
    held: int
    target: int | None

    @property
    def off(self) -> bool:
        """More than a tenth away from the recipe: worth a look (common practice, no source)."""
        return self.target is None or abs(self.held - self.target) * 10 > self.target


@dataclass(frozen=True)
class Limits:
    """The least of what its grades take: °C and melts; None where no data sheet says."""

    heat_c: Decimal | None
    melts: int | None


@dataclass
class Record:
    """A batch as its page tells it."""

    batch: Batch
    lines: list[Line]
    doses: list[RealDose]
    heats: list[Heat]
    shots: list[Shots]
    became: list[Batch]
    limits: Limits
    total_left: int

    @property
    def note(self) -> str:
        """What was noted as it was mixed, however often the mix was amended since."""
        entry = self.batch.entry
        while entry.amends_id:
            entry = entry.amends
        return entry.note

    @property
    def running(self) -> Heat | None:
        """The warming whose timer runs."""
        return next((heat for heat in self.heats if heat.minutes is None), None)

    @property
    def warmed(self) -> int:
        """How often it was warmed, apart from its melts; a running timer is not over yet."""
        return sum(heat.minutes is not None for heat in self.heats)

    @property
    def minutes_hot(self) -> Decimal:
        return sum((heat.minutes or Decimal(0) for heat in self.heats), Decimal(0))

    @property
    def hottest(self) -> Decimal | None:
        return max((heat.peak_c for heat in self.heats if heat.peak_c is not None), default=None)

    @property
    def too_hot(self) -> bool:
        """At its grade's limit or over it."""
        return bool(self.limits.heat_c and self.hottest and self.hottest >= self.limits.heat_c)

    @property
    def melts_spent(self) -> bool:
        """At the last melt that its grade takes, or over it."""
        return bool(self.limits.melts and self.batch.lot.melts >= self.limits.melts)

    @property
    def in_cup(self) -> bool:
        return self.batch.lot.on_hand > 0 and self.batch.lot.form == Lot.Form.LIQUID

    @property
    def used(self) -> bool:
        """Whether baits or another batch were made of it."""
        return bool(self.shots or self.became)

    @property
    def closed(self) -> bool:
        return self.batch.pour.closed_at is not None

    @property
    def differs(self) -> bool:
        """Whether its real doses are another recipe than the one it was to be."""
        return self.batch.version is not None and any(dose.off for dose in self.doses)

    @property
    def fill(self) -> int:
        """mL of the whole mix, for the cup's gauge."""
        return int(units.from_micro(self.batch.total))


def record(batch: Batch) -> Record:
    """All of it, in a fixed number of queries."""
    shots = Shots.objects.filter(batches=batch, entry__reversed_by=None).select_related(
        "mold", "pattern"
    )
    shots = shots.annotate(good=Sum("results__good"), made=Sum("results__cavities"))
    return Record(
        batch=batch,
        lines=_lines(batch),
        doses=_doses(batch),
        heats=list(batch.heats.order_by("started_at", "id")),
        shots=list(shots.order_by("id")),
        became=_became(batch),
        limits=limits(batch.lot.item.grades),
        total_left=pour_record.total_left(batch),
    )


def limits(grades_of: str) -> Limits:
    """What the grades of poured plastic ("12+15", as its item names them) take, by their data sheets."""
    known = [int(code) for code in grades_of.split("+") if code.isdigit()]
    grades = Item.objects.filter(pk__in=known).values_list("heat_limit_c", "melt_limit")
    heats = [Decimal(heat) for heat, _melts in grades if heat]
    melts = [most for _heat, most in grades if most]
    return Limits(min(heats, default=None), min(melts, default=None))


def _lines(batch: Batch) -> list[Line]:
    makers = Movement.objects.filter(
        queries.STANDING_LINE, lot=batch.lot_id, role=Movement.Role.MADE, revalues=None
    )
    drawn = Movement.objects.filter(
        entry__in=makers.values("entry"), role=Movement.Role.DRAWN, revalues=None
    ).select_related("lot__item", "entry")
    return [
        Line(line, line.entry.happened_at if line.entry.kind == Entry.Kind.ADDITION else None)
        for line in drawn.order_by("entry__happened_at", "id")
    ]


def _doses(batch: Batch) -> list[RealDose]:
    _grades, held = batches.real_doses(batch)
    asked = {}
    if batch.version:
        asked = {i.pk: (i, q) for i, q in recipes.doses_for(batch.version, batch.lot.made)}
    inside = {item.pk: (item, quantity) for item, quantity in held}
    return [
        RealDose(
            (asked.get(pk) or inside[pk])[0],
            inside[pk][1] if pk in inside else 0,
            asked[pk][1] if pk in asked else None,
        )
        for pk in dict.fromkeys([*asked, *inside])
    ]


def _became(batch: Batch) -> list[Batch]:
    """Batches that this one's plastic went into, straight."""
    lots = {child for _, child in lineage.children_of([batch.lot_id])}
    found = Batch.objects.filter(lot__in=lots, entry__reversed_by=None)
    return list(found.select_related("pour", "version__recipe").order_by("id"))
