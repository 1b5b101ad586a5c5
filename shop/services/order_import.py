"""Taking over orders from a file: first what it would do, then all of it or nothing.

An order is known by its source and its number there: one that was taken over is never taken again.
"""

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import IntegrityError, transaction
from django.db.models import Q
from django.db.models.functions import Lower
from django.utils import timezone

from inventory.exchange import table as tables
from inventory.exchange.notation import Notation
from inventory.exchange.table import Table, Trouble, same_name
from production.models import Product
from shop import catalog, money, order_import, prices
from shop.addresses import tidy
from shop.finding import Known
from shop.models import Customer, Order, OrderMapping, ProductAlias, User
from shop.order_import import Placed
from shop.services import orders

#: So many texts are asked about at once.
MOST_ASKED = 60
#: The answer for a text that is no product of ours: its lines are left out.
SKIP = 0


class Drifted(Exception):
    """What the file would do is no longer what was looked at; the text says so."""


@dataclass(frozen=True)
class Unknown:
    """A product's text that nothing is named exactly so; `likely`: what its words fit, to be confirmed."""

    text: str
    lines: tuple[int, ...]
    likely: Known | None
    offered: tuple[Known, ...]


@dataclass
class Outcome:
    """One order of the file. `known`: the order that it is here already; else it is new."""

    placed: Placed
    customer: Customer
    lines: list[orders.Wanted]
    known: Order | None = None
    left_out: list[str] = field(default_factory=list)
    hints: list[str] = field(default_factory=list)
    total_minor: int = 0

    @property
    def bags(self) -> int:
        return sum(line.bags for line in self.lines)


@dataclass
class Review:
    """What a file does, what must be answered first (`unknown`), or what is wrong with it."""

    outcomes: list[Outcome] = field(default_factory=list)
    unknown: list[Unknown] = field(default_factory=list)
    troubles: list[Trouble] = field(default_factory=list)

    @property
    def new(self) -> list[Outcome]:
        return [one for one in self.outcomes if not one.known and one.lines]

    @property
    def same(self) -> list[Outcome]:
        return [one for one in self.outcomes if one.known]

    @property
    def empty(self) -> list[Outcome]:
        """Orders of which every line is left out."""
        return [one for one in self.outcomes if not one.known and not one.lines]

    @property
    def digest(self) -> str:
        """Equal for two reviews that do the same."""
        deeds = [
            [
                one.placed.reference,
                one.customer.pk or one.customer.name,
                one.total_minor,
                [[line.product.pk, line.bags, line.price_minor] for line in one.lines],
            ]
            for one in self.new
        ]
        return hashlib.sha256(json.dumps(deeds).encode()).hexdigest()


def review(table: Table, notation: Notation, *, source: str, answers: Mapping[str, int]) -> Review:
    """What taking the file over would do; nothing is kept. `answers`: product id (or SKIP) for texts."""
    records = tables.records(table, order_import.COLUMNS)
    placed, troubles = order_import.read(records, notation, timezone.localdate())
    troubles += _wrong_emails(placed)
    if troubles:
        return Review(troubles=sorted(troubles, key=lambda trouble: trouble.line))
    known = _known(source, placed)
    waiting = [order for order in placed if same_name(order.reference) not in known]
    shelf = catalog.shelf()
    unknown = _unknown(waiting, shelf, answers)
    if unknown:
        return Review(unknown=unknown)
    people = _People(placed)
    outcomes = [
        _outcome(order, people, shelf, answers, known.get(same_name(order.reference)), troubles)
        for order in placed
    ]
    _hint(outcomes)
    return Review(outcomes=outcomes, troubles=troubles)


def load(
    table: Table,
    notation: Notation,
    *,
    source: str,
    columns: Mapping[str, str],
    answers: Mapping[str, int],
    seen: str,
    by: User,
) -> list[Order]:
    """Takes the file's new orders over, and keeps its mapping and what products are called there.

    `seen`: digest of the review that was confirmed. Raises FileError and Drifted; then nothing is kept."""
    try:
        return _load(table, notation, source, columns, answers, seen, by)
    except IntegrityError:
        # Two presses at once: the other one took them over first. They are known now.
        return _load(table, notation, source, columns, answers, seen, by)


@transaction.atomic
def _load(table, notation, source, columns, answers, seen, by) -> list[Order]:
    done = review(table, notation, source=source, answers=answers)
    if done.troubles or done.unknown or (done.new and done.digest != seen):
        raise Drifted(
            "Something changed since you looked, and the file would do something else now. Nothing "
            "was kept: look at it again."
        )
    OrderMapping.objects.update_or_create(
        name=source, defaults={"columns": dict(columns), "date_format": notation.dates}
    )
    for text, product in answers.items():
        if product != SKIP:
            ProductAlias.objects.update_or_create(text=text, defaults={"product_id": product})
    return [_take(one, source, by) for one in done.new]


def _take(one: Outcome, source: str, by: User) -> Order:
    placed, address = one.placed, tidy(one.placed.address)
    return orders.take(
        customer=one.customer,
        lines=one.lines,
        ordered_on=placed.ordered_on,
        due_on=placed.due_on,
        notes=placed.note,
        ship_to="" if address == tidy(one.customer.address) else address,
        shipping_minor=placed.shipping_minor,
        source=source,
        source_reference=placed.reference,
        by=by,
    )


def _wrong_emails(placed: Sequence[Placed]) -> list[Trouble]:
    wrong = []
    for order in placed:
        try:
            validate_email(order.email or "none@shop.example")
        except ValidationError:
            said = "This isn't an email address. Mend it or leave it empty."
            wrong.append(Trouble(order.line, "email", said, order.email))
    return wrong


def _known(source: str, placed: Sequence[Placed]) -> dict[str, Order]:
    references = [order.reference for order in placed]
    found = Order.objects.filter(source=source, source_reference__in=references)
    return {same_name(order.source_reference): order for order in found}


def _unknown(
    placed: Sequence[Placed], shelf: catalog.Shelf, answers: Mapping[str, int]
) -> list[Unknown]:
    asked: dict[str, list[int]] = {}
    for order in placed:
        for line in order.lines:
            answered = answers.get(line.product) in {SKIP, *shelf.products}
            if not answered and not shelf.catalog.exactly(line.product):
                asked.setdefault(line.product, []).append(line.line)
    found = []
    # The others are asked about next: to look for close names takes its time.
    for text, lines in list(asked.items())[:MOST_ASKED]:
        answer = shelf.find(text)
        found.append(Unknown(text, tuple(lines), answer.found, answer.offered))
    return found


class _People:
    """Who ordered: someone known by email or name, or someone new, once for the whole file."""

    def __init__(self, placed: Sequence[Placed]) -> None:
        emails = {order.email.lower() for order in placed if order.email}
        names = {order.customer.lower() for order in placed}
        found = list(
            Customer.objects.annotate(small=Lower("name"), mail=Lower("email"))
            .filter(Q(small__in=names) | Q(mail__in=emails))
            .select_related("price_list")
        )
        self.by_name = {same_name(person.name): person for person in found}
        self.by_email: dict[str, list[Customer]] = {}
        for person in found:
            if person.email:
                self.by_email.setdefault(person.email.lower(), []).append(person)

    def of(self, order: Placed) -> tuple[Customer, list[str]]:
        same = self.by_email.get(order.email.lower(), []) if order.email else []
        if len(same) == 1:
            person = same[0]
            other = same_name(person.name) != same_name(order.customer)
            said = f"{order.customer} has the email of {person}: the order goes to {person}."
            return person, [said] if other else []
        if person := self.by_name.get(same_name(order.customer)):
            other = order.email and person.email and person.email.lower() != order.email.lower()
            said = (
                f"{person} has another email here, {person.email}. Look if it is the same person."
            )
            return person, [said] if other else []
        person = Customer(
            name=" ".join(order.customer.split()), email=order.email, address=tidy(order.address)
        )
        self.by_name[same_name(person.name)] = person
        if order.email:
            self.by_email.setdefault(order.email.lower(), []).append(person)
        return person, []


def _outcome(
    order: Placed,
    people: _People,
    shelf: catalog.Shelf,
    answers: Mapping[str, int],
    known: Order | None,
    troubles: list[Trouble],
) -> Outcome:
    customer, hints = people.of(order)
    outcome = Outcome(order, customer, [], known, hints=[] if known else hints)
    if known:
        return outcome
    wanted: dict[Product, orders.Wanted] = {}
    for line in order.lines:
        product = _product(line.product, shelf, answers)
        if product is None:
            outcome.left_out.append(line.product)
            continue
        if reason := catalog.retired(product):
            troubles.append(Trouble(line.line, "product", reason, line.product))
        had = wanted.get(product)
        if had and had.price_minor != line.price_minor:
            said = f"{product} stands in this order at two prices. Make it one line."
            troubles.append(Trouble(line.line, "price", said))
        bags = line.bags + (had.bags if had else 0)
        wanted[product] = orders.Wanted(product, bags, line.price_minor)
    outcome.lines = list(wanted.values())
    return outcome


def _product(text: str, shelf: catalog.Shelf, answers: Mapping[str, int]) -> Product | None:
    if text in answers:
        return shelf.products.get(answers[text])
    known = shelf.catalog.exactly(text)
    return shelf.products[known.key] if known else None


def _hint(outcomes: Sequence[Outcome]) -> None:
    """What each order comes to, and what can't be poured any more for it."""
    bags: dict[Product, int] = {}
    for one in outcomes:
        for line in one.lines:
            bags[line.product] = bags.get(line.product, 0) + line.bags
    doubts = catalog.doubts(bags)
    costs: dict[int | None, prices.Prices] = {}
    for one in outcomes:
        one.hints += [doubts[line.product] for line in one.lines if line.product in doubts]
        which = one.customer.price_list_id
        if which not in costs:
            costs[which] = prices.of_customer(one.customer)
        one.total_minor = money.order_total(
            (
                (n.bags, costs[which].of(n.product) if n.price_minor is None else n.price_minor, 0)
                for n in one.lines
            ),
            shipping_minor=one.placed.shipping_minor,
        ).total_minor
