"""Price breaks as people write them: "10: 5.90, 25: 5.40" (from so many packs, the price of each).

Prices are in the currency's minor unit (cents)."""

import re
from collections.abc import Iterable
from decimal import ROUND_HALF_UP, Decimal

from inventory import amounts

EXAMPLE = "10: 5.90, 25: 5.40"
#: More steps than any list has.
MOST = 8
#: The same bounds as for a price and a number of packs elsewhere.
MOST_PACKS = 10_000
MOST_MINOR = 1_000_000_000 * 100


class PriceBreakError(ValueError):
    """Breaks that can't be read; the text says which, and how to write them."""


def parse(text: str, *, price_minor: int | None = None) -> list[tuple[int, int]]:
    """(From so many packs, price in the minor unit), the counts rising and the prices falling.

    `price_minor` is the plain price that the first break has to be under, where it is known. Raises
    PriceBreakError."""
    found: list[tuple[int, int]] = []
    for part in re.split(r"[,;\n]", text):
        if part.strip():
            found.append(_one(part.strip()))
    if len(found) > MOST:
        raise PriceBreakError(f"Write at most {MOST} price breaks.")
    before: tuple[int, int | None] = (1, price_minor)
    for packs, price in found:
        if packs <= before[0]:
            raise PriceBreakError(
                f"The break from {packs} has to come after {before[0]}: write them in rising order, "
                f"from 2 packs on."
            )
        if before[1] is not None and price >= before[1]:
            raise PriceBreakError(
                f"From {packs} packs a pack has to cost less than {show_price(before[1])}."
            )
        before = packs, price
    return found


def show(breaks: Iterable[tuple[int, int]]) -> str:
    """The breaks as `parse` reads them."""
    return ", ".join(f"{packs}: {show_price(price)}" for packs, price in breaks)


def show_price(minor: int) -> str:
    return f"{Decimal(minor) / 100:.2f}"


def _one(part: str) -> tuple[int, int]:
    packs, colon, price = part.replace("=", ":").partition(":")
    if not colon:
        raise PriceBreakError(f"“{part}” has no price. Write it like {EXAMPLE}.")
    try:
        count = amounts.number(packs.strip())
        money = amounts.number(price.strip().lstrip("$€£ "))
    except amounts.AmountError as error:
        raise PriceBreakError(f"“{part}” can't be read. Write it like {EXAMPLE}.") from error
    if count != int(count) or not 2 <= count <= MOST_PACKS:
        raise PriceBreakError(f"“{part}”: a break begins at a whole number of packs, from 2 on.")
    minor = money * 100
    if minor != int(minor) or minor > MOST_MINOR:
        raise PriceBreakError(f"“{part}”: write the price with at most two decimals.")
    return int(count), int(minor.quantize(Decimal(1), rounding=ROUND_HALF_UP))
