"""What an emptied bottle tells about its drops, and an emptied jar about its spoons.

What really left it in drops is all that it ever held less what left it in other ways; divided by the
drops that were said, that is the size of one. Counts in between don't matter: they mend the books,
and both ends are known for themselves.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal, localcontext

from inventory import amounts, units

#: How far off each figure may be, as a share of it. Common practice, no source.
FILLED = Decimal("0.03")  # how full it came, and what clings to its walls
MEASURED = Decimal("0.05")  # an amount that was read or weighed
GUESSED = Decimal("0.5")  # an amount marked ≈
#: Below so many drops, or spoons, the result is an anecdote.
FEWEST_DROPS = 30
FEWEST_SPOONS = 4
#: At least this share of it must have left in the measure, or the rest's errors drown it.
LEAST_SHARE = Decimal(2) / 3
_STEP = Decimal("0.0001")


class ImpliedError(ValueError):
    """The log tells nothing about the measure; the text says why."""


@dataclass(frozen=True)
class Use:
    """One line of the log that took something away: how much by the books, and the words it was
    said in."""

    quantity: Decimal
    said: str = ""
    guessed: bool = False


@dataclass(frozen=True)
class Implied:
    """The size of one drop (mL) or teaspoon (g), in four decimals: what the log makes it, and between
    what it may lie.

    `count`: drops or teaspoons it rests on, in `lines` entries; `share`: how much of the bottle or
    jar went in them."""

    size: Decimal
    low: Decimal
    high: Decimal
    count: Decimal
    lines: int
    share: Decimal

    @property
    def sureness(self) -> str:
        """How sure it is, in a word: by the width of the range."""
        width = (self.high - self.low) / self.size
        return (
            "good" if width <= Decimal("0.15") else "fair" if width <= Decimal("0.4") else "rough"
        )


def per_drop(received: Decimal, uses: Iterable[Use]) -> Implied:
    """mL per drop of a bottle that held `received` mL and is empty now. Raises ImpliedError."""
    return _implied(received, uses, "drops", ("drop",), Decimal(1), FEWEST_DROPS)


def per_spoon(received: Decimal, uses: Iterable[Use]) -> Implied:
    """g per level teaspoon of a jar that held `received` g and is empty now. Raises ImpliedError."""
    return _implied(received, uses, "spoons", units.SPOONS, units.TEASPOON_ML, FEWEST_SPOONS)


def _implied(
    received: Decimal,
    uses: Iterable[Use],
    name: str,
    measures: tuple[str, ...],
    one: Decimal,
    fewest: int,
) -> Implied:
    count, lines, other, slack = Decimal(0), 0, Decimal(0), received * FILLED
    for use in uses:
        said = _in_measure(use.said, measures, one)
        if said:
            count, lines = count + said, lines + 1
        else:
            other += use.quantity
            slack += use.quantity * (GUESSED if use.guessed else MEASURED)
    if not count:
        raise ImpliedError(f"None of it was logged in {name}.")
    if count < fewest:
        raise ImpliedError(f"Only {amounts.show(count, name)} are logged, too few to tell by.")
    left = received - other
    if left < received * LEAST_SHARE:
        raise ImpliedError(f"Too little of it went in {name}: the rest's errors would drown it.")
    with localcontext(prec=28):
        size, low, high = (
            (amount / count).quantize(_STEP) for amount in (left, left - slack, left + slack)
        )
    if size <= 0 or low <= 0:
        raise ImpliedError(f"The log names more {name} than it can have held.")
    return Implied(size, low, high, count, lines, left / received)


def _in_measure(said: str, measures: tuple[str, ...], one: Decimal) -> Decimal:
    """How many drops, or teaspoons, the words say; zero when they say something else."""
    try:
        amount = amounts.parse(said)
    except amounts.AmountError:
        return Decimal(0)
    if amount.unit not in measures:
        return Decimal(0)
    if amount.unit == "drop":
        return amount.value
    return units.convert(amount.value, amount.unit, "mL") / one
