"""The cheapest mix of pack sizes that covers the need of one item, found exactly.

Packs are decided one after another, best price per amount first. A partial order is dropped when
another one is cheaper, holds as much and stands as well with its supplier, or when even the best rate
still to come cannot bring it under the cheapest complete order known (label-setting with bounds).
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

from inventory import packs as packs_
from inventory.packs import Pack, Purchase, Terms

# Met only where a minimum is many times the need; past it only the most promising orders go on.
_PATIENCE = 50_000


class _Label(NamedTuple):
    """A partial order: what is settled with earlier suppliers, goods so far with this one (None while
    nothing is bought there), the quantity it holds in how many packs, and how it came about."""

    settled: int
    goods: int | None
    quantity: int
    packs: int
    trail: tuple | None

    @property
    def total(self) -> int:
        return self.settled + (self.goods or 0)


class _Rate(NamedTuple):
    """A price for a quantity; the pack it belongs to is the best one still to be decided."""

    price: int
    quantity: int


def cover(
    need: float, packs: Sequence[Pack], *, on_hand: float = 0, terms: Iterable[Terms] = ()
) -> Purchase:
    """Return the cheapest purchase that brings `on_hand` up to `need` (stock units, both finite).

    Packs of one supplier or several may be mixed; `terms` holds what each asks of a whole order, and
    goods are bought beyond the need where a price break, a minimum or free shipping makes that cheaper.
    Of equal prices the one with least left over is taken, then the one with fewer packs. Nothing needed
    is an empty purchase; `covers` is False when there is nothing to buy from.
    """
    short = packs_.amount_micro(need, "the need") - packs_.amount_micro(on_hand, "on hand")
    if short <= 0:
        return Purchase()
    by_supplier = packs_.terms_by_supplier(packs, terms)
    target = packs_.target_micro(short)
    simple = min(_of_one_pack(packs, by_supplier, target), key=_rank, default=None)
    if simple is None:
        return Purchase(covers=False)
    ordered = sorted(packs, key=_rate)
    groups = {
        pack.supplier: [p for p in ordered if p.supplier == pack.supplier] for pack in ordered
    }
    labels, proven = _search(list(groups.values()), by_supplier, target, simple.total)
    best = min([*(label for label in labels if label.quantity >= target), simple], key=_rank)
    purchase = packs_.priced(reversed(list(_steps(best))), by_supplier, proven)
    assert purchase is not None, "a settled order has met its minimums"
    return purchase


def _rate(pack: Pack) -> float:
    return pack.lowest_price_micro / pack.quantity_micro


def _rank(label: _Label) -> tuple[int, int, int]:
    return label.total, label.quantity, label.packs


def _of_one_pack(
    packs: Sequence[Pack], terms: Mapping[str, Terms], target: int
) -> Iterator[_Label]:
    """Complete orders of one pack size: the cheapest is the mark that any mix has to meet."""
    for pack in packs:
        term = terms[pack.supplier]
        enough = max(pack.least, -(-target // pack.quantity_micro))
        counts = {enough}
        for start, price in pack.tiers:
            each = round(price * packs_.MICRO)
            for goods in (0, term.minimum_micro, term.free_from_micro or 0):
                counts.add(max(enough, start, -(-goods // each) if each else 0))
        for count in counts:
            goods = count * pack.each_micro(count)
            if goods >= term.minimum_micro:
                total = goods + term.shipping_micro(goods)
                held = count * pack.quantity_micro
                yield _Label(total, None, held, count, (None, pack, count))


def _search(
    groups: list[list[Pack]], terms: Mapping[str, Terms], target: int, limit: int
) -> tuple[list[_Label], bool]:
    """Decide supplier after supplier, pack after pack; return the orders left and whether all of
    those that could win were looked at."""
    labels = [_Label(0, None, 0, 0, None)]
    rest = [pack for group in groups for pack in group]
    proven = True
    for group in groups:
        term = terms[group[0].supplier]
        for pack in group:
            rest = rest[1:]
            best = min(rest, key=_rate, default=None)
            rate = _Rate(best.lowest_price_micro, best.quantity_micro) if best else None
            grown = (
                label
                for start in labels
                for label in _with_pack(start, pack, term, target)
                if _may_win(label, term, rate, target, limit)
            )
            labels = _undominated(grown, term, target)
            if len(labels) > _PATIENCE:
                labels, proven = sorted(labels, key=_promise(rate, target))[:_PATIENCE], False
        labels = _undominated(_settled(labels, term), Terms(""), target)
        limit = min([limit, *(label.total for label in labels if label.quantity >= target)])
    return labels, proven


def _with_pack(label: _Label, pack: Pack, term: Terms, target: int) -> Iterator[_Label]:
    """The label as it is, then with every count of the pack that can be worth buying."""
    yield label
    goods = label.goods or 0
    short = max(0, target - label.quantity)
    missing = max(0, term.threshold_micro - goods)
    if not short and (label.goods is None or not missing):
        return
    for count in range(pack.least, packs_.most_worth_buying(pack, short, missing) + 1):
        yield _Label(
            label.settled,
            goods + count * pack.each_micro(count),
            label.quantity + count * pack.quantity_micro,
            label.packs + count,
            (label.trail, pack, count),
        )


def _may_win(label: _Label, term: Terms, rate: _Rate | None, target: int, limit: int) -> bool:
    """Whether a completion of the label can still cost no more than `limit`."""
    if label.goods is not None and label.settled + max(label.goods, term.minimum_micro) > limit:
        return False
    short = max(0, target - label.quantity)
    if rate is None:
        return not short and label.total <= limit
    return (label.total - limit) * rate.quantity + short * rate.price <= 0


def _promise(rate: _Rate | None, target: int):
    """Sorts labels by the least that they can end up costing."""
    per = rate.price / rate.quantity if rate else 0
    return lambda label: label.total + max(0, target - label.quantity) * per


def _undominated(labels: Iterable[_Label], term: Terms, target: int) -> list[_Label]:
    """Drop what cannot be the cheapest whatever is bought next.

    Orders stand equally with the supplier when both are past all that it asks, or have goods for the
    same sum; only then does cheaper and no smaller beat dearer. Equal totals all stay: which has the
    least left over shows at the end.
    """
    standing: dict[int | None, dict[tuple[int, int], _Label]] = {}
    for label in labels:
        stands = None if label.goods is None else min(label.goods, term.threshold_micro)
        peers = standing.setdefault(stands, {})
        twin = peers.get((label.total, label.quantity))
        if twin is None or label.packs < twin.packs:
            peers[label.total, label.quantity] = label
    kept = []
    for peers in standing.values():
        most = -1
        for total, quantity in sorted(peers):
            if min(quantity, target) > most:
                kept.append(peers[total, quantity])
                most = min(quantity, target)
    return kept


def _settled(labels: Iterable[_Label], term: Terms) -> Iterator[_Label]:
    """Close the order with one supplier: below its minimum it isn't taken; shipping comes on top."""
    for label in labels:
        if label.goods is None:
            yield label
        elif label.goods >= term.minimum_micro:
            paid = label.total + term.shipping_micro(label.goods)
            yield _Label(paid, None, label.quantity, label.packs, label.trail)


def _steps(label: _Label) -> Iterator[tuple[Pack, int]]:
    trail = label.trail
    while trail:
        trail, pack, count = trail
        yield pack, count
