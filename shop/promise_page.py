"""An answer as a page shows it: a bar for each line, what is short in words, and a message to the customer."""

import datetime
import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.urls import reverse
from django.utils.formats import date_format
from django.utils.http import urlencode

from inventory import units
from inventory.wording import told
from production import promise, promise_shelf
from production.models import Product
from shop.promises import Answer

#: The drawing's own width; a page scales it.
WIDTH, HEIGHT, LEAST = 600, 26, 3
#: Above this no evening's plan takes more of one product at once.
MOST_MADE = 200


@dataclass(frozen=True)
class Part:
    """A stretch of a line's bar: `kind` is shipped, held, bagged, loose, planned, pour or short."""

    kind: str
    bags: int
    text: str
    x: float = 0.0
    width: float = 0.0


@dataclass(frozen=True)
class Row:
    """One line: how many of its bags stand where, and what it runs into."""

    product: int
    name: str
    bags: int
    parts: list[Part]
    limits: list[str]
    stand_ins: list[str]

    @property
    def short(self) -> int:
        return sum(part.bags for part in self.parts if part.kind == "short")

    @property
    def to_make(self) -> int:
        return sum(part.bags for part in self.parts if part.kind in ("pour", "short"))

    @property
    def said(self) -> str:
        """The bar in words."""
        return f"{self.name}: " + ", ".join(part.text for part in self.parts)


@dataclass(frozen=True)
class Limit:
    """What the whole order lacks, in words; `item`: its number, None for hours."""

    name: str
    amount: str
    on: datetime.date | None
    item: int | None = None
    supplier: str = ""
    coming: str = ""
    #: Nothing that could be bought or waited for.
    never: bool = False


@dataclass(frozen=True)
class Shown:
    """All that the page says of an answer."""

    answer: Answer
    rows: list[Row]
    limits: list[Limit]
    due: datetime.date
    #: The day was not said: reckoned as if it were due then.
    undated: bool
    whole: bool
    #: Bags promised of those asked for, sent and held ones among them.
    promised: int
    bags: int
    ready_on: datetime.date | None
    whole_on: datetime.date | None
    value_minor: int
    make_url: str

    @property
    def proven(self) -> bool:
        return self.answer.promise.proven

    @property
    def least(self) -> bool:
        return self.answer.promise.least

    @property
    def missing(self) -> int:
        return self.bags - self.promised

    @property
    def to_make(self) -> int:
        return sum(row.to_make for row in self.rows)

    @property
    def items_short(self) -> bool:
        return any(limit.item for limit in self.limits)


def show(answer: Answer, system: str = "metric") -> Shown:
    """`system`: the units to show first, "us" or "metric"."""
    found, question = answer.promise, answer.question
    names = _Words(answer, system)
    rows = [_row(number, answer, names) for number in range(len(question.lines))]
    promised = sum(row.bags - row.short for row in rows)
    value = sum(
        (row.bags - row.short) * line.price_minor
        for row, line in zip(rows, question.lines, strict=True)
    )
    return Shown(
        answer=answer,
        rows=rows,
        limits=[names.limit(short) for short in found.shorts],
        due=question.due,
        undated=question.due_on is None,
        whole=found.whole,
        promised=promised,
        bags=sum(row.bags for row in rows),
        ready_on=found.ready_on,
        whole_on=found.whole_on,
        value_minor=value,
        make_url=_make_url(rows),
    )


def _row(number: int, answer: Answer, names: "_Words") -> Row:
    asked, line = answer.question.lines[number], answer.line(number)
    parts = [
        Part("shipped", asked.shipped, f"{asked.shipped} shipped"),
        Part("held", asked.held, f"{asked.held} held for it"),
    ]
    limits, stand_ins = [], []
    if line:
        parts += [
            Part("bagged", line.ready, f"{line.ready} bagged"),
            *_bagging(line, names.facts),
            *(
                Part("pour", later.bags, f"{later.bags} to pour, ready {day(later.on)}")
                for later in line.pouring
            ),
            Part("short", line.short, f"{line.short} short"),
        ]
        limits = [names.limit(short).name for short in line.limits]
        stand_ins = [names.stand_in(one) for one in line.stand_ins]
    bags = max(asked.bags, asked.shipped + asked.held + (line.bags if line else 0))
    return Row(
        asked.product,
        names.product(asked.product),
        bags,
        _placed([part for part in parts if part.bags], bags),
        limits,
        stand_ins,
    )


def _bagging(line: promise.LinePromise, facts: promise_shelf.Facts) -> list[Part]:
    """Bags of loose baits; those of tonight's plan are told apart, as far as the days tell them."""
    contents = facts.shelf.products[line.product].contents.items()
    planned = min(
        (facts.planned[kind] // each for kind, each in contents if facts.planned.get(kind)),
        default=0,
    )
    found: list[Part] = []
    for later in reversed(line.bagging):
        part = min(planned, later.bags) if later.on >= facts.planned_on else 0
        planned -= part
        on = day(later.on)
        found.append(Part("planned", part, f"{part} planned tonight, bagged by {on}"))
        loose = later.bags - part
        found.append(Part("loose", loose, f"{loose} loose, bagged by {on}"))
    return found[::-1]


def _placed(parts: Sequence[Part], bags: int) -> list[Part]:
    """Side by side over the whole width; the last ends where the bar ends."""
    found, x = [], 0.0
    for part in parts:
        width = max(LEAST, WIDTH * part.bags / max(1, bags))
        width = min(width, WIDTH - x)
        found.append(Part(part.kind, part.bags, part.text, round(x, 1), round(width, 1)))
        x += width
    return found


def day(on: datetime.date) -> str:
    return date_format(on, "D j M")


class _Words:
    """Keys of the promise as people say them."""

    def __init__(self, answer: Answer, system: str) -> None:
        self.facts, self.system = answer.facts, system
        # Of lines that have left whole, nothing was asked.
        others = {line.product for line in answer.question.lines} - set(answer.facts.products)
        names = Product.objects.filter(pk__in=others).values_list("pk", "item__name")
        self.others = dict(names) if others else {}

    def product(self, pk: int) -> str:
        return self.others.get(pk) or self.facts.name(promise_shelf.product_key(pk))

    def amount(self, key: str, amount: float) -> str:
        unit = self.facts.items[key].stock_unit
        if unit == "each":
            return str(math.ceil(round(amount, 3)))
        figure = told(units.to_micro(Decimal(repr(round(amount, 6)))), unit, self.system)
        return f"{figure} ({figure.other})" if figure.other else str(figure)

    def limit(self, short: promise.Short) -> Limit:
        if short.key == promise_shelf.NOWHERE:
            return Limit(
                "Nothing in use pours this: its mold is put away, its color has no recipe, or it is a "
                "bag of seconds",
                "",
                None,
                never=True,
            )
        if short.what == promise.HAND_MINUTES:
            return Limit("Hands", _minutes(short.amount), short.on)
        if short.what == promise.MOLD_MINUTES:
            name = f"Mold {self.facts.name(short.key)}"
            return Limit(name, _minutes(short.amount), short.on)
        source = self.facts.sources[short.key]
        coming = "; ".join(
            f"{self.amount(short.key, amount)} expected {day(on)}" for on, amount in source.on_order
        )
        return Limit(
            self.facts.name(short.key),
            self.amount(short.key, short.amount),
            short.on,
            item=self.facts.items[short.key].pk,
            supplier=source.supplier,
            coming=coming,
        )

    def stand_in(self, one: promise.StandIn) -> str:
        name = self.facts.name
        return (
            f"{self.amount(one.item, one.amount)} of {name(one.item)} in place of "
            f"{name(one.instead_of)}, in {name(one.recipe)}"
        )


def _minutes(amount: float) -> str:
    """Whole minutes, never fewer than are short: "48 minutes", "14 h 21 min"."""
    whole = math.ceil(round(amount, 3))
    hours, rest = divmod(whole, 60)
    return f"{whole} minute{'' if whole == 1 else 's'}" if whole < 120 else f"{hours} h {rest} min"


def _make_url(rows: Sequence[Row]) -> str:
    """Where an evening is planned for what is not there yet; empty when nothing is to be made."""
    wanted = [
        ("make", f"{row.product}:{min(row.to_make, MOST_MADE)}") for row in rows if row.to_make
    ]
    return f"{reverse('production:plan_new')}?{urlencode(wanted)}" if wanted else ""


def message(shown: Shown, *, customer: str = "", shop: str = "") -> str:
    """The answer to the customer, to copy."""
    lines = [f"Hello {customer}," if customer else "Hello,", ""]
    if shown.whole and shown.rows:
        on = shown.ready_on
        ready = (
            "is ready now"
            if not on or on <= shown.answer.facts.shelf.today
            else (f"can be ready by {_long(on)}")
        )
        lines.append(f"Yes: all of your order {ready}.")
    elif shown.promised:
        lines.append(
            f"By {_long(shown.due)} we can promise {shown.promised} of the {shown.bags} bags."
        )
    else:
        lines.append(f"By {_long(shown.due)} we can't promise any of this.")
    lines += ["", *(f"- {_of_row(row)}" for row in shown.rows)]
    if not shown.whole and shown.whole_on:
        lines += [
            "",
            f"All of it could be ready on {_long(shown.whole_on)}. Shall we plan for that?",
        ]
    elif not shown.whole:
        lines += ["", "We can't name a day for the rest yet and will write again."]
    return "\n".join([*lines, "", "Kind regards", *([shop] if shop else [])])


def _of_row(row: Row) -> str:
    there = row.bags - row.short
    count = f"{there} of {row.bags}" if row.short else f"{row.bags}"
    return f"{row.name}: {count} bag{'' if row.bags == 1 else 's'}"


def _long(on: datetime.date) -> str:
    return date_format(on, "l j F Y")
