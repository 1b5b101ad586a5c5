"""An evening thought through: from what is wished for to the plan as a page shows it. No writes.

A wish, as `Plan.wishes` keeps it, is {"product": id, "bags": n, "why": text} or
{"bait": id, "pattern": id, "baits": n}; {"leave": key} leaves a filling of cups out, {"plain": True} mixes no
batch larger than its shots need. `think` turns wishes into an outcome, a plain dictionary that can be kept as
JSON; `plan_outcome.Outcome` says what is in it.
"""

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

from django.db.models import F, Sum

from inventory import units
from inventory.models import Lot
from inventory.services.posting import LedgerError
from production import (
    mixing,
    plan_choice,
    plan_figures,
    plan_layers,
    plan_outcome,
    plan_shelf,
)
from production.evening_terms import EveningError, Jar
from production.models import Product, ProductContent

#: The planner's model is proven up to these (design: an evening).
MOST_LAYERS, MOST_JARS = 14, 20
SECONDS = 5.0
#: So many colors are named when there are too many batches.
NAMED = 3


class PlanError(LedgerError):
    """No plan can be made of this; the text says why, with names, and how to mend it."""


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
    larger = not any("plain" in wish for wish in wishes)
    return _Planner(facts, needs, work, notes, seconds, larger).plan(order, locked, best)


def needed(wishes: Sequence[Mapping[str, Any]]) -> tuple[list[plan_outcome.Need], list[str]]:
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
    needs = [
        plan_outcome.Need(*pair, baits, worth.get(pair))
        for pair, baits in wanted.items()
        if baits > 0
    ]
    return needs, notes


def _take_off_loose(wanted: dict[tuple[int, int], int]) -> list[str]:
    """Takes good loose baits on hand off what bags need; says so."""
    rows = (
        Lot.objects.free()
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


def _work(needs: Sequence[plan_outcome.Need], facts: plan_shelf.Facts) -> list[plan_layers.Piece]:
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
            f"That makes {layers} batches, and an evening's plan takes {MOST_LAYERS} at most: "
            f"{_most_batches(pieces, facts)}. Leave one for another evening, or make less of it."
        )
    return pieces


def _most_batches(pieces: Sequence[plan_layers.Piece], facts: plan_shelf.Facts) -> str:
    """Which colors take the most batches, as in "Fog Bell takes 9, Deep Sedge 6"."""
    counts: dict[str, int] = {}
    for piece in pieces:
        stem = piece.pattern.partition("/")[0]
        counts[stem] = counts.get(stem, 0) + len(piece.layers)
    (first, most), *others = sorted(counts.items(), key=lambda found: -found[1])[:NAMED]
    told = [f"{facts.name(first)} takes {most}"]
    return ", ".join([*told, *(f"{facts.name(stem)} {count}" for stem, count in others)])


def _pieces(needs: Sequence[plan_outcome.Need], facts: plan_shelf.Facts) -> list[plan_layers.Piece]:
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
            cups_ml=[cup.most_ml for cup in facts.cups],
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
    "the largest cup": "Add a larger cup under Setup, or leave it out.",
    "has no recipe": "Give it a recipe under Colors, or leave it out.",
}


def _mended(text: str) -> str:
    """A planner's sentence as a whole one, with how to mend it."""
    remedy = next((say for part, say in _REMEDIES.items() if part in text), "")
    return f"{text[:1].upper()}{text[1:]}. {remedy}".strip()


class _Planner:
    """One evening's problem, solved and written down."""

    def __init__(self, facts, needs, pieces, notes, seconds: float, larger: bool) -> None:
        self.facts, self.needs, self.notes = facts, needs, list(notes)
        self.pieces = {piece.pattern: piece for piece in pieces}
        self.layers = {layer.key: layer for piece in pieces for layer in piece.layers}
        self.seconds = seconds
        self.jars = self._best_jars()
        self.terms = plan_choice.Terms(
            prices=facts.prices,
            wash_cost=facts.bench.wash_cost_minor / 100,
            cold_cost=facts.bench.cold_cost_minor / 100,
            cups=facts.cups,
            melts=facts.melts,
            tolerance=facts.tolerance,
            trace=facts.trace,
            base_share={key: facts.recipe(key).base_share for key in self.layers},
            larger=larger,
        )
        self.digest = self._digest()

    def _best_jars(self) -> list[Jar]:
        """The leftovers that can feed tonight's layers most, at most as many as can be weighed."""
        useful = [(self._most(jar), jar) for jar in self.facts.jars]
        useful = [pair for pair in useful if pair[0] >= plan_choice.LEAST_FEED_ML]
        useful.sort(key=lambda pair: (-pair[0], pair[1].key))
        self.left_out = max(0, len(useful) - MOST_JARS)
        return [jar for _most, jar in useful[:MOST_JARS]]

    def _most(self, jar: Jar) -> float:
        """mL of the jar that one of tonight's layers could take at most."""
        if jar.melts + 1 > self.facts.melts[jar.grade]:
            return 0.0
        held = {key: dose * jar.base_ml for key, dose in jar.doses.items()}
        taken = (
            mixing.convert(
                mixing.Mix(jar.base_ml, held),
                layer.doses,
                layer.shots_ml + layer.heel_ml,
                tolerance=self.facts.tolerance,
                trace=self.facts.trace,
            ).use_ml
            for layer in self.layers.values()
            if layer.grade == jar.grade
        )
        return max(taken, default=0.0)

    def _digest(self) -> str:
        known = [
            [asdict(layer) for layer in self.layers.values()],
            [asdict(jar) for jar in self.jars],
            asdict(self.terms),
        ]
        return hashlib.sha256(json.dumps(known, sort_keys=True).encode()).hexdigest()

    def plan(self, order, locked, best: Mapping[str, Any] | None) -> dict[str, Any]:
        known = best if best and best.get("digest") == self.digest else None
        order = self._whole(order)
        if not order:
            found = self._solve()
            return self._written(found, found.plan.cost, found.plan.proven_optimal)
        keys = [layer.key for piece in order for layer in self.pieces[piece].layers]
        kept = [
            layer.key
            for piece in locked
            if piece in self.pieces
            for layer in self.pieces[piece].layers
        ]
        found = self._solve(order=keys, locked=kept)
        if known is None:
            free = self._solve().plan
            cost, proven = free.cost, free.proven_optimal
        else:
            cost, proven = known["best_cost"], known["best_proven"]
        if found.plan.cost < cost:
            cost, proven = found.plan.cost, False
        return self._written(found, cost, proven)

    def _whole(self, order: Sequence[str]) -> list[str]:
        """The order asked for, less what is no longer made, what is new at its end."""
        asked = [piece for piece in dict.fromkeys(order) if piece in self.pieces]
        return asked and [*asked, *(piece for piece in self.pieces if piece not in asked)]

    def _timeline(self, pieces: Sequence[plan_layers.Piece]) -> list[plan_layers.Step]:
        return plan_layers.timeline(
            pieces, self.facts.molds, float(self.facts.bench.mixing_minutes)
        )

    def _solve(self, **asked) -> plan_choice.Choice:
        chooser = plan_choice.Chooser(
            list(self.pieces.values()), self.jars, self.terms, self._timeline
        )
        try:
            return chooser.choose(self.seconds, **asked)
        except EveningError as error:
            raise PlanError(_mended(self.facts.say(str(error)))) from error

    def _written(self, found: plan_choice.Choice, best_cost: float, best_proven: bool) -> dict:
        fresh_cost = plan_figures.fresh_cost(
            list(self.layers.values()),
            prices=self.terms.prices,
            wash_cost=self.terms.wash_cost,
            clean_cups=self.terms.clean_cups,
            cold_cost=self.terms.cold_cost,
        )
        place = {key: index for index, key in enumerate(found.plan.order)}
        order = sorted(self.pieces.values(), key=lambda piece: place[piece.layers[0].key])
        writer = plan_outcome.Writer(self.facts, self.needs, order, found, self._timeline(order))
        return asdict(
            writer.outcome(
                fresh_cost=fresh_cost,
                best_cost=best_cost,
                best_proven=best_proven,
                notes=self.notes,
                digest=self.digest,
                jars_left_out=self.left_out,
            )
        )
