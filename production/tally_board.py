"""The live count as its page shows it: numbers, buttons with their keys, and what the cup still fills."""

from collections.abc import Sequence
from dataclasses import dataclass

from inventory import forms_base
from production import cup_left, tally
from production.forms import tally as presses
from production.models import Batch, Cavity, Mold, Pattern, Pour, RejectReason
from production.services import bait_lots


@dataclass(frozen=True)
class Press:
    """A button: what it does, to which bait, and the one-time key it will send."""

    do: str
    label: str
    bait: int | None = None
    reason: str = ""
    number: int = 0

    def __post_init__(self) -> None:
        object.__setattr__(self, "key", forms_base.new_key())

    @property
    def ident(self) -> str:
        return f"{self.do}-{self.bait or 0}-{self.number}"


@dataclass(frozen=True)
class Row:
    """One bait of the mold: its counts, and its buttons."""

    cavity: Cavity
    tally: tally.Tally
    second: Press
    unsecond: Press
    unreject: Press
    reasons: Sequence[tuple[Press, int]]


@dataclass(frozen=True)
class Board:
    """`shots`: how many are counted. `total`: of all the mold's baits together."""

    shots: int
    total: tally.Tally
    rows: Sequence[Row]
    shot: Press
    unshot: Press
    fills: cup_left.Fills
    #: Whole shots of the page's mold that the cup still fills.
    more: int

    @property
    def presses(self) -> list[Press]:
        """Every button of the page."""
        found = [self.shot, self.unshot]
        for row in self.rows:
            found += [row.second, row.unsecond, row.unreject]
            found += [press for press, _count in row.reasons]
        return found


def counted(pour: Pour, mold: Mold, pattern: Pattern, batches: Sequence[Batch]):
    """The standing shots that the page counts (a QuerySet)."""
    return bait_lots.alike(pour, pattern, batches).filter(mold=mold)


def board(
    pour: Pour, mold: Mold, pattern: Pattern, batches: Sequence[Batch], shares: Sequence[int]
) -> Board:
    """Everything that the page shows; its queries don't grow with the shots."""
    shots = counted(pour, mold, pattern, batches)
    found = tally.by_bait(shots)
    rows = [
        _row(cavity, found.get(cavity.bait_id, tally.Tally()))
        for cavity in mold.cavities.select_related("bait", "part")
    ]
    left = cup_left.left_ml(batches, shares)
    fills = cup_left.fills(left, Mold.objects.filter(archived=False), first=mold)
    return Board(
        tally.fills_of(shots),
        tally.total(found.values()),
        rows,
        Press(presses.SHOT, "Shot"),
        Press(presses.UNSHOT, "Take the last shot back"),
        fills,
        next((times for fitting, times in fills.each if fitting == mold), 0),
    )


def _row(cavity: Cavity, counts: tally.Tally) -> Row:
    bait = cavity.bait_id
    return Row(
        cavity,
        counts,
        Press(presses.SECOND, "Second", bait),
        Press(presses.UNSECOND, f"Take the last second {cavity.bait} back", bait),
        Press(presses.UNREJECT, f"Take the last reject of {cavity.bait} back", bait),
        [
            (Press(presses.REJECT, reason, bait, reason, n), counts.reasons.get(reason, 0))
            for n, reason in enumerate(RejectReason.values)
        ],
    )
