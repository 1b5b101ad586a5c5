"""Keeping cups, baits and molds."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_FLOOR, ROUND_HALF_EVEN, Decimal

from django.db import transaction

from inventory import amounts
from inventory.models import Item
from production import molding
from production.models import Bait, Cavity, Cup, Mold
from production.services.refusals import Refusal, keep, refuse_taken_name

_TENTH, _HUNDREDTH, _THOUSANDTH = Decimal("0.1"), Decimal("0.01"), Decimal("0.001")


@dataclass(frozen=True)
class Inlay:
    """What lies in each cavity before the shot, and how many of it; no item: nothing."""

    item: Item | None = None
    each: int = 1


@dataclass(frozen=True)
class CavitySpec:
    """So many cavities of one bait, each of so many mL. `inlay` None: as it was."""

    bait: Bait
    count: int
    bait_ml: Decimal
    inlay: Inlay | None = None


@dataclass(frozen=True)
class WeighedSpec:
    """So many cavities of one bait, whose trimmed baits weigh so many grams together, without what
    lies in them before the shot."""

    bait: Bait
    count: int
    grams: Decimal
    inlay: Inlay | None = None


@transaction.atomic
def save_cup(
    *,
    cup: Cup | None = None,
    number: int,
    least_ml: Decimal,
    most_ml: Decimal,
    tare_g: Decimal | None = None,
    archived: bool = False,
) -> Cup:
    """Makes or changes a cup. Raises Refusal: number taken, or more at least than at most."""
    cup = cup or Cup()
    if Cup.objects.exclude(pk=cup.pk).filter(number=number).exists():
        raise Refusal(f"There is already a cup {number}.", field="number")
    if least_ml >= most_ml:
        raise Refusal("The least fill must be below the largest.", field="least_ml")
    cup.number, cup.archived = number, archived
    cup.tare_g = None if tare_g is None else _rounded(tare_g, _HUNDREDTH)
    cup.least_ml, cup.most_ml = _rounded(least_ml), _rounded(most_ml)
    keep(cup)
    return cup


@transaction.atomic
def save_bait(
    *,
    bait: Bait | None = None,
    name: str,
    length_mm: Decimal,
    flat: bool = False,
    archived: bool = False,
) -> Bait:
    """Makes or changes a bait: a shape and length. Raises Refusal when its name is taken."""
    bait = bait or Bait()
    bait.name, bait.flat, bait.archived = name.strip(), flat, archived
    bait.length_mm = _rounded(length_mm, _TENTH)
    refuse_taken_name(Bait.objects.exclude(pk=bait.pk), bait.name, "bait")
    keep(bait)
    return bait


@transaction.atomic
def save_mold(
    *,
    mold: Mold | None = None,
    name: str,
    shot_ml: Decimal,
    cavities: Sequence[CavitySpec],
    copies: int = 1,
    minutes_per_cycle: Decimal = Decimal(6),
    notes: str | None = None,
    archived: bool = False,
) -> Mold:
    """Makes or changes a mold and its cavities; what the shot holds beyond the baits is sprue.

    `notes` None: as they were. Raises Refusal: name taken, a bait twice, baits that together are
    bigger than the shot, or a part that is not counted."""
    mold = mold or Mold()
    mold.name, mold.copies, mold.archived = name.strip(), copies, archived
    mold.minutes_per_cycle = _rounded(minutes_per_cycle, _TENTH)
    refuse_taken_name(Mold.objects.exclude(pk=mold.pk), mold.name, "mold")
    mold.shot_ml = _rounded(shot_ml)
    _refuse_impossible(mold.shot_ml, cavities)
    if notes is not None:
        mold.notes = notes
    keep(mold)
    before = {
        cavity.bait_id: Inlay(cavity.part, cavity.parts_each)
        for cavity in mold.cavities.select_related("part")
    }
    mold.cavities.all().delete()
    for row, spec in enumerate(cavities):
        inlay = spec.inlay or before.get(spec.bait.pk, Inlay())
        cavity = Cavity(
            mold=mold,
            bait=spec.bait,
            count=spec.count,
            bait_ml=_rounded(spec.bait_ml),
            part=inlay.item,
            parts_each=inlay.each,
        )
        keep(cavity, row=row)
    return mold


def save_weighed_mold(
    *, shot_g: Decimal, density: Decimal, cavities: Sequence[WeighedSpec], **facts
) -> Mold:
    """Makes or changes a mold from one weighed shot; `facts` are save_mold's other ones.

    density: g per mL of the cold plastic. Raises Refusal like save_mold, and for baits that weigh
    more than their shot."""
    weighed = {row: (spec.count, spec.grams) for row, spec in enumerate(cavities)}
    try:
        volumes = molding.from_weighed_shot(shot_g, weighed, density)
    except molding.MoldError as error:
        raise Refusal(str(error), field="shot_g") from error
    known = [
        # Rounded down, so that rounding alone never makes the baits bigger than their shot.
        CavitySpec(
            spec.bait,
            spec.count,
            volumes.bait_ml[row].quantize(_THOUSANDTH, ROUND_FLOOR),
            spec.inlay,
        )
        for row, spec in enumerate(cavities)
    ]
    return save_mold(shot_ml=volumes.shot_ml, cavities=known, **facts)


@transaction.atomic
def correct_volume(*, mold: Mold, shot_ml: Decimal) -> Mold:
    """Sets what a shot takes (mL of cold plastic); baits and sprue grow or shrink alike.

    Raises Refusal for a volume that no mold can have."""
    mold = Mold.objects.select_for_update(of=("self",)).get(pk=mold.pk)
    factor, mold.shot_ml = Decimal(shot_ml) / mold.shot_ml, _rounded(shot_ml)
    keep(mold)
    for row, cavity in enumerate(mold.cavities.all()):
        # Rounded down, so that rounding alone never makes the baits bigger than their shot.
        cavity.bait_ml = (cavity.bait_ml * factor).quantize(_THOUSANDTH, ROUND_FLOOR)
        keep(cavity, row=row)
    return mold


def _rounded(value: Decimal, step: Decimal = _THOUSANDTH) -> Decimal:
    return Decimal(value).quantize(step, ROUND_HALF_EVEN)


def _refuse_impossible(shot_ml: Decimal, cavities: Sequence[CavitySpec]) -> None:
    if not cavities:
        raise Refusal("A mold has cavities for at least one bait.")
    seen = set()
    for row, spec in enumerate(cavities):
        if spec.bait.pk in seen:
            raise Refusal(f"{spec.bait} is already in this mold.", field="bait", row=row)
        seen.add(spec.bait.pk)
        part = spec.inlay.item if spec.inlay else None
        if part and (part.kind != Item.Kind.PART or part.stock_unit != "each"):
            raise Refusal(f"{part} is no part that is counted.", field="part", row=row)
    baits = sum(spec.count * spec.bait_ml for spec in cavities)
    if baits > shot_ml:
        raise Refusal(
            f"The baits hold {amounts.show(baits, 'mL')} together, more than one shot of "
            f"{amounts.show(shot_ml, 'mL')}.",
            field="shot_ml",
        )
