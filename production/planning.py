"""An evening thought through: from what is wished for to the plan as a page shows it. No writes.

A wish, as `Plan.wishes` keeps it, is {"product": id, "bags": n, "why": text} or
{"bait": id, "pattern": id, "baits": n}; {"leave": key} leaves a filling of cups out. `think` turns wishes into an outcome, a plain dictionary that
can be kept as JSON; `Outcome` says what is in it.
"""

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from django.db.models import F, Sum

from inventory import units
from inventory.models import Item, Lot
from inventory.services.posting import LedgerError
from production import batch_plan, evening, mixing, plan_figures, plan_layers, plan_shelf
from production.evening_terms import EveningError, EveningPlan, Fill
from production.models import Product, ProductContent

#: The planner's model is proven up to these (design: an evening).
MOST_LAYERS, MOST_JARS = 14, 20
#: A teaspoon of a source is the least that is worth a hand's while (our own choice).
LEAST_FEED_ML = 5.0
SECONDS = 5.0


class PlanError(LedgerError):
    """No plan can be made of this; the text says why, with names, and how to mend it."""


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

    `best_cost`: the cost of the planner's own order; `digest` says from which facts it was reckoned."""

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
    max_melts: int
    cups: int
    clean_cups: int
    notes: list[str]
    digest: str
    jars_left_out: int = 0


def think(
    wishes: Sequence[Mapping[str, Any]],
    *,
    order: Sequence[str] = (),
    locked: Sequence[str] = (),
    best: Mapping[str, Any] | None = None,
    seconds: float = SECONDS,
) -> dict[str, Any]:
    """The plan of these wishes on the shelf as it is now.

    order: keys of fillings (pieces) to be poured in just this order; with `locked`, only these keep
    their place in it. best: an earlier outcome, whose best cost still counts while nothing that the
    planner knows has changed. Takes up to `seconds`, twice that when the best must be found as well.
    Raises PlanError."""
    needs, notes = needed(wishes)
    if not needs:
        raise PlanError(
            "Nothing is left to pour: loose baits on hand already fill all of this. Bag them instead."
        )
    facts = plan_shelf.read({n.pattern for n in needs}, {n.bait for n in needs})
    left_out = {wish["leave"] for wish in wishes if "leave" in wish}
    work = [piece for piece in _work(needs, facts) if piece.pattern not in left_out]
    if not work:
        raise PlanError("Everything is left out. Take something in again, or let the plan go.")
    return _Planner(facts, needs, work, notes, seconds).plan(order, locked, best)


def needed(wishes: Sequence[Mapping[str, Any]]) -> tuple[list[Need], list[str]]:
    """Wishes as baits of one kind in one pattern; those for bags less the good loose baits on hand.

    And notes: what was taken off. Three queries."""
    bags: dict[int, int] = {}
    for wish in wishes:
        if "product" in wish:
            bags[wish["product"]] = bags.get(wish["product"], 0) + wish["bags"]
    products = Product.objects.select_related("item").prefetch_related("contents")
    found = {product.pk: product for product in products.filter(pk__in=bags)}
    wanted: dict[tuple[int, int], int] = {}
    worth: dict[tuple[int, int], float] = {}
    for pk, count in bags.items():
        if pk not in found:
            raise PlanError("A product that was to be made is gone. Plan the evening anew.")
        contents = list(found[pk].contents.all())
        each = found[pk].price_minor / 100 / max(1, sum(c.count for c in contents))
        for content in contents:
            pair = (content.pattern_id, content.bait_id)
            wanted[pair] = wanted.get(pair, 0) + content.count * count
            worth[pair] = max(worth.get(pair, 0.0), each)
    notes = _take_off_loose(wanted)
    for wish in wishes:
        if "bait" in wish:
            pair = (wish["pattern"], wish["bait"])
            wanted[pair] = wanted.get(pair, 0) + wish["baits"]
    _price_of_others(wanted, worth)
    needs = [Need(*pair, baits, worth.get(pair)) for pair, baits in wanted.items() if baits > 0]
    return needs, notes


def _take_off_loose(wanted: dict[tuple[int, int], int]) -> list[str]:
    """Takes good loose baits on hand off what bags need; says so."""
    rows = (
        Lot.objects.in_stock()
        .filter(
            item__loose_bait__second=False,
            item__loose_bait__pattern__in={pattern for pattern, _bait in wanted},
        )
        .order_by()
        .values_list("item__loose_bait__pattern", "item__loose_bait__bait", "item__name")
        .annotate(free=Sum(F("on_hand") - F("reserved")))
    )
    notes = []
    for pattern, bait, name, free in rows:
        taken = min(int(free) // units.MICRO, wanted.get((pattern, bait), 0))
        if taken > 0:
            wanted[pattern, bait] -= taken
            notes.append(f"{taken} loose {name} on hand were taken off.")
    return sorted(notes)


def _price_of_others(wanted, worth: dict[tuple[int, int], float]) -> None:
    """What baits wished for by hand would sell for, where some product holds them."""
    missing = {pair for pair in wanted if pair not in worth}
    if not missing:
        return
    contents = ProductContent.objects.filter(
        pattern__in={pattern for pattern, _bait in missing}, product__item__archived=False
    ).select_related("product")
    sizes: dict[int, int] = {}
    rows = list(contents)
    for row in rows:
        sizes[row.product_id] = sizes.get(row.product_id, 0) + row.count
    for row in rows:
        pair = (row.pattern_id, row.bait_id)
        if pair in missing:
            each = row.product.price_minor / 100 / sizes[row.product_id]
            worth[pair] = max(worth.get(pair, 0.0), each)


def _work(needs: Sequence[Need], facts: plan_shelf.Facts) -> list[plan_layers.Piece]:
    """The fillings of cups that these needs take, in the order of the wishes."""
    if not facts.cups:
        raise PlanError("There are no cups yet. Add your cups under Setup, then plan.")
    try:
        pieces = _pieces(needs, facts)
    except EveningError as error:
        raise PlanError(_mended(facts.say(str(error)))) from error
    layers = sum(len(piece.layers) for piece in pieces)
    if layers > MOST_LAYERS:
        raise PlanError(
            f"That makes {layers} batches, and an evening's plan takes {MOST_LAYERS} at most. "
            "Leave something for another evening, or make less of it."
        )
    return pieces


def _pieces(needs: Sequence[Need], facts: plan_shelf.Facts) -> list[plan_layers.Piece]:
    shares = {key: told.share for key, told in facts.yields.items()}
    wishes = [plan_layers.Wish(f"p{need.pattern}", f"b{need.bait}", need.baits) for need in needs]
    _check(wishes, facts)
    shot = plan_layers.together(plan_layers.shootings(wishes, list(facts.molds.values()), shares))
    found: list[plan_layers.Piece] = []
    for pattern in dict.fromkeys(pattern for pattern, _shooting in shot):
        layers = facts.recipes[pattern]
        found += plan_layers.pieces(
            pattern,
            [shooting for of, shooting in shot if of == pattern],
            layers,
            facts.molds,
            heel_ml=facts.heel.ml,
            # A laminate's layers stand hot together: the smallest of its cups sets how much.
            cup_ml=facts.cups[len(layers) - 1],
            yields=shares,
        )
    return found


def _check(wishes: Sequence[plan_layers.Wish], facts: plan_shelf.Facts) -> None:
    """What no evening can give, before it is cut into cups."""
    for wish in wishes:
        layers = facts.recipes.get(wish.pattern, [])
        if not layers:
            raise EveningError(f"{wish.pattern} has no recipe")
        if len({layer.grade for layer in layers}) > 1:
            raise EveningError(f"the layers of {wish.pattern} are of different grades")
        if len(layers) > len(facts.cups):
            raise EveningError(
                f"{wish.pattern} needs {len(layers)} cups at once and there are {len(facts.cups)}"
            )


#: What to do about it, by a part of what the planner says.
_REMEDIES = {
    "no mold casts": "Add a mold for it under Setup, or leave it out.",
    "of different grades": "Change one of its recipes to the other's plastisol, or leave it out.",
    "cups at once": "Add a cup under Setup, or leave it out.",
    "largest cup holds": "Add a larger cup under Setup, or leave it out.",
    "has no recipe": "Give it a recipe under Colors, or leave it out.",
}


def _mended(text: str) -> str:
    """A planner's sentence as a whole one, with how to mend it."""
    remedy = next((say for part, say in _REMEDIES.items() if part in text), "")
    return f"{text[:1].upper()}{text[1:]}. {remedy}".strip()


class _Planner:
    """One evening's problem, solved and written down."""

    def __init__(self, facts, needs, pieces, notes, seconds: float) -> None:
        self.facts, self.needs, self.notes = facts, needs, list(notes)
        self.pieces = {piece.pattern: piece for piece in pieces}
        self.layers = {layer.key: layer for piece in pieces for layer in piece.layers}
        self.seconds = seconds
        self.jars = self._best_jars()
        bench = facts.bench
        self.rules = {
            "prices": facts.prices,
            "cups": len(facts.cups),
            "max_melts": facts.max_melts,
            "wash_cost": bench.wash_cost_minor / 100,
            "clean_cups": facts.clean_cups,
            "cold_cost": bench.cold_cost_minor / 100,
        }
        self.digest = self._digest()

    def _best_jars(self) -> list[evening.Jar]:
        """The leftovers that can feed tonight's layers most, at most as many as can be weighed."""
        tolerance, trace = self.facts.tolerance, self.facts.trace

        def most(jar: evening.Jar) -> float:
            if jar.melts + 1 > self.facts.max_melts:
                return 0.0
            return max(
                (
                    mixing.convert(
                        mixing.Mix(
                            jar.base_ml,
                            {key: dose * jar.base_ml for key, dose in jar.doses.items()},
                        ),
                        layer.doses,
                        layer.shots_ml + layer.heel_ml,
                        tolerance=tolerance,
                        trace=trace,
                    ).use_ml
                    for layer in self.layers.values()
                    if layer.grade == jar.grade
                ),
                default=0.0,
            )

        useful = [(most(jar), jar) for jar in self.facts.jars]
        useful = [pair for pair in useful if pair[0] >= LEAST_FEED_ML]
        useful.sort(key=lambda pair: (-pair[0], pair[1].key))
        self.left_out = max(0, len(useful) - MOST_JARS)
        return [jar for _most, jar in useful[:MOST_JARS]]

    def _digest(self) -> str:
        known = [
            [asdict(layer) for layer in self.layers.values()],
            [asdict(jar) for jar in self.jars],
            self.rules,
            self.facts.tolerance,
            self.facts.trace,
        ]
        return hashlib.sha256(json.dumps(known, sort_keys=True).encode()).hexdigest()

    def plan(self, order, locked, best: Mapping[str, Any] | None) -> dict[str, Any]:
        known = best if best and best.get("digest") == self.digest else None
        order = self._whole(order)
        if not order:
            plan = self._solve()
            return self._written(plan, plan.cost, plan.proven_optimal)
        keys = [layer.key for piece in order for layer in self.pieces[piece].layers]
        kept = [
            layer.key
            for piece in locked
            if piece in self.pieces
            for layer in self.pieces[piece].layers
        ]
        plan = self._solve(order=keys, locked=kept)
        if known is None:
            free = self._solve()
            cost, proven = free.cost, free.proven_optimal
        else:
            cost, proven = known["best_cost"], known["best_proven"]
        if plan.cost < cost:
            cost, proven = plan.cost, False
        return self._written(plan, cost, proven)

    def _whole(self, order: Sequence[str]) -> list[str]:
        """The order asked for, less what is no longer made, what is new at its end."""
        asked = [piece for piece in dict.fromkeys(order) if piece in self.pieces]
        return asked and [*asked, *(piece for piece in self.pieces if piece not in asked)]

    def _solve(self, order: Sequence[str] | None = None, locked: Sequence[str] = ()) -> EveningPlan:
        try:
            return evening.plan_evening(
                list(self.layers.values()),
                self.jars,
                min_feed_ml=LEAST_FEED_ML,
                tolerance=self.facts.tolerance,
                trace=self.facts.trace,
                order=order,
                locked=locked,
                time_limit_s=self.seconds,
                **self.rules,
            )
        except EveningError as error:
            raise PlanError(_mended(self.facts.say(str(error)))) from error

    def _written(self, plan: EveningPlan, best_cost: float, best_proven: bool) -> dict[str, Any]:
        fresh = {
            name: self.rules[name] for name in ("prices", "wash_cost", "clean_cups", "cold_cost")
        }
        order = self._order_of(plan)
        self.facts.call(piece.pattern for piece in order)
        self.facts.call(layer.key for piece in order for layer in piece.layers)
        for item in self.facts.unpriced:
            self.notes.append(f"Nobody knows what {item} cost: it counts as nothing here.")
        used = {s.mold for piece in self.pieces.values() for s in piece.shootings}
        return asdict(
            Outcome(
                cost=plan.cost,
                fresh_cost=plan_figures.fresh_cost(list(self.layers.values()), **fresh),
                best_cost=best_cost,
                best_proven=best_proven,
                gap=plan.gap,
                proven=plan.proven_optimal,
                order=[piece.pattern for piece in order],
                pieces=[self._piece(piece) for piece in order],
                batches=self._batches(order, plan),
                heel=asdict(self.facts.heel),
                yields=[
                    {
                        "mold": self.facts.name(key),
                        **asdict(told),
                        "more": told.more_percent,
                        "least": told.least_percent,
                    }
                    for key, told in self.facts.yields.items()
                    if key in used
                ],
                max_melts=self.facts.max_melts,
                cups=len(self.facts.cups),
                clean_cups=self.facts.clean_cups,
                notes=self.notes,
                digest=self.digest,
                jars_left_out=self.left_out,
            )
        )

    def _order_of(self, plan: EveningPlan) -> list[plan_layers.Piece]:
        place = {key: index for index, key in enumerate(plan.order)}
        return sorted(self.pieces.values(), key=lambda piece: place[piece.layers[0].key])

    def _piece(self, piece: plan_layers.Piece) -> dict[str, Any]:
        molds = self.facts.molds
        [step] = plan_layers.timeline([piece], molds, float(self.facts.bench.mixing_minutes))
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

    def _batches(self, order, plan: EveningPlan) -> list[dict[str, Any]]:
        first = {pk: lots[0] for pk, lots in self.facts.lots.items()}
        bench = batch_plan.AtHand(first, self.facts.bench.scale_step_g)
        numbers: dict[str, int] = {}
        for piece in order:
            for layer in piece.layers:
                numbers[layer.key] = len(numbers) + 1
        steps = plan_layers.timeline(
            order, self.facts.molds, float(self.facts.bench.mixing_minutes)
        )
        spans = {span.layer: span for span in plan_figures.cups_in_use(order, steps, plan.fills)}
        return [
            self._batch(piece, layer, plan.fills[layer.key], numbers, spans[layer.key], bench)
            for piece in order
            for layer in piece.layers
        ]

    def _batch(self, piece, layer, fill: Fill, numbers, span, bench) -> dict[str, Any]:
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
            "total_ml": fill.base_ml / self._recipe(layer.key).base_share,
            "shots_ml": layer.shots_ml,
            "heel_ml": layer.heel_ml,
            "fresh_ml": fill.fresh_ml,
            "grade": grade.pk,
            "grade_name": grade.name,
            "density": float(grade.density_g_per_ml or 0),
            "sources": [self._source(key, ml, numbers) for key, ml in fill.sources.items()],
            "doses": [
                self._dose(self.facts.items[key], amount, bench)
                for key, amount in fill.additions.items()
            ],
            "melts": fill.melts,
            "clean_cup": fill.clean_cup,
            "cup_of": numbers.get(fill.cup_of, 0),
            "cup_row": span.row,
            "cup_from": span.start,
            "cup_waits": span.waits_from,
            "cup_until": span.end,
        }

    def _source(self, key: str, ml: float, numbers: Mapping[str, int]) -> dict[str, Any]:
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
        if key in numbers:
            return {
                "kind": "rest",
                "key": key,
                "ml": ml,
                "total_ml": ml / self._recipe(key).base_share,
                "name": f"what remains of batch {numbers[key]}, {self.facts.name(key)}",
                "batch": numbers[key],
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

    def _recipe(self, layer: str) -> plan_layers.RecipeLayer:
        stem = layer.partition("/")[0]
        return next(r for r in self.facts.recipes[stem.partition(".")[0]] if r.key == stem)

    def _dose(self, item: Item, amount: float, bench) -> dict[str, Any]:
        quantity = units.to_micro(amount)
        dose = batch_plan.dose(item, quantity, quantity, bench)
        return {
            "item": item.pk,
            "name": item.name,
            "unit": item.stock_unit,
            "quantity": quantity,
            "draw": dose.draw,
            "text": dose.text,
            "others": [measure.text for measure in dose.measures[1:]],
            "error": dose.error_percent,
            "rough": bool(dose.best and dose.best.rough),
        }
