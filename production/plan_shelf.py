"""The shelf and the bench as the plan of an evening sees them. Reads only.

Things go by keys in a plan, so that no two names can be mistaken: m7 a mold, b7 a bait, c7 a cup, p7 a
pattern, p7.1 its first layer, j7 a kept leftover's lot; a grade or a dose goes by its item's number.
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import timedelta

from django.db.models import Count, Prefetch, QuerySet, Sum
from django.utils import timezone

from inventory import queries as shelf
from inventory import units
from inventory.models import Content, Entry, Item, Lot, Movement, Pack
from production import allowance, mixing, plan_cups, plan_layers, tolerances
from production.evening_terms import Jar
from production.forms.bench_choices import leftover_names
from production.models import (
    Bait,
    Batch,
    Bench,
    Cavity,
    Cup,
    Layer,
    Mold,
    Pattern,
    PlannedBatch,
    Pour,
    RecipeVersion,
    ShotResult,
    Sorting,
)
from production.queries import leftovers
from production.services import batches, recipes

#: A mold's yield is told by the shots of a year: molds wear, and hands learn.
YIELD_DAYS = 365
#: The heel is told by so many batches that were mixed from a plan, the newest.
HEELS = 12
#: A litre of base, on which a recipe's shares are worked out.
SAMPLE = 1_000 * units.MICRO
_KEY = re.compile(r"\b(?:[mbcjp]\d+)(?:\.\d+)?(?:/\d+)?\b")


@dataclass(frozen=True)
class Facts:
    """All that the planner needs to know, in mL and money by its keys."""

    bench: Bench
    molds: dict[str, plan_layers.MoldFacts]
    yields: dict[str, allowance.Yield]
    heel: allowance.Heel
    recipes: dict[str, list[plan_layers.RecipeLayer]]
    layers: dict[str, Layer]
    items: dict[str, Item]
    lots: dict[int, list[Lot]]
    prices: dict[str, float]
    unpriced: list[Item]
    #: The largest first.
    cups: list[plan_cups.Cup]
    jars: list[Jar]
    jar_lots: dict[str, Lot]
    #: mL of the whole mix to one mL of its base, by jar.
    jar_whole: dict[str, float]
    #: The most melts of each grade.
    melts: dict[str, int]
    tolerance: dict[str, float]
    trace: dict[str, float]
    names: dict[str, str] = field(default_factory=dict)

    def say(self, text: str) -> str:
        """A planner's sentence with names instead of keys."""
        return _KEY.sub(lambda found: self.name(found[0]), text)

    def name(self, key: str) -> str:
        """ "p7.1/2" as people say it: "Deep Sedge (back, up)", or what `call` made of it."""
        return self.names.get(key) or self.names.get(key.partition("/")[0], key)

    def recipe(self, layer: str) -> plan_layers.RecipeLayer:
        """The recipe behind a layer's key, whichever filling it is."""
        stem = layer.partition("/")[0]
        return next(r for r in self.recipes[stem.partition(".")[0]] if r.key == stem)

    def call(self, keys: Iterable[str]) -> None:
        """Numbers the fillings of what takes several cups, in the order of these keys."""
        fillings: dict[str, int] = {}
        for key in keys:
            stem, _, number = key.partition("/")
            fillings[stem] = fillings.get(stem, 0) + 1
            if number:
                self.names[key] = f"{self.names[stem]}, filling {fillings[stem]}"


def read(patterns: Iterable[int], baits: Iterable[int]) -> Facts:
    """Everything for these patterns and baits, in a fixed number of queries."""
    bench = Bench.ours()
    found = _patterns(patterns)
    layers = {
        f"p{pattern.pk}.{layer.position}": layer
        for pattern in found
        for layer in pattern.layers.all()
    }
    items = _items(layers.values())
    lots = _lots(items.values())
    prices, unpriced = _prices(items, lots)
    molds = _molds(baits)
    mold_keys = {mold.pk: f"m{mold.pk}" for mold in molds}
    grades = {str(layer.version.grade_id) for layer in layers.values()}
    kept = kept_of(grades)
    kinds = tolerances.by_kind(bench)
    cups, cup_names = _cups()
    return Facts(
        bench=bench,
        molds={mold_keys[mold.pk]: _mold(mold) for mold in molds},
        yields={f"m{pk}": told for pk, told in yields_of(mold_keys).items()},
        heel=allowance.heel(heels(), float(bench.heel_ml)),
        recipes=_recipes(found, items),
        layers=layers,
        items=items,
        lots=lots,
        prices=prices,
        unpriced=unpriced,
        cups=cups,
        jars=kept.jars,
        jar_lots=kept.lots,
        jar_whole=kept.whole,
        melts={grade: items[grade].melt_limit or bench.most_melts for grade in grades},
        tolerance={key: tolerances.of(item, kinds) for key, item in items.items()},
        trace={str(pk): tolerances.THINNING_OIL for pk in shelf.thinning_oils()},
        names=_names(found, layers, molds, kept.lots)
        | cup_names
        | {f"b{bait.pk}": bait.name for bait in Bait.objects.filter(pk__in=set(baits))},
    )


def _patterns(pks: Iterable[int]) -> list[Pattern]:
    versions = RecipeVersion.objects.select_related("recipe", "grade").prefetch_related(
        "doses__item"
    )
    layers = Layer.objects.select_related("pattern").prefetch_related(Prefetch("version", versions))
    return list(
        Pattern.objects.filter(pk__in=set(pks)).prefetch_related(Prefetch("layers", layers))
    )


def _items(layers: Iterable[Layer]) -> dict[str, Item]:
    """The grades and doses of these layers, by key."""
    found: dict[str, Item] = {}
    for layer in layers:
        found[str(layer.version.grade_id)] = layer.version.grade
        for dose in layer.version.doses.all():
            found[str(dose.item_id)] = dose.item
    return found


def _lots(items: Iterable[Item]) -> dict[int, list[Lot]]:
    """Their lots in stock, each item's in the order of drawing."""
    found: dict[int, list[Lot]] = {}
    for lot in Lot.objects.in_stock().filter(item__in=list(items)).first_expiring_first():
        found.setdefault(lot.item_id, []).append(lot)
    return found


def _prices(
    items: Mapping[str, Item], lots: Mapping[int, list[Lot]]
) -> tuple[dict[str, float], list[Item]]:
    """Money per mL or unit at full strength: what the lots on hand cost, else the newest pack; and
    the items that have neither, which count as nothing."""
    packs: dict[int, Pack] = {}
    for pack in Pack.objects.filter(item__in=[item.pk for item in items.values()]).order_by("id"):
        packs[pack.item_id] = pack
    prices, unpriced = {}, []
    for key, item in items.items():
        priced = [lot for lot in lots.get(item.pk, []) if lot.cost is not None]
        held = sum(lot.on_hand * float(lot.strength) for lot in priced)
        if held:
            prices[key] = sum(lot.cost for lot in priced) / held
        elif item.pk in packs:
            pack = packs[item.pk]
            prices[key] = pack.price_minor / 100 / float(units.from_micro(pack.quantity))
        else:
            prices[key] = 0.0
            unpriced.append(item)
    return prices, unpriced


def _molds(baits: Iterable[int]) -> list[Mold]:
    casting = Cavity.objects.filter(bait__in=set(baits)).values("mold")
    cavities = Cavity.objects.all()
    return list(
        Mold.objects.filter(archived=False, pk__in=casting).prefetch_related(
            Prefetch("cavities", cavities)
        )
    )


def _mold(mold: Mold) -> plan_layers.MoldFacts:
    return plan_layers.MoldFacts(
        f"m{mold.pk}",
        float(mold.shot_ml),
        {f"b{c.bait_id}": (c.count, float(c.bait_ml)) for c in mold.cavities.all()},
        mold.copies,
        float(mold.minutes_per_cycle),
    )


def yields_of(molds: Iterable[int]) -> dict[int, allowance.Yield]:
    """The good share of each mold by its shots of the last YIELD_DAYS, less what was sorted out since.

    Two queries; older shots are never read."""
    since = timezone.localdate() - timedelta(days=YIELD_DAYS)
    # From the evenings of that time to all their shots: asked by mold, those of all years would be read.
    evenings = Pour.objects.filter(business_date__gte=since).order_by().values("pk")
    standing = {"shots__entry__reversed_by": None, "shots__pour__in": evenings}
    results = ShotResult.objects.filter(**standing).order_by()
    rows = results.values("shots__mold").annotate(good=Sum("good"), seen=Sum("cavities"))
    found = {row["shots__mold"]: (row["good"], row["seen"]) for row in rows}
    sorted_out = Sorting.objects.filter(entry__reversed_by=None, **standing).order_by()
    spoiled = dict(sorted_out.values_list("shots__mold").annotate(total=Sum("count")))
    told = {}
    for pk in molds:
        good, seen = found.get(pk, (0, 0))
        told[pk] = allowance.good_share(max(0, min(seen, good - spoiled.get(pk, 0))), seen)
    return told


def heels() -> list[float]:
    """mL of the whole mix that really stayed after the planned shots of the newest planned batches.

    What went on into other batches and what was thrown away stayed too."""
    # From the plans' own rows: most batches of a shop may never have been planned.
    planned = (
        PlannedBatch.objects.filter(batch__isnull=False, batch__entry__reversed_by=None)
        .exclude(batch__settled="")
        .select_related("batch__lot")
        .order_by("-batch_id")[:HEELS]
    )
    rows = {one.batch: one for one in planned}
    lines = Movement.objects.filter(shelf.STANDING_LINE, lot__in=[batch.lot_id for batch in rows])
    onward = lines.filter(
        role=Movement.Role.DRAWN, entry__kind__in=[Entry.Kind.BATCH, Entry.Kind.ADDITION]
    ) | lines.filter(entry__kind=Entry.Kind.WASTE)
    later = dict(onward.order_by().values_list("lot").annotate(total=Sum("quantity")))
    found = []
    for batch, plan in rows.items():
        left = float(units.from_micro(batch.lot.on_hand - later.get(batch.lot_id, 0)))
        # What it was mixed larger, to go on, is no heel.
        left -= plan.detail.get("extra_ml", 0.0)
        if batch.lot.made > 0:
            found.append(left * batch.total / batch.lot.made)
    return found


def _recipes(
    patterns: Iterable[Pattern], items: Mapping[str, Item]
) -> dict[str, list[plan_layers.RecipeLayer]]:
    return {
        f"p{pattern.pk}": [_recipe(layer, items) for layer in pattern.layers.all()]
        for pattern in patterns
    }


def _recipe(layer: Layer, items: Mapping[str, Item]) -> plan_layers.RecipeLayer:
    version = layer.version
    doses = {item.pk: quantity for item, quantity in recipes.doses_for(version, SAMPLE)}
    whole = batches.volume_of(
        doses | {version.grade_id: SAMPLE}, {item.pk: item for item in items.values()}
    )
    return plan_layers.RecipeLayer(
        key=f"p{layer.pattern_id}.{layer.position}",
        grade=str(version.grade_id),
        share=layer.share / 1_000_000,
        base_share=SAMPLE / whole,
        doses={str(pk): quantity / SAMPLE for pk, quantity in doses.items()},
    )


@dataclass(frozen=True)
class _Kept:
    """Leftovers as the planner's jars, their lots, and mL of the whole mix to one mL of its base."""

    jars: list[Jar]
    lots: dict[str, Lot]
    whole: dict[str, float]


def kept_of(grades: set[str]) -> _Kept:
    """Kept leftovers of these grades. One without papers, or a blend of grades, fits no recipe's
    grade and stays out."""
    lots = {lot.pk: lot for lot in leftovers() if lot.item.grades in grades and lot.available > 0}
    rows = Content.objects.filter(lot__in=list(lots)).order_by().values_list("lot", "item")
    held: dict[int, dict[int, int]] = {pk: {} for pk in lots}
    for lot, item, total in rows.annotate(total=Sum("quantity")):
        if total > 0 and lots[lot].made > 0:
            held[lot][item] = total
    items = Item.objects.in_bulk({item for contents in held.values() for item in contents})
    kept = _Kept([], {}, {})
    for pk, lot in lots.items():
        doses: dict[str, float] = {}
        for item, total in held[pk].items():
            if items[item].kind != Item.Kind.PLASTISOL:
                key = mixing.UNKNOWN if items[item].kind == Item.Kind.LEFTOVER else str(item)
                doses[key] = doses.get(key, 0) + total / lot.made
        base = lot.available / units.MICRO
        kept.jars.append(Jar(f"j{pk}", lot.item.grades, base, doses, lot.melts))
        kept.lots[f"j{pk}"] = lot
        whole = batches.volume_of(held[pk], items)
        kept.whole[f"j{pk}"] = whole / lot.made if lot.made and whole else 1.0
    return kept


def _cups() -> tuple[list[plan_cups.Cup], dict[str, str]]:
    """The cups, the largest first, and their names by key. Those in which something stands now want washing before another color."""
    holding = set(
        Batch.objects.filter(
            lot__on_hand__gt=0, lot__form=Lot.Form.LIQUID, cup__isnull=False
        ).values_list("cup", flat=True)
    )
    rows = list(Cup.objects.filter(archived=False).order_by("-most_ml", "number"))
    cups = [
        plan_cups.Cup(f"c{cup.pk}", float(cup.most_ml), float(cup.least_ml), cup.pk not in holding)
        for cup in rows
    ]
    return cups, {f"c{cup.pk}": str(cup) for cup in rows}


def _names(patterns, layers, molds, jar_lots) -> dict[str, str]:
    names = {f"p{pattern.pk}": pattern.name for pattern in patterns}
    for key, layer in layers.items():
        side = "" if layer.side == Layer.Side.WHOLE else f" ({layer.get_side_display()})"
        names[key] = f"{layer.pattern.name}{side}"
    for mold in molds:
        names[f"m{mold.pk}"] = mold.name
    for (key, lot), name in zip(jar_lots.items(), leftover_names(jar_lots.values()), strict=True):
        names[key] = f"{name}, {lot.get_form_display()}, {lot.number}"
    return names


def on_hand(items: Iterable[int]) -> dict[int, float]:
    """Stock units at full strength of each item that nothing holds: one query."""
    found: dict[int, float] = {}
    for lot in Lot.objects.in_stock().filter(item__in=list(items)):
        here = float(units.from_micro(lot.available)) * float(lot.strength)
        found[lot.item_id] = found.get(lot.item_id, 0) + here
    return found


def molds_exist() -> bool:
    return Mold.objects.filter(archived=False).exists()


def patterns_offered() -> QuerySet[Pattern]:
    """Patterns that can be poured: current ones that have layers."""
    return Pattern.objects.filter(archived=False).annotate(n=Count("layers")).filter(n__gt=0)
