"""A plan written down: from the planner's keys and mL to names, cups, and measures that hands can make."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from inventory import units
from inventory.models import Item
from production import batch_plan, plan_choice, plan_cups, plan_layers, plan_shelf
from production.evening_terms import Fill


@dataclass(frozen=True)
class Need:
    """Baits to pour of one kind in one pattern, and what one of them sells for (None: nobody says)."""

    pattern: int
    bait: int
    baits: int
    worth: float | None


@dataclass(frozen=True)
class Outcome:
    """A plan as it is kept. Money is in the currency unit, volumes are mL, `base` and doses millionths.

    `best_cost`: the cost of the planner's own order; `digest` says from which facts it was reckoned.
    `larger_saves`: what batches mixed larger than their shots need save. `few_cups`: only so many cups
    were planned to be in use at once. `no_seat`: a batch for which no cup is free, in words."""

    cost: float
    fresh_cost: float
    best_cost: float
    best_proven: bool
    gap: float
    proven: bool
    order: list[str]
    pieces: list[dict[str, Any]]
    batches: list[dict[str, Any]]
    heel: dict[str, Any]
    yields: list[dict[str, Any]]
    melts: list[dict[str, Any]]
    melts_together: int
    cups: int
    clean_cups: int
    notes: list[str]
    digest: str
    larger_saves: float
    few_cups: int
    no_seat: str
    jars_left_out: int = 0


class Writer:
    """One plan of the pieces in the order of pouring, with the steps of its timeline."""

    def __init__(
        self,
        facts: plan_shelf.Facts,
        needs: Sequence[Need],
        order: Sequence[plan_layers.Piece],
        found: plan_choice.Choice,
        steps: Sequence[plan_layers.Step],
    ) -> None:
        self.facts, self.needs, self.order, self.found = facts, needs, order, found
        self.steps = {step.pattern: step for step in steps}
        facts.call(piece.pattern for piece in order)
        facts.call(layer.key for piece in order for layer in piece.layers)
        layers = [layer for piece in order for layer in piece.layers]
        self.numbers = {layer.key: number for number, layer in enumerate(layers, 1)}
        self.spans = {span.layer: span for span in found.spans}
        self.cups = self._cups()
        first = {pk: lots[0] for pk, lots in facts.lots.items()}
        self.bench = batch_plan.AtHand(first, facts.bench.scale_step_g)

    def outcome(self, *, notes: Sequence[str], **known) -> Outcome:
        plan, facts = self.found.plan, self.facts
        unpriced = [
            f"Nobody knows what {item} cost: it counts as nothing here." for item in facts.unpriced
        ]
        return Outcome(
            cost=plan.cost,
            gap=plan.gap,
            proven=plan.proven_optimal,
            order=[piece.pattern for piece in self.order],
            pieces=[self._piece(piece) for piece in self.order],
            batches=[
                self._batch(piece, layer, plan.fills[layer.key])
                for piece in self.order
                for layer in piece.layers
            ],
            heel=asdict(facts.heel),
            yields=self._yields(),
            melts=[
                {"grade": str(facts.items[grade]), "most": most}
                for grade, most in sorted(facts.melts.items())
            ],
            melts_together=self.found.melts_together,
            cups=len(facts.cups),
            clean_cups=sum(cup.clean for cup in facts.cups),
            notes=[*notes, *unpriced],
            larger_saves=self.found.saved,
            few_cups=self.found.few_cups,
            no_seat=self._no_seat(),
            **known,
        )

    def _yields(self) -> list[dict[str, Any]]:
        used = {s.mold for piece in self.order for s in piece.shootings}
        return [
            {
                "mold": self.facts.name(key),
                **asdict(told),
                "more": told.more_percent,
                "least": told.least_percent,
            }
            for key, told in self.facts.yields.items()
            if key in used
        ]

    def _cups(self) -> dict[str, dict[str, Any]]:
        """The cup of each layer: its row in the picture, its name, and which batch it is washed after.

        Real cups where they do, else as many without names as stand there at once."""
        seats = self.found.seats or plan_cups.rows(self.found.spans)
        rows = {seat: row for row, seat in enumerate(dict.fromkeys(seats.values()))}
        clean = {cup.key: cup.clean for cup in self.facts.cups}
        before: dict[str, int] = {}
        found = {}
        for span in self.found.spans:
            seat = seats[span.layer]
            real = seat in clean
            found[span.layer] = {
                "cup": int(seat[1:]) if real else 0,
                "cup_name": self.facts.name(seat) if real else f"Cup {seat}",
                "cup_row": rows[seat],
                "cup_washed_after": 0 if span.goes_on else before.get(seat, 0),
                "cup_holding": real and not clean[seat] and seat not in before,
            }
            before[seat] = self.numbers[span.layer]
        return found

    def _no_seat(self) -> str:
        if self.found.seats:
            return ""
        span, standing = plan_cups.too_few(self.found.spans, self.facts.cups)
        names = [f"batch {self.numbers[other.layer]}" for other in standing]
        held = f" while what remains of {' and '.join(names)} waits in its cup" if names else ""
        return (
            f"Batch {self.numbers[span.layer]}, {self.facts.name(span.layer)}, fills "
            f"{span.total_ml:.0f} mL, and no cup that holds so much is free{held}."
        )

    def _piece(self, piece: plan_layers.Piece) -> dict[str, Any]:
        step = self.steps[piece.pattern]
        return {
            "key": piece.pattern,
            "name": self.facts.name(piece.pattern),
            "pattern": int(piece.pattern.partition("/")[0][1:]),
            "mixing": step.mixing,
            "shooting": step.shooting,
            "worth": self._worth(piece),
            "shots": [
                {
                    "mold": int(s.mold[1:]),
                    "name": self.facts.name(s.mold),
                    "bait": self.facts.name(s.bait),
                    "shots": s.shots,
                    "spare": s.spare,
                    "good": round(self._good(s)),
                }
                for s in piece.shootings
            ],
        }

    def _good(self, shooting: plan_layers.Shooting) -> float:
        """Good baits of every kind that these shots should give."""
        mold = self.facts.molds[shooting.mold]
        cavities = sum(count for count, _ml in mold.cavities.values())
        return shooting.shots * cavities * self.facts.yields[shooting.mold].share

    def _worth(self, piece: plan_layers.Piece) -> float:
        """What its good baits sell for; where nobody says, a bait counts like the others' average."""
        known = [need.worth for need in self.needs if need.worth]
        average = sum(known) / len(known) if known else 1.0
        pattern = int(piece.pattern.partition("/")[0][1:])
        each = {need.bait: need.worth for need in self.needs if need.pattern == pattern}
        total = 0.0
        for shooting in piece.shootings:
            mold = self.facts.molds[shooting.mold]
            for bait, (count, _ml) in mold.cavities.items():
                if int(bait[1:]) in each:
                    worth = each[int(bait[1:])]
                    good = shooting.shots * count * self.facts.yields[shooting.mold].share
                    total += good * (average if worth is None else worth)
        return round(total, 6)

    def _batch(self, piece, layer, fill: Fill) -> dict[str, Any]:
        numbers, span, cup = self.numbers, self.spans[layer.key], self.cups[layer.key]
        extra = self.found.extra_ml.get(layer.key, 0.0)
        to_total = 1 / self.facts.recipe(layer.key).base_share
        row = self.facts.layers[layer.key.partition("/")[0]]
        grade = self.facts.items[layer.grade]
        return {
            "key": layer.key,
            "piece": piece.pattern,
            "number": numbers[layer.key],
            "name": self.facts.name(layer.key),
            "recipe": str(row.version.recipe),
            "version": row.version_id,
            "layer": row.pk,
            "share": row.share,
            "pattern": row.pattern_id,
            "base_ml": fill.base_ml,
            "total_ml": fill.base_ml * to_total,
            "shots_ml": layer.shots_ml,
            "heel_ml": layer.heel_ml,
            "extra_ml": extra,
            "extra_total_ml": extra * to_total,
            "extra_for": self._fed_by(layer.key) if extra else [],
            "fresh_ml": fill.fresh_ml,
            "grade": grade.pk,
            "grade_name": grade.name,
            "density": float(grade.density_g_per_ml or 0),
            "sources": [self._source(key, ml) for key, ml in fill.sources.items()],
            "doses": [
                self._dose(self.facts.items[key], amount, layer.doses[key] * fill.base_ml)
                for key, amount in fill.additions.items()
            ],
            "melts": fill.melts,
            "most_melts": self.facts.melts[layer.grade],
            "clean_cup": fill.clean_cup,
            "cup_of": numbers.get(fill.cup_of, 0),
            **cup,
            "cup_words": _cup_words(cup, numbers.get(fill.cup_of, 0)),
            "cup_from": span.start,
            "cup_waits": span.waits_from,
            "cup_until": span.end,
        }

    def _fed_by(self, layer: str) -> list[int]:
        """Numbers of the batches into which what remains of this one goes."""
        fills = self.found.plan.fills
        return [number for key, number in self.numbers.items() if layer in fills[key].sources]

    def _source(self, key: str, ml: float) -> dict[str, Any]:
        """Where plastic comes from: `ml` of base, and `total_ml` of the mix that hands measure."""
        if key in self.facts.jar_lots:
            return {
                "kind": "jar",
                "key": key,
                "ml": ml,
                "total_ml": ml * self.facts.jar_whole[key],
                "lot": self.facts.jar_lots[key].pk,
                "name": self.facts.name(key),
            }
        if key in self.numbers:
            return {
                "kind": "rest",
                "key": key,
                "ml": ml,
                "total_ml": ml / self.facts.recipe(key).base_share,
                "name": f"what remains of batch {self.numbers[key]}, {self.facts.name(key)}",
                "batch": self.numbers[key],
            }
        pattern = key.removeprefix("trim:")
        layers = self.facts.recipes[pattern.partition("/")[0]]
        return {
            "kind": "trim",
            "key": pattern,
            "ml": ml,
            "total_ml": ml / sum(layer.share * layer.base_share for layer in layers),
            "name": f"trim of tonight's {self.facts.name(pattern)}",
        }

    def _dose(self, item: Item, amount: float, target: float) -> dict[str, Any]:
        add, whole = units.to_micro(amount), units.to_micro(target)
        dose = batch_plan.dose(item, max(add, whole), add, self.bench)
        return {
            "item": item.pk,
            "name": item.name,
            "unit": item.stock_unit,
            "quantity": dose.add,
            "draw": dose.draw,
            "text": dose.text,
            "others": [measure.text for measure in dose.measures[1:]],
            "error": dose.error_percent,
            "rough": dose.rough,
        }


def _cup_words(cup: Mapping[str, Any], going_on: int) -> str:
    """A cup and the state in which it is wanted, as in "Cup 2, washed after batch 1".

    `going_on`: the batch in whose cup it is mixed, or 0."""
    name = cup["cup_name"]
    if going_on:
        return f"{name}, with what remains of batch {going_on}"
    if cup["cup_washed_after"]:
        return f"{name}, washed after batch {cup['cup_washed_after']}"
    return f"{name}, emptied and washed" if cup["cup_holding"] else f"{name}, clean"
