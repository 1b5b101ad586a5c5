"""A plan as its page shows it: beside what was kept, what the shelf holds now and what fits."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from inventory import units
from inventory.models import Lot
from inventory.wording import quantity_text
from production import plan_chart, plan_layers, plan_shelf, queries_colors
from production.models import Pattern, Plan, PlannedBatch, RecipeVersion

#: What is less than this short (a share of the need) is a rounding of the books, not a lack.
_NEARLY = 0.001


@dataclass(frozen=True)
class Lack:
    """An item of which the plan takes more than is on hand, in words."""

    name: str
    need: str
    on_hand: str
    short: str


@dataclass(frozen=True)
class Dropped:
    """A filling that would not fit, its minutes, and what its good baits sell for."""

    piece: Mapping[str, Any]
    minutes: float
    baits: int


@dataclass(frozen=True)
class BatchView:
    """A batch beside its recipe version (None: gone), with what to look at."""

    facts: Mapping[str, Any]
    version: RecipeVersion | None

    @property
    def rough(self) -> list[Mapping[str, Any]]:
        return [dose for dose in self.facts["doses"] if dose["rough"]]


@dataclass(frozen=True)
class PieceView:
    """A filling of the cups, its batches, and when they are at the bench."""

    facts: Mapping[str, Any]
    pattern: Pattern | None
    batches: list[BatchView]
    begins: float
    ends: float
    locked: bool


@dataclass(frozen=True)
class Page:
    plan: Plan
    pieces: list[PieceView]
    chart: plan_chart.Chart
    minutes: int
    total: float
    drop: list[Dropped]
    lacks: list[Lack]
    stale: list[str]
    reused_ml: float

    @property
    def outcome(self) -> Mapping[str, Any]:
        return self.plan.outcome

    @property
    def saved(self) -> float:
        return self.outcome["fresh_cost"] - self.outcome["cost"]

    @property
    def dearer(self) -> float:
        """What this order costs more than the best one found; nothing below half a cent."""
        more = self.outcome["cost"] - self.outcome["best_cost"]
        return more if more >= 0.005 else 0.0

    @property
    def gap_percent(self) -> float:
        return 100 * self.outcome["gap"]

    @property
    def reused_percent(self) -> int:
        whole = sum(batch["base_ml"] for batch in self.outcome["batches"])
        return round(100 * self.reused_ml / whole) if whole else 0

    @property
    def at_limit(self) -> list[int]:
        """Numbers of the batches at the last melt that their grade takes."""
        return [b["number"] for b in self.outcome["batches"] if b["melts"] >= b["most_melts"]]

    @property
    def larger(self) -> list[Mapping[str, Any]]:
        """Batches mixed larger than their own shots need, so that what remains goes on."""
        return [b for b in self.outcome["batches"] if b["extra_ml"]]

    @property
    def plain(self) -> bool:
        """Whether the owner wants no batch mixed larger."""
        return any("plain" in wish for wish in self.plan.wishes)

    @property
    def left_out(self) -> int:
        return sum("leave" in wish for wish in self.plan.wishes)


def page(plan: Plan) -> Page:
    """Everything the page shows, in a fixed number of queries."""
    outcome = plan.outcome
    minutes = outcome["minutes"]
    patterns = {
        pattern.pk: pattern
        for pattern in queries_colors.patterns_with_colors().filter(
            pk__in={piece["pattern"] for piece in outcome["pieces"]}
        )
    }
    versions = {
        layer.version_id: layer.version
        for pattern in patterns.values()
        for layer in pattern.layers.all()
    }
    return Page(
        plan=plan,
        pieces=_pieces(plan, patterns, versions),
        chart=plan_chart.draw(outcome["pieces"], outcome["batches"], minutes),
        minutes=minutes,
        total=sum(p["mixing"] + p["shooting"] for p in outcome["pieces"]),
        drop=_drop(outcome["pieces"], minutes),
        lacks=lacks(outcome["batches"]),
        stale=_stale(outcome["batches"]),
        reused_ml=sum(s["ml"] for batch in outcome["batches"] for s in batch["sources"]),
    )


def _pieces(plan, patterns, versions) -> list[PieceView]:
    found, at = [], 0.0
    for piece in plan.outcome["pieces"]:
        length = piece["mixing"] + piece["shooting"]
        rows = [
            BatchView(weighed(batch), versions.get(batch["version"]))
            for batch in plan.outcome["batches"]
            if batch["piece"] == piece["key"]
        ]
        locked = piece["key"] in plan.locked
        found.append(
            PieceView(piece, patterns.get(piece["pattern"]), rows, at, at + length, locked)
        )
        at += length
    return found


def weighed(batch: Mapping[str, Any]) -> dict[str, Any]:
    """A batch with the weight of its fresh base and of each source beside the mL, by the grade's density.

    Nothing where nobody wrote the density down."""
    density = batch["density"]

    def weight(ml: float) -> str:
        return quantity_text(units.to_micro(ml * density), "g") if density else ""

    def words(ml: float) -> str:
        text = quantity_text(units.to_micro(ml), "mL")
        return f"{text} ({weight(ml)})" if density else text

    return dict(batch) | {
        "fresh": words(batch["fresh_ml"]) if batch["fresh_ml"] else "",
        "base": quantity_text(units.to_micro(batch["base_ml"]), "mL"),
        "sources": [
            source | {"amount": words(source["total_ml"]), "weight": weight(source["total_ml"])}
            for source in batch["sources"]
        ],
    }


def _drop(pieces: Sequence[Mapping[str, Any]], minutes: float) -> list[Dropped]:
    steps, at = [], 0.0
    for piece in pieces:
        steps.append(plan_layers.Step(piece["key"], at, piece["mixing"], piece["shooting"]))
        at = steps[-1].end
    worth = {piece["key"]: piece["worth"] for piece in pieces}
    gone = plan_layers.to_drop(steps, worth, minutes)
    return [
        Dropped(
            piece,
            piece["mixing"] + piece["shooting"],
            sum(shot["good"] for shot in piece["shots"]),
        )
        for piece in pieces
        if piece["key"] in gone
    ]


def lacks(batches: Sequence[Mapping[str, Any]]) -> list[Lack]:
    """What these batches take beyond what is on hand now: one query."""
    needs: dict[int, tuple[str, str, float]] = {}

    def need(pk: int, name: str, unit: str, amount: float) -> None:
        needs[pk] = (name, unit, amount + (needs[pk][2] if pk in needs else 0.0))

    for batch in batches:
        need(batch["grade"], batch["grade_name"], "mL", batch["fresh_ml"])
        for dose in batch["doses"]:
            need(dose["item"], dose["name"], dose["unit"], dose["quantity"] / units.MICRO)
    held = plan_shelf.on_hand(needs)
    found = []
    for pk, (name, unit, amount) in needs.items():
        short = amount - held.get(pk, 0.0)
        if short > amount * _NEARLY:
            words = [
                quantity_text(units.to_micro(value), unit)
                for value in (amount, held.get(pk, 0.0), short)
            ]
            found.append(Lack(name, *words))
    return found


def _stale(batches: Sequence[Mapping[str, Any]]) -> list[str]:
    """Leftovers that hold less now than the plan takes from them."""
    wanted: dict[int, tuple[str, float]] = {}
    for batch in batches:
        for source in batch["sources"]:
            if source["kind"] == "jar":
                before = wanted.get(source["lot"], ("", 0.0))[1]
                wanted[source["lot"]] = (source["name"], before + source["ml"])
    held = {lot.pk: lot.available / units.MICRO for lot in Lot.objects.filter(pk__in=list(wanted))}
    return [
        name for pk, (name, amount) in wanted.items() if held.get(pk, 0.0) < amount * (1 - _NEARLY)
    ]


def waiting(plan: Plan) -> list[PlannedBatch]:
    """Batches of an adopted plan that are not mixed yet, or whose mix was undone."""
    rows = plan.batches.select_related(
        "batch__entry__reversed_by", "version__recipe", "version__grade"
    )
    return [
        row
        for row in rows.prefetch_related("version__doses__item")
        if row.batch is None or getattr(row.batch.entry, "reversed_by", None)
    ]
