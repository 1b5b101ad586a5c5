"""What is worth adding to an order: the next price break, or what would be bought soon anyway, to reach
free shipping. Only what pays is named.

Money is in one unit throughout (cents, as floats), times in days."""

from collections.abc import Sequence
from dataclasses import dataclass

from inventory.packs import Pack, Terms

#: What holding stock costs in a year, as a share of its price; common practice, no source.
HOLDING = 0.20
YEAR = 365
#: Savings below this are not worth a line on the page (cents).
LEAST_SAVING = 25


@dataclass(frozen=True)
class Wanted:
    """`count` of a pack on the order; its item is used at `rate` a day (0: not known) and keeps for
    `keeps` days (None: not known)."""

    pack: Pack
    count: int
    rate: float = 0.0
    keeps: int | None = None


@dataclass(frozen=True)
class Later:
    """What will have to be bought in `days` anyway: `count` of a pack."""

    pack: Pack
    count: int
    days: int


@dataclass(frozen=True)
class Break:
    """Order `count` instead: costs `extra` more now and saves `saving` in the end, holding counted."""

    pack: Pack
    count: int
    extra: float
    saving: float


@dataclass(frozen=True)
class FreeShipping:
    """Add these now: goods for `goods`, needed later anyway; shipping of `saving` (holding counted off)
    is not paid."""

    added: tuple[Later, ...]
    goods: float
    saving: float


def next_break(wanted: Wanted) -> Break | None:
    """Return the price break that pays: what more packs save later is more than they cost to hold.

    The packs beyond `count` would be bought later at the price paid now. They are held until the use of
    what is bought with them comes to them, half of that time on average, and must not outlast their shelf
    life. Without a rate of use nothing can be said."""
    pack, count = wanted.pack, wanted.count
    if not count or wanted.rate <= 0:
        return None
    now = pack.each(count)
    best: Break | None = None
    for start, price in pack.breaks:
        if start <= count or price >= now:
            continue
        waits = count * pack.quantity / wanted.rate
        lasts = start * pack.quantity / wanted.rate
        if wanted.keeps is not None and lasts > wanted.keeps:
            continue
        extra = start * price - count * now
        held = (start - count) * price * HOLDING * (waits + lasts) / 2 / YEAR
        saving = start * (now - price) - held
        if saving >= LEAST_SAVING and (best is None or saving > best.saving):
            best = Break(pack, start, extra, saving)
    return best


def to_free_shipping(goods: float, terms: Terms, later: Sequence[Later]) -> FreeShipping | None:
    """Return what to add to goods for `goods` so that shipping is free, None where that does not pay.

    Taken in the order in which it will be needed, then what turns out too much is left out again, the
    latest first. It pays when the shipping saved is more than what is added costs to hold till then."""
    if not goods or not terms.shipping or terms.free_from is None or goods >= terms.free_from:
        return None
    added: list[Later] = []
    for one in sorted(later, key=lambda one: (one.days, one.pack.key)):
        if goods + _sum(added) >= terms.free_from:
            break
        added.append(one)
    for one in reversed(list(added)):
        rest = [other for other in added if other is not one]
        if goods + _sum(rest) >= terms.free_from:
            added = rest
    if goods + _sum(added) < terms.free_from:
        return None
    held = sum(_price(one) * HOLDING * one.days / YEAR for one in added)
    saving = terms.shipping - held
    if saving < LEAST_SAVING:
        return None
    return FreeShipping(tuple(added), _sum(added), saving)


def _price(one: Later) -> float:
    return one.count * one.pack.each(one.count)


def _sum(added: Sequence[Later]) -> float:
    return sum(_price(one) for one in added)
