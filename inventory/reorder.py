"""What to buy: items at or under their minimum, in whole packs, at the least cost.

Quantities are millionths of the item's stock unit, prices the currency's minor unit.
"""

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Offer:
    """One way to buy: a pack of `quantity` (> 0) at `price_minor`. `key` is the caller's own."""

    key: int
    quantity: int
    price_minor: int


@dataclass(frozen=True)
class Purchase:
    """`count` whole packs of one offer."""

    offer: Offer
    count: int

    @property
    def quantity(self) -> int:
        return self.count * self.offer.quantity

    @property
    def price_minor(self) -> int:
        return self.count * self.offer.price_minor


def is_low(on_hand: int, minimum: int) -> bool:
    """At the minimum is already low: the next bottle takes its lead time. No minimum, never low."""
    return minimum > 0 and on_hand <= minimum


def to_buy(on_hand: int, minimum: int, target: int) -> int:
    """How much brings a low item up to its target, 0 when it isn't low.

    A target below the minimum counts as the minimum. At the minimum with nothing above it to reach,
    the least amount is asked for, so that one pack is bought."""
    if not is_low(on_hand, minimum):
        return 0
    return max(max(target, minimum) - on_hand, 1)


def whole_packs(need: int, offers: Sequence[Offer]) -> Purchase | None:
    """The cheapest number of whole packs of one offer that covers `need`; None without offers.

    Of equal prices the one with least left over is taken, then the first."""
    if need <= 0 or not offers:
        return None
    purchases = [Purchase(offer, -(-need // offer.quantity)) for offer in offers]
    return min(purchases, key=lambda purchase: (purchase.price_minor, purchase.quantity))
