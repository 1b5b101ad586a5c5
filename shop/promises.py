"""Can we promise it? Open orders and new wishes, asked of the shelf as it is now. Reads only."""

import datetime
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.utils import timezone

from inventory import units
from inventory.services import holding
from production import promise, promise_shelf
from production.models import Product
from shop import queries
from shop.models import Order
from shop.services import holds

#: An order without a day is asked as if it were due so many days from now.
UNDATED_DAYS = 28
#: A plan of several evenings is looked for so long; what is not proven by then is said to be so.
SECONDS = 3.0
#: When someone wants it looked at longer.
LONGER = 15.0


@dataclass(frozen=True)
class Asked:
    """So many bags of a product; `shipped` have left and `held` lie ready for it already.

    `price_minor` is what one bag brings, after discounts."""

    product: int
    bags: int
    price_minor: int
    shipped: int = 0
    held: int = 0

    @property
    def open(self) -> int:
        """Bags that are neither sent nor held."""
        return max(0, self.bags - self.shipped - self.held)


@dataclass(frozen=True)
class Question:
    """Lines, those that matter most first, and the day on which all must be ready (None: not said).

    `order`: the order that is asked about; None for one that is not taken yet."""

    lines: Sequence[Asked]
    due_on: datetime.date | None
    order: Order | None = None

    @property
    def due(self) -> datetime.date:
        """The day that is reckoned with: what is late is wanted today."""
        today = timezone.localdate()
        return max(today, self.due_on or today + datetime.timedelta(days=UNDATED_DAYS))


@dataclass(frozen=True)
class Answer:
    """`promise` has a line for each of the question's lines with open bags; `of` says which."""

    question: Question
    facts: promise_shelf.Facts
    promise: promise.Promise
    of: tuple[int, ...]
    #: Orders that were accepted earlier and keep what they need.
    earlier: int
    #: By the rule alone: a no may still become a yes.
    quick: bool

    def line(self, number: int) -> promise.LinePromise | None:
        """The answer to one of the question's lines; None where nothing is open."""
        return self.promise.lines[self.of.index(number)] if number in self.of else None


def of_order(order: Order) -> Question:
    """An open order as a question: three queries."""
    held = holds.held_bags(order)
    lines = [
        Asked(
            line.product_id,
            line.billed,
            round(line.price_minor * (100 - float(line.discount_percent)) / 100),
            line.shipped,
            min(held.get(line.product.item_id, 0), line.remaining),
        )
        for line in order.lines.select_related("product")
    ]
    return Question(lines, order.due_on, order)


def ask(
    question: Question,
    *,
    quick: bool = True,
    worth: str = promise.BAGS,
    seconds: float = SECONDS,
) -> Answer:
    """Asks the shelf, after what earlier orders need. A fixed number of queries. `quick`: in
    milliseconds (`promise.promise`)."""
    numbers = [n for n, line in enumerate(question.lines) if line.open]
    wanted = [question.lines[n] for n in numbers]
    earlier = _earlier(question.order)
    facts = _facts([line.product for line in wanted], earlier, question.due)
    order = promise.Order(
        [
            promise.Line(
                promise_shelf.product_key(line.product),
                min(line.open, promise.MOST_BAGS),
                line.price_minor / 100,
            )
            for line in wanted
        ],
        question.due,
    )
    found = promise.promise(
        order,
        facts.shelf,
        earlier=[one for _, one in earlier],
        worth=worth,
        quick=quick,
        time_limit_s=seconds,
    )
    return Answer(question, facts, found, tuple(numbers), len(earlier), quick)


def most(product: Product, by: datetime.date, *, seconds: float = SECONDS):
    """The most bags of one product that could be promised by a day, and what one more would lack."""
    earlier = _earlier(None)
    facts = _facts([product.pk], earlier, by)
    found = promise.most_bags(
        promise_shelf.product_key(product.pk),
        facts.shelf,
        due=by,
        earlier=[one for _, one in earlier],
        time_limit_s=seconds,
    )
    return found, facts, len(earlier)


def _facts(products: Iterable[int], earlier, due: datetime.date) -> promise_shelf.Facts:
    claimed = {pk for products, _ in earlier for pk in products}
    return promise_shelf.read({*products, *claimed}, due)


def _earlier(order: Order | None) -> list[tuple[list[int], promise.Order]]:
    """Open orders accepted before this one (None: all), first accepted first: the products they need,
    and what they do not hold yet. Three queries."""
    found = queries.open_orders().order_by("ordered_on", "id").prefetch_related("lines__product")
    rows = list(found)
    if order:
        rows = [row for row in rows if (row.ordered_on, row.pk) < (order.ordered_on, order.pk)]
    held = holding.held_for([holds.holder(row.pk) for row in rows])
    last = timezone.localdate() + datetime.timedelta(days=UNDATED_DAYS)
    earlier = []
    for row in rows:
        lines = []
        for line in row.lines.all():
            has = held.get((holds.holder(row.pk), line.product.item_id), 0) // units.MICRO
            if (needs := min(line.remaining - has, promise.MOST_BAGS)) > 0:
                lines.append((line.product_id, needs))
        if lines:
            asked = [promise.Line(promise_shelf.product_key(pk), needs) for pk, needs in lines]
            earlier.append(([pk for pk, _ in lines], promise.Order(asked, row.due_on or last)))
    return earlier
