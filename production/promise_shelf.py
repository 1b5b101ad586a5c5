"""The shelf, the bench and its evenings as a promise sees them. Reads only, in a fixed number of queries.

Only what can go into the products in question is read. Things go by keys: an item by its number, x7 a
product, b7 a bait (b7s as a second), p7 a pattern, r7 a recipe's version, m7 a mold, j7 a kept leftover's lot.
What tonight's adopted plan will take is taken off first, and what it should give counts as loose baits.
"""

import datetime
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from django.db.models import F, Prefetch
from django.utils import timezone

from inventory import deliveries, units
from inventory import queries as shelf
from inventory.models import Item, Lot, Pack
from production import allowance, loose, plan_shelf, promise, tolerances
from production.models import (
    WHOLE_SHARE,
    Bait,
    Bench,
    Cavity,
    Cup,
    Dose,
    DoseStandIn,
    Layer,
    Mold,
    Pattern,
    Product,
    RecipeVersion,
)
from production.services import batches, recipes
from production.tonight import Tonight

#: Evenings are looked at so far beyond the day asked for: by then most things have arrived.
BEYOND_DAYS = 42
#: No further ahead than this: nobody knows the shelf then.
MOST_DAYS = 365
MOST_EVENINGS = 80
#: Stands for what nobody pours: seconds, baits without a mold, patterns without a recipe.
NOWHERE = "nowhere"


@dataclass(frozen=True)
class Source:
    """Where an item could come from soonest, and what of it is on its way: (expected day, amount)."""

    supplier: str = ""
    days: int | None = None
    on_order: tuple[tuple[datetime.date, float], ...] = ()


@dataclass(frozen=True)
class Facts:
    """The shelf, and what people call the things on it."""

    shelf: promise.Shelf
    products: Mapping[int, Product]
    items: Mapping[str, Item]
    sources: Mapping[str, Source]
    #: Whole baits that tonight's plan should give, by kind, and the day on which they are bagged.
    planned: Mapping[tuple[str, str], int]
    planned_on: datetime.date
    names: Mapping[str, str] = field(default_factory=dict)

    def name(self, key: str) -> str:
        return self.names.get(key, key)


def product_key(pk: int) -> str:
    return f"x{pk}"


def read(
    products: Iterable[int], until: datetime.date, today: datetime.date | None = None
) -> Facts:
    """Everything that bags of these products can be made of, with the evenings up to some weeks after
    `until`."""
    today = today or timezone.localdate()
    bench = Bench.ours()
    found = _products(products)
    molds = _molds(found.values())
    patterns = _patterns(found.values())
    versions = {
        layer.version_id: layer.version
        for pattern in patterns.values()
        for layer in pattern.layers.all()
    }
    items = _items(found.values(), molds, versions.values())
    tonight = Tonight()
    kept = plan_shelf.kept_of({str(version.grade_id) for version in versions.values()})
    sources = _sources(items, today)
    yields = plan_shelf.yields_of([mold.pk for mold in molds])
    kinds = _kinds(found.values(), patterns, molds)
    planned = {
        kinds[bait, pattern, False]: count
        for (bait, pattern), count in tonight.baits().items()
        if (bait, pattern, False) in kinds
    }
    room = _room()
    recipe = {f"r{pk}": _recipe(version, items) for pk, version in versions.items()}
    heel = allowance.heel(plan_shelf.heels(), float(bench.heel_ml)).ml
    cup_ml = room * min((one.base_share for one in recipe.values()), default=1.0)
    board = promise.Shelf(
        today=today,
        items={
            str(pk): promise.Item(lots, sources[str(pk)].days)
            for pk, lots in _amounts(items, tonight.taken).items()
        }
        | {NOWHERE: promise.Item()},
        recipes=recipe | {NOWHERE: promise.Recipe(NOWHERE, {})},
        patterns={
            f"p{pk}": {f"r{v}": share for v, share in _shares(pattern).items()}
            for pk, pattern in patterns.items()
            if pattern.layers.all()
        }
        | {NOWHERE: {NOWHERE: 1.0}},
        molds={f"m{mold.pk}": _mold(mold, yields[mold.pk].share, bench) for mold in molds}
        | {NOWHERE: _no_mold(kinds)},
        products={product_key(pk): _product(product, kinds) for pk, product in found.items()},
        evenings=_evenings(bench, today, until, tonight) if heel < cup_ml else (),
        bagged=_bagged(found.values()),
        loose=_loose(found.values(), kinds, planned, bench, today),
        leftovers={
            jar.key: promise.Leftover(
                jar.grade,
                max(0.0, jar.base_ml - tonight.fed.get(jar.key, 0.0)),
                jar.doses,
                jar.melts,
                kept.lots[jar.key].expires_on,
            )
            for jar in kept.jars
        },
        cure_hours=float(bench.cure_hours),
        packing_days=bench.packing_days,
        mixing_minutes=float(bench.mixing_minutes),
        heel_ml=heel,
        cup_ml=max(cup_ml, heel + 1),
        max_melts=_most_melts(versions.values(), bench),
        tolerance={
            str(pk): tolerances.of(item, by_kind)
            for by_kind in [tolerances.by_kind(bench)]
            for pk, item in items.items()
        },
        trace={str(pk): tolerances.THINNING_OIL for pk in shelf.thinning_oils()}
        if kept.jars
        else {},
    )
    return Facts(
        shelf=board,
        products=found,
        items={str(pk): item for pk, item in items.items()},
        sources=sources,
        planned=planned,
        planned_on=board.ready_on(promise.Evening(today, 0)),
        names=_names(found, molds, patterns, versions, items, kinds),
    )


# -- what the products are made of -----------------------------------------------------------------


def _products(pks: Iterable[int]) -> dict[int, Product]:
    rows = Product.objects.select_related("item").prefetch_related(
        "contents", "packaging", "finishing"
    )
    return rows.in_bulk(set(pks))


def _molds(products: Iterable[Product]) -> list[Mold]:
    baits = {content.bait_id for product in products for content in product.contents.all()}
    casting = Cavity.objects.filter(bait__in=baits).values("mold")
    return list(
        Mold.objects.filter(archived=False, pk__in=casting).prefetch_related("cavities__part")
    )


def _patterns(products: Iterable[Product]) -> dict[int, Pattern]:
    pks = {content.pattern_id for product in products for content in product.contents.all()}
    doses = Dose.objects.select_related("item").prefetch_related(
        Prefetch("stand_ins", DoseStandIn.objects.select_related("item"))
    )
    versions = RecipeVersion.objects.select_related("recipe", "grade").prefetch_related(
        Prefetch("doses", doses)
    )
    layers = Layer.objects.prefetch_related(Prefetch("version", versions))
    return Pattern.objects.prefetch_related(Prefetch("layers", layers)).in_bulk(pks)


def _items(
    products: Iterable[Product], molds: Iterable[Mold], versions: Iterable[RecipeVersion]
) -> dict[int, Item]:
    found: dict[int, Item] = {}
    wanted = {
        row.item_id
        for product in products
        for row in (*product.packaging.all(), *product.finishing.all())
        if row.item_id
    }
    for mold in molds:
        for cavity in mold.cavities.all():
            if cavity.part:
                found[cavity.part_id] = cavity.part
    for version in versions:
        found[version.grade_id] = version.grade
        for dose in version.doses.all():
            found[dose.item_id] = dose.item
            found |= {other.item_id: other.item for other in dose.stand_ins.all()}
    return found | Item.objects.in_bulk(wanted)


def _shares(pattern: Pattern) -> dict[int, float]:
    """Version id → its share: two layers may be of one recipe."""
    found: dict[int, int] = defaultdict(int)
    for layer in pattern.layers.all():
        found[layer.version_id] += layer.share
    whole = sum(found.values()) or WHOLE_SHARE
    return {version: share / whole for version, share in found.items()}


def _recipe(version: RecipeVersion, items: Mapping[int, Item]) -> promise.Recipe:
    sample = plan_shelf.SAMPLE
    doses = {item.pk: amount for item, amount in recipes.doses_for(version, sample)}
    whole = batches.volume_of(doses | {version.grade_id: sample}, items)
    return promise.Recipe(
        grade=str(version.grade_id),
        doses={str(pk): amount / sample for pk, amount in doses.items()},
        base_share=min(1.0, sample / whole),
        stand_ins={
            str(dose.item_id): [str(other.item_id) for other in dose.stand_ins.all()]
            for dose in version.doses.all()
            if doses[dose.item_id] and dose.stand_ins.all()
        },
    )


def _kinds(
    products: Iterable[Product], patterns: Mapping[int, Pattern], molds: Iterable[Mold]
) -> dict[tuple[int, int, bool], tuple[str, str]]:
    """(bait, pattern, second) → the kind as the promise knows it; what nobody pours is of NOWHERE."""
    cast = {cavity.bait_id for mold in molds for cavity in mold.cavities.all()}
    found = {}
    for product in products:
        for row in product.contents.all():
            second = "s" if product.second else ""
            poured = row.bait_id in cast and patterns[row.pattern_id].layers.all()
            pattern = f"p{row.pattern_id}"
            if second or not poured:
                kind = (f"b{row.bait_id}{second}/{row.pattern_id}", NOWHERE)
            else:
                kind = (f"b{row.bait_id}", pattern)
            found[row.bait_id, row.pattern_id, product.second] = kind
    return found


def _mold(mold: Mold, share: float, bench: Bench) -> promise.Mold:
    cavities: dict[str, int] = {}
    parts: dict[str, float] = defaultdict(float)
    for cavity in mold.cavities.all():
        cavities[f"b{cavity.bait_id}"] = cavity.count
        if cavity.part_id:
            parts[str(cavity.part_id)] += cavity.count * cavity.parts_each
    return promise.Mold(
        cavities=cavities,
        shot_ml=float(mold.shot_ml),
        good=dict.fromkeys(cavities, share),
        copies=mold.copies,
        cycle_minutes=float(mold.minutes_per_cycle),
        hand_minutes=float(bench.hand_minutes),
        parts=dict(parts),
    )


def _no_mold(kinds: Mapping[tuple, tuple[str, str]]) -> promise.Mold:
    """A mold that is not there, for all that nobody pours and for bags with nothing in them."""
    baits = {bait for bait, pattern in kinds.values() if pattern == NOWHERE} | {NOWHERE}
    return promise.Mold(dict.fromkeys(baits, 1), 1.0, dict.fromkeys(baits, 1.0), copies=0)


def _product(product: Product, kinds: Mapping[tuple, tuple[str, str]]) -> promise.Product:
    uses: dict[str, float] = defaultdict(float)
    for row in (*product.packaging.all(), *product.finishing.all()):
        if row.item_id and row.quantity:
            uses[str(row.item_id)] += row.quantity / units.MICRO
    contents = {
        kinds[loose.kind_of(product, row)]: row.count for row in product.contents.all()
    } or {(NOWHERE, NOWHERE): 1}
    return promise.Product(contents, dict(uses), product.price_minor / 100)


# -- what there is ---------------------------------------------------------------------------------


def _amounts(items: Mapping[int, Item], taken: Mapping[int, float]) -> dict[int, list[promise.Lot]]:
    """Stock units at full strength, lot by lot, less what tonight's plan takes from the first."""
    found: dict[int, list[promise.Lot]] = {pk: [] for pk in items}
    left = dict(taken)
    lots = Lot.objects.free().filter(item__in=items).first_expiring_first()
    rows = lots.values_list("item", F("on_hand") - F("reserved"), "strength", "expires_on")
    for item, available, strength, expires_on in rows:
        amount = available / units.MICRO * float(strength)
        off = min(amount, left.get(item, 0.0))
        left[item] = left.get(item, 0.0) - off
        found[item].append(promise.Lot(amount - off, expires_on))
    return found


def _bagged(products: Iterable[Product]) -> dict[str, list[promise.Lot]]:
    of_item = {product.item_id: product_key(product.pk) for product in products}
    found: dict[str, list[promise.Lot]] = defaultdict(list)
    rows = Lot.objects.free().filter(item__in=of_item).order_by()
    for item, available, expires_on in rows.values_list(
        "item", F("on_hand") - F("reserved"), "expires_on"
    ):
        found[of_item[item]].append(promise.Lot(available // units.MICRO, expires_on))
    return dict(found)


def _loose(
    products: Iterable[Product],
    kinds: Mapping[tuple[int, int, bool], tuple[str, str]],
    planned: Mapping[tuple[str, str], int],
    bench: Bench,
    today: datetime.date,
) -> dict[tuple[str, str], list[promise.Lot]]:
    now = timezone.now()
    found: dict[tuple[str, str], list[promise.Lot]] = defaultdict(list)
    for kind, lots in loose.lots_of(set(kinds)).items():
        for each in lots:
            cured = each.cured_at(bench.cure_hours)
            day = timezone.localdate(cured) if cured and cured > now else None
            baits = each.lot.available // units.MICRO
            found[kinds[kind]].append(promise.Lot(baits, each.lot.expires_on, day))
    cured_on = today + datetime.timedelta(days=-(-bench.cure_hours // 24))
    for kind, count in planned.items():
        if count:
            found[kind].append(promise.Lot(count, None, cured_on))
    return dict(found)


def _sources(items: Mapping[int, Item], today: datetime.date) -> dict[str, Source]:
    """The quickest supplier of each item, by its deliveries where there were enough of them."""
    seen = deliveries.lead_times_seen(today)
    quickest: dict[int, tuple[int, str]] = {}
    for pack in Pack.objects.filter(item__in=items).select_related("supplier"):
        supplier = pack.supplier
        told = seen.get(supplier.pk)
        days = told.days if told else supplier.lead_time_days
        best = quickest.get(pack.item_id)
        quickest[pack.item_id] = min(best, (days, supplier.name)) if best else (days, supplier.name)
    coming = deliveries.on_order()
    found = {}
    for pk in items:
        days, supplier = quickest.get(pk, (None, ""))
        due = tuple((max(day, today), amount / units.MICRO) for day, amount in coming.get(pk, []))
        found[str(pk)] = Source(supplier, days, due)
    return found


def _room() -> float:
    """mL of the largest cup; none without cups."""
    most = Cup.objects.filter(archived=False).order_by("-most_ml").values_list("most_ml", flat=True)
    return float(most.first() or 0)


def _most_melts(versions: Iterable[RecipeVersion], bench: Bench) -> int:
    """The least of what the grades bear: each leftover goes into one of them."""
    return min((v.grade.melt_limit or bench.most_melts for v in versions), default=bench.most_melts)


# -- evenings --------------------------------------------------------------------------------------


def _evenings(
    bench: Bench, today: datetime.date, until: datetime.date, tonight: Tonight
) -> list[promise.Evening]:
    """The evenings on which the shop pours, tonight's with what is left of it."""
    last = min(until, today + datetime.timedelta(days=MOST_DAYS))
    last += datetime.timedelta(days=BEYOND_DAYS)
    found: list[promise.Evening] = []
    day = today
    while day <= last and len(found) < MOST_EVENINGS:
        if day == today and tonight.pour:
            if left := tonight.minutes(bench):
                found.append(promise.Evening(day, left))
        elif str(day.isoweekday()) in bench.pour_weekdays and day not in tonight.closed:
            found.append(promise.Evening(day, float(bench.evening_minutes)))
        day += datetime.timedelta(days=1)
    return found


# -- names -----------------------------------------------------------------------------------------


def _names(products, molds, patterns, versions, items, kinds) -> dict[str, str]:
    names = {product_key(pk): str(product) for pk, product in products.items()}
    names |= {f"m{mold.pk}": mold.name for mold in molds}
    names |= {f"p{pk}": pattern.name for pk, pattern in patterns.items()}
    names |= {f"r{pk}": str(version.recipe) for pk, version in versions.items()}
    names |= {str(pk): item.name for pk, item in items.items()}
    baits: Sequence[int] = [bait for bait, _, _ in kinds]
    told = Bait.objects.filter(pk__in=set(baits)).values_list("pk", "name")
    names |= {f"b{pk}": name for pk, name in told}
    return names | {NOWHERE: "a mold that is in use"}
