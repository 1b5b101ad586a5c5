"""Mixing a batch: base and doses leave the shelf, and a lot in mL of base stands in a cup."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from inventory import allocation, lineage, queries, units
from inventory.models import Entry, Item, Lot, Movement
from inventory.services import ledger, lots
from inventory.services.posting import Key, LedgerError, posting
from inventory.wording import quantity_text
from production import doses as dosing
from production.models import Batch, Cup, Pour, RecipeVersion
from production.services import evenings, recipes
from production.services.refusals import Refusal

#: Kinds of item that hold base, measured in mL of it.
PLASTIC = (Item.Kind.PLASTISOL, Item.Kind.LEFTOVER)
#: In a leftover item's `grades`: part of it has no papers.
UNRECORDED = "none"


@dataclass(frozen=True)
class Part:
    """One thing that goes into the cup: `quantity` millionths of the item's stock unit.

    With no `lot`, the first expiring lots are drawn; when there is none, one is made and marked
    found. Leftovers are named by their lot and measured in mL of base."""

    item: Item
    quantity: int
    lot: Lot | None = None
    said: str = ""
    estimated: bool = False


@posting
def mix(
    key: Key,
    *,
    pour: Pour,
    version: RecipeVersion | None,
    parts: list[Part],
    cup: Cup | None = None,
    look_at: str = "",
    note: str = "",
    happened_at: datetime | None = None,
    by,
) -> Entry:
    """Posts one batch; never refused for lack of stock (rule 3). Freezes the recipe version.

    However late it gets, the entry keeps the date on which the evening began. Raises EveningClosed."""
    evenings.still_open(pour)
    return pour_in(
        key,
        pour=pour,
        version=version,
        parts=parts,
        cup=cup,
        look_at=look_at,
        note=note,
        happened_at=happened_at,
        by=by,
    )


def pour_in(
    key: Key,
    *,
    pour: Pour,
    version: RecipeVersion | None,
    parts: list[Part],
    cup: Cup | None,
    look_at: str,
    note: str,
    happened_at: datetime | None,
    by,
) -> Entry:
    """What `mix` does, inside another posting's transaction."""
    day = pour.business_date
    draws = [draw for part in parts for draw in draws_for(part, day)]
    base = _some_base(draws)
    contents = mixed(draws, queries.compositions({draw.lot.pk for draw in draws}))
    lot = lots.open_lot(leftover_item(contents), Lot.Form.LIQUID, day, melts=melts_of(draws))
    # Two batches mixed at once are numbered one after the other.
    Pour.objects.select_for_update(of=("self",)).get(pk=pour.pk)
    number = pour.batches.count() + 1
    event = mix_event(pour, number, version, lot, base, draws, note, look_at, happened_at)
    entry = ledger.post(key, event, by=by)
    _ask_for_a_count(draws)
    if version:
        freeze(version, entry.happened_at)
    Batch.objects.create(
        pour=pour,
        number=number,
        lot=lot,
        entry=entry,
        version=version,
        cup=cup,
        total=total_volume(contents),
    )
    return entry


def mix_event(
    pour: Pour,
    number: int,
    version: RecipeVersion | None,
    lot: Lot,
    base: int,
    draws: list[ledger.Draw],
    note: str,
    look_at: str,
    happened_at: datetime | None,
) -> ledger.Event:
    """What is drawn becomes `base` millionths of a mL in the batch's lot."""
    return ledger.Event(
        kind=Entry.Kind.BATCH,
        title=_title(number, version, base),
        happened_at=happened_at,
        business_date=pour.business_date,
        note=note,
        reference=f"pour:{pour.pk}",
        look_at=look_at,
        draws=draws,
        makes=[ledger.Make(lot, base, base=base)],
    )


def _some_base(draws: list[ledger.Draw]) -> int:
    """The base in a mix: without any there is nothing to shoot, and no dose to speak of."""
    base = base_of(draws)
    if not base:
        raise LedgerError("A batch needs some base: plastisol, a leftover or trim.")
    return base


def _title(number: int, version: RecipeVersion | None, base: int) -> str:
    name = str(version.recipe) if version else "free hand"
    return f"Batch {number}, {name}: {quantity_text(base, 'mL')} of base"


def freeze(version: RecipeVersion, at: datetime) -> None:
    """A version that was poured is never edited again (rule 6)."""
    RecipeVersion.objects.filter(pk=version.pk, frozen_at=None).update(frozen_at=at)


@posting
def add(
    key: Key,
    *,
    batch: Batch,
    parts: list[Part],
    look_at: str = "",
    note: str = "",
    happened_at: datetime | None = None,
    by,
) -> Entry:
    """Posts more of anything into a batch that nothing was taken from yet: dose, base or leftover.

    Never refused for lack of stock (rule 3). Raises AlreadyUsed when the batch has one composition
    that its baits already carry, and LedgerError when its evening is closed or it was set aside."""
    batch = _for_change(batch)
    if batch.lot.form == Lot.Form.PUCK:
        raise LedgerError(
            f"{batch} was set aside. Start a new batch from it, then add to that one."
        )
    if is_used(batch):
        raise AlreadyUsed(batch)
    draws = [draw for part in parts for draw in draws_for(part, batch.pour.business_date)]
    base = base_of(draws)
    what = ", ".join(
        f"{part.said or quantity_text(part.quantity, part.item.stock_unit)} {part.item}"
        for part in parts
    )
    event = ledger.Event(
        kind=Entry.Kind.ADDITION,
        title=f"Added to batch {batch.number}: {what}",
        happened_at=happened_at,
        business_date=batch.pour.business_date,
        note=note,
        reference=f"pour:{batch.pour_id}",
        look_at=look_at,
        draws=draws,
        makes=[ledger.Make(batch.lot, base, base=base)],
    )
    entry = ledger.post(key, event, by=by)
    _ask_for_a_count(draws)
    bring_up_to_date([batch])
    return entry


@posting
def amend(
    key: Key, *, batch: Batch, parts: list[Part], reason: str = "", look_at: str = "", by
) -> Entry:
    """Writes the batch's mix anew: the old entry is undone and `parts` stand in its place (rule 9).

    Always possible, also after its baits were bagged: everything made of it is derived again. After
    the evening was closed it is for the owner; the page sees to that."""
    batch = _locked(batch)
    draws = [draw for part in parts for draw in draws_for(part, batch.pour.business_date)]
    base = _some_base(draws)
    old = batch.entry
    event = ledger.Event(
        kind=Entry.Kind.BATCH,
        title=_title(batch.number, batch.version, base),
        happened_at=old.happened_at,
        business_date=old.business_date,
        note=reason,
        reference=old.reference,
        look_at=look_at,
        draws=draws,
        makes=[ledger.Make(batch.lot, base, base=base)],
    )
    entry = ledger.post(key, event, by=by, amends=old)
    _ask_for_a_count(draws)
    Batch.objects.filter(pk=batch.pk).update(entry=entry)
    touched = [batch.lot_id, *(lot.pk for lot in lineage.trace_forward(batch.lot))]
    bring_up_to_date(Batch.objects.filter(lot__in=touched).select_related("lot"))
    return entry


def parts_of(entry: Entry) -> list[Part]:
    """What an entry drew, as parts that can be drawn again."""
    lines = entry.movements.filter(role=Movement.Role.DRAWN, revalues=None)
    return [
        Part(line.lot.item, -line.quantity, line.lot, line.said, line.estimated)
        for line in lines.select_related("lot__item").order_by("id")
    ]


@transaction.atomic
def keep_as_recipe(
    *, batch: Batch, name: str, reference_amount: Decimal, reference_unit: str
) -> RecipeVersion:
    """Makes a recipe of a free-hand batch: its real doses for so much base. The batch is its first.

    Raises Refusal: name taken, a recipe already behind it, or plastic without papers in it."""
    batch = _locked(batch)
    if batch.version:
        raise Refusal(f"{batch} already has a recipe: {batch.version}.")
    grades, _doses = real_doses(batch)
    if not grades:
        raise Refusal("Its base has no papers, so nobody could mix it again.")
    reference = recipes.reference_ml(reference_amount, reference_unit)
    version = recipes.create(
        name=name,
        grade=grades[0],
        reference_amount=reference_amount,
        reference_unit=reference_unit,
        doses=[
            recipes.DoseSpec(item, amount, item.stock_unit)
            for item, amount in doses_per(batch, reference)
        ],
    )
    Batch.objects.filter(pk=batch.pk).update(version=version)
    freeze(version, batch.entry.happened_at)
    return version


def doses_per(batch: Batch, reference_ml: Decimal) -> list[tuple[Item, Decimal]]:
    """A batch's real doses for so many mL of its base, in stock units; what is too little is left out."""
    _grades, doses = real_doses(batch)
    reference = units.to_micro(reference_ml)
    return [
        (item, units.from_micro(each))
        for item, quantity in doses
        if (each := allocation.portion(quantity, reference, batch.lot.made))
    ]


def real_doses(batch: Batch) -> tuple[list[Item], list[tuple[Item, int]]]:
    """What is really in a batch: its base grades, most of it first, and each dose in millionths."""
    contents = queries.composition(batch.lot)
    items = Item.objects.in_bulk(contents)
    of_kind = sorted(contents.items(), key=lambda pair: (-pair[1], pair[0]))
    grades = [items[pk] for pk, _q in of_kind if items[pk].kind == Item.Kind.PLASTISOL]
    doses = [(items[pk], q) for pk, q in contents.items() if items[pk].kind in Item.DOSED]
    return grades, doses


@transaction.atomic
def finish(*, batch: Batch, at: datetime | None = None) -> None:
    """“That's it”: no more additions are expected. Said twice, the first time counts."""
    batch = _for_change(batch)
    Batch.objects.filter(pk=batch.pk, mixed_at=None).update(mixed_at=at or timezone.now())


@transaction.atomic
def judge(*, batch: Batch, verdict: str) -> None:
    """Pale, right or dark; said again, the last word counts."""
    batch = _for_change(batch)
    Batch.objects.filter(pk=batch.pk).update(verdict=Batch.Verdict(verdict))


@transaction.atomic
def degas(*, batch: Batch, degassed: bool) -> None:
    """Whether the batch went under vacuum; said again, the last word counts."""
    batch = _for_change(batch)
    Batch.objects.filter(pk=batch.pk).update(degassed=degassed)


class AlreadyUsed(LedgerError):
    """Baits or another batch were made of it: was the addition forgotten, or is it the next color?"""

    def __init__(self, batch: Batch) -> None:
        super().__init__(
            f"{batch} was poured from already. Was this forgotten earlier, or is it the next color?"
        )


def is_used(batch: Batch) -> bool:
    """Whether anything standing was taken out of the batch's lot."""
    return Movement.objects.filter(
        queries.STANDING_LINE, lot=batch.lot_id, role=Movement.Role.DRAWN, revalues=None
    ).exists()


def bring_up_to_date(batches: Iterable[Batch]) -> None:
    """Derives a batch's total, its grade and its melts from what the ledger says went into it.

    Call it when entries that fill the batch's lot were added, amended or undone."""
    for batch in batches:
        contents = queries.composition(batch.lot)
        if not contents:
            continue
        item = leftover_item(contents)
        sources = Lot.objects.filter(
            pk__in=[parent for parent, _ in lineage.parents_of([batch.lot_id])]
        )
        melts = 1 + (sources.aggregate(most=Max("melts"))["most"] or 0)
        Lot.objects.filter(pk=batch.lot_id).update(item=item, melts=melts)
        Batch.objects.filter(pk=batch.pk).update(total=total_volume(contents))
        batch.lot.item, batch.lot.melts = item, melts


def after_undo(*, entry: Entry, **_signal) -> None:
    """An addition was undone: its batch holds less of it."""
    if entry.kind == Entry.Kind.ADDITION:
        made = entry.movements.filter(role=Movement.Role.MADE).values("lot")
        bring_up_to_date(Batch.objects.filter(lot__in=made).select_related("lot"))


def _locked(batch: Batch) -> Batch:
    """The batch as it is now, its row held until the transaction ends."""
    rows = Batch.objects.select_for_update(of=("self",))
    return rows.select_related("lot__item", "pour", "entry", "version__recipe").get(pk=batch.pk)


def _for_change(batch: Batch) -> Batch:
    batch = _locked(batch)
    evenings.still_open(batch.pour, f"{batch} stays as it is. The owner can amend it.")
    if Entry.objects.filter(reverses=batch.entry_id).exists():
        raise LedgerError(f"{batch} was undone meanwhile. Mix it as a new batch.")
    return batch


def melts_of(draws: list[ledger.Draw]) -> int:
    """Melts of what is mixed: one more than of anything in it."""
    return 1 + max((draw.lot.melts for draw in draws), default=0)


def base_of(draws: Iterable[ledger.Draw]) -> int:
    """Millionths of a mL of base in what is drawn: plastisol and poured plastic."""
    return sum(draw.quantity for draw in draws if draw.lot.item.kind in PLASTIC)


def _ask_for_a_count(draws: list[ledger.Draw]) -> None:
    """Said in a measure without a figure: nothing was taken off the bottle, so it must be counted."""
    unmeasured = [draw.lot.pk for draw in draws if draw.estimated and not draw.quantity]
    Lot.objects.filter(pk__in=unmeasured).update(count_me=True)


def total_volume(contents: dict[int, int]) -> int:
    """Millionths of a mL that a mix fills: base, liquid additions, and solids by their density.

    Spoon volumes of flake go by their weight. A weight whose density nobody knows is left out: the
    bench is never refused for a missing figure."""
    return volume_of(contents, Item.objects.in_bulk(contents))


def volume_of(contents: Mapping[int, int], items: Mapping[int, Item]) -> int:
    """What `total_volume` says, of items at hand: no query."""
    base, additions = Decimal(0), []
    for item_id, quantity in contents.items():
        item, amount, unit = items[item_id], units.from_micro(quantity), items[item_id].stock_unit
        if item.kind == Item.Kind.PLASTISOL:
            base += amount
            continue
        if unit == "mL" and item.g_per_tsp and item.density_g_per_ml:
            amount, unit = units.convert(amount, "mL", "g", g_per_tsp=item.g_per_tsp), "g"
        if unit == "mL" or (unit == "g" and item.density_g_per_ml):
            additions.append((amount, unit, item.density_g_per_ml))
    return units.to_micro(dosing.total_volume(base, additions))


def base_in(lot: Lot, total: int) -> int:
    """Millionths of a mL of base in `total` of the colored plastic that a lot holds."""
    whole = _whole(lot)
    return allocation.portion(total, lot.made, whole) if whole else total


def plastic_of(lot: Lot, base: int) -> int:
    """Millionths of a mL of the colored plastic that brings so much base out of a lot."""
    return allocation.portion(base, _whole(lot), lot.made) if lot.made else base


def _whole(lot: Lot) -> int:
    contents = queries.composition(lot)
    return total_volume(contents) if contents else lot.made


def leftover_item(contents: Iterable[int]) -> Item:
    """The item that poured plastic made of these items is stocked as; a blend is a grade of its own."""
    return _poured(grades_in(contents))


def grades_in(contents: Iterable[int]) -> str:
    """The grades of a mix as a leftover item names them: "12", or "12+15" for a blend.

    Plastic without papers keeps its mark through every blend: nobody knows what is in it."""
    return grades_of(Item.objects.filter(pk__in=list(contents), kind__in=PLASTIC))


def grades_of(items: Iterable[Item]) -> str:
    """What `grades_in` says, of items at hand: no query."""
    plastic = (item for item in items if item.kind in PLASTIC)
    codes = {code for item in plastic for code in (item.grades or str(item.pk)).split("+")}
    return _joined(codes or {UNRECORDED})


def unrecorded_item(grade: Item | None) -> Item:
    """The item of plastic whose color nobody wrote down; its base may be known."""
    return _poured(_joined({UNRECORDED, str(grade.pk)} if grade else {UNRECORDED}))


def _joined(codes: set[str]) -> str:
    known = sorted(codes - {UNRECORDED}, key=int)
    return "+".join([*known, *(codes & {UNRECORDED})])


def _poured(grades: str) -> Item:
    codes = grades.split("+")
    known = list(Item.objects.filter(pk__in=[c for c in codes if c != UNRECORDED]).order_by("pk"))
    names = [grade.name for grade in known] + ["unrecorded plastic"] * (UNRECORDED in codes)
    item, _ = Item.objects.get_or_create(
        grades=grades,
        defaults={
            "kind": Item.Kind.LEFTOVER,
            "name": f"Poured {' + '.join(names)}"[:120],
            "stock_unit": "mL",
            "density_g_per_ml": known[0].density_g_per_ml if known else None,
        },
    )
    return item


def mixed(draws: list[ledger.Draw], holds: Mapping[int, dict[int, int]]) -> dict[int, int]:
    """What is drawn together holds, by item; `holds`: the compositions of the lots drawn from."""
    total: dict[int, int] = {}
    for draw in draws:
        mix = queries.share_of(draw.lot, holds.get(draw.lot.pk, {}), draw.quantity)
        for item_id, quantity in mix.items():
            total[item_id] = total.get(item_id, 0) + quantity
    return total


def _at_hand(item: Item) -> Lot | None:
    """The lot that a bit of the item, said without a figure, came from."""
    stocked = item.lots.in_stock().select_related("item").first_expiring_first()
    return stocked.first() or item.lots.select_related("item").order_by("-pk").first()


def draws_for(part: Part, day: date) -> list[ledger.Draw]:
    """The draws of one part, by the bench's rule: never refused (rule 3)."""
    picked = [(part.lot, part.quantity)] if part.lot else queries.pick(part.item, part.quantity)
    if not picked and (lot := _at_hand(part.item)):
        picked = [(lot, part.quantity)]
    if not picked:
        # What nobody put a figure to costs nothing yet; anything more costs nobody knows what.
        cost = None if part.quantity else 0
        found = lots.open_lot(part.item, Lot.Form.PACK, day, found=True, count_me=True, cost=cost)
        picked = [(found, part.quantity)]
    return [
        ledger.Draw(lot, quantity, bench=True, said=part.said, estimated=part.estimated)
        for lot, quantity in picked
    ]
