"""How much was on hand over a year, and the drawings of it: a stepped line, and how full a shelf is.

Quantities are millionths of the item's stock unit. The line is reckoned backwards from what is on hand
now, a day at a time, so it costs the same for a shelf of ten years as for one of ten weeks.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

#: The picture's own measure; the page stretches it to the room there is.
WIDTH = 730
HEIGHT = 200
#: Room above and below the line, so that marks are not cut off.
MARGIN = 10


@dataclass(frozen=True)
class Day:
    """What one day brought: the net change, what came in, what was taken out, counts taken."""

    on: date
    change: int
    came_in: int = 0
    taken: int = 0
    counts: int = 0

    @property
    def corrected(self) -> int:
        """What neither came in nor was taken: a count's difference, found stock."""
        return self.change - self.came_in + self.taken


@dataclass(frozen=True)
class Step:
    """A day that something happened on, and what was on hand when it ended."""

    day: Day
    on_hand: int


@dataclass(frozen=True)
class Series:
    """On hand from the start of `first` (`before`) to the end of `last`, by the steps between."""

    first: date
    last: date
    before: int
    steps: tuple[Step, ...]

    @property
    def on_hand(self) -> int:
        return self.steps[-1].on_hand if self.steps else self.before

    @property
    def most(self) -> int:
        return max([self.before, *(step.on_hand for step in self.steps)])

    @property
    def least(self) -> int:
        return min([self.before, *(step.on_hand for step in self.steps)])

    def at_end_of(self, on: date) -> int:
        """On hand when that day ended; what was before the first day counts as before it."""
        found = self.before
        for step in self.steps:
            if step.day.on > on:
                break
            found = step.on_hand
        return found


@dataclass(frozen=True)
class Month:
    """One calendar month of a series, for the table that says what the line shows."""

    first: date
    came_in: int
    taken: int
    corrected: int
    counts: int
    on_hand: int


@dataclass(frozen=True)
class Expected:
    """What is expected on hand at the end of a day still to come, and the band around it."""

    on: date
    expected: int
    low: int
    high: int


@dataclass(frozen=True)
class Drawing:
    """The paths of the picture; each is the `d` of an SVG path, empty where there is none."""

    line: str
    area: str
    minimum: str
    came_in: str
    counted: str
    #: The quantities at the picture's upper and lower edge.
    top: int
    bottom: int
    #: The reorder point, the run-down with its band, and the line at which the past ends.
    point: str = ""
    ahead: str = ""
    band: str = ""
    today: str = ""


@dataclass(frozen=True)
class Gauge:
    """How full: the share on hand and where the minimum lies, both in hundredths of the width."""

    share: int
    minimum_at: int | None
    low: bool


def series(on_hand: int, days: Iterable[Day], *, first: date, last: date) -> Series:
    """The steps between two days, reckoned backwards from what is on hand now.

    `days` in any order; those before `first` are left out, and what a clock that ran ahead dated
    after `last` counts on the last day. Raises ValueError when `last` lies before `first`."""
    if last < first:
        raise ValueError(f"The last day, {last}, lies before the first, {first}.")
    steps: list[Step] = []
    left = on_hand
    for day in sorted(_merged(days, last), key=lambda day: day.on, reverse=True):
        if day.on < first:
            break
        steps.append(Step(day, left))
        left -= day.change
    return Series(first, last, left, tuple(reversed(steps)))


def months(series: Series) -> list[Month]:
    """Each calendar month that the series touches, the latest first."""
    found: list[Month] = []
    start = series.first.replace(day=1)
    while start <= series.last:
        after = (start + timedelta(days=31)).replace(day=1)
        steps = [step for step in series.steps if start <= step.day.on < after]
        found.append(
            Month(
                start,
                came_in=sum(step.day.came_in for step in steps),
                taken=sum(step.day.taken for step in steps),
                corrected=sum(step.day.corrected for step in steps),
                counts=sum(step.day.counts for step in steps),
                on_hand=series.at_end_of(after - timedelta(days=1)),
            )
        )
        start = after
    return found[::-1]


def draw(
    series: Series, *, minimum: int = 0, point: int = 0, ahead: Sequence[Expected] = ()
) -> Drawing:
    """The paths of the series, its minimum and what lies ahead, in a box of WIDTH × HEIGHT.

    `point` is the reorder point; `ahead` the days from the series' last on, in order. Marks are points
    without length: a round or square line cap makes them dots or squares, whatever the page stretches
    the box to."""
    top = max(series.most, minimum, point, *(day.high for day in ahead), 1)
    bottom = min(series.least, 0)
    end = ahead[-1].on if ahead else series.last
    span = (end - series.first).days + 1

    def across(on: date) -> str:
        return _number(WIDTH * (on - series.first).days / span)

    def down(quantity: int) -> str:
        return _number(MARGIN + (HEIGHT - 2 * MARGIN) * (top - quantity) / (top - bottom))

    now = across(series.last + timedelta(days=1))
    line = f"M0 {down(series.before)}"
    for step in series.steps:
        line += f"H{across(step.day.on)}V{down(step.on_hand)}"
    line += f"H{now}"
    at = [(across(step.day.on), down(step.on_hand), step.day) for step in series.steps]
    days = [(across(day.on + timedelta(days=1)), day) for day in ahead]
    upper = [f"{x} {down(day.high)}" for x, day in days]
    lower = [f"{x} {down(day.low)}" for x, day in reversed(days)]
    return Drawing(
        line=line,
        area=f"{line}V{down(0)}H0Z",
        minimum=f"M0 {down(minimum)}H{WIDTH}" if minimum > 0 else "",
        came_in="".join(f"M{x} {y}h0" for x, y, day in at if day.came_in > 0),
        counted="".join(f"M{x} {y}h0" for x, y, day in at if day.counts),
        top=top,
        bottom=bottom,
        point=f"M0 {down(point)}H{WIDTH}" if point > 0 else "",
        ahead="M" + "L".join(f"{x} {down(day.expected)}" for x, day in days) if days else "",
        band="M" + "L".join([*upper, *lower]) + "Z" if days else "",
        today=f"M{now} 0V{HEIGHT}" if days else "",
    )


def is_low(on_hand: int, minimum: int) -> bool:
    """At the minimum is already low: the next bottle takes its lead time. No minimum, never low."""
    return minimum > 0 and on_hand <= minimum


def gauge(on_hand: int, *, minimum: int, target: int) -> Gauge | None:
    """How full against the target; without one, against twice the minimum. None without either.

    Any stock shows, however little: a bottle with a rest in it is not an empty one."""
    full = max(target, minimum) if target > 0 else 2 * minimum
    if full <= 0:
        return None
    share = min(100, max(0, 100 * on_hand // full))
    return Gauge(
        share=max(share, 1) if on_hand > 0 else 0,
        minimum_at=100 * minimum // full if 0 < minimum < full else None,
        low=is_low(on_hand, minimum),
    )


def _merged(days: Iterable[Day], last: date) -> Iterable[Day]:
    """One day for each date, none of them after the last."""
    found: dict[date, Day] = {}
    for day in days:
        on = min(day.on, last)
        other = found.get(on, Day(on, 0))
        found[on] = Day(
            on,
            other.change + day.change,
            other.came_in + day.came_in,
            other.taken + day.taken,
            other.counts + day.counts,
        )
    return found.values()


def _number(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")
