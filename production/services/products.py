"""Keeping products: what goes into a bag, what it costs the customer, and its barcode number."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import date
from decimal import Decimal

from django.db import transaction

from inventory import units
from inventory.models import Item
from production import gtin
from production.models import (
    Bait,
    FinishingStep,
    Pattern,
    Product,
    ProductContent,
    ProductPackaging,
)
from production.services.refusals import Refusal, keep, refuse_taken_name

Contents = Sequence[tuple[Bait, Pattern, int]]
Packaging = Sequence[tuple[Item, int]]
#: What a bag takes besides baits: bags and labels, hooks and rattles, scent oil.
PACKED = [Item.Kind.PACKAGING, Item.Kind.PART, Item.Kind.ADDITIVE]


@dataclass(frozen=True)
class Step:
    """One step of finishing: its minutes a bag, and so much of an item in millionths (None: of none)."""

    name: str
    minutes: Decimal = Decimal(0)
    item: Item | None = None
    quantity: int = 0


@dataclass(frozen=True)
class Words:
    """What the package says besides its name, the day of the warning's wording, and how large its front is."""

    identity: str = ""
    origin: str = ""
    child_directed: bool = False
    warning: str = ""
    warning_on: date | None = None
    front_w_mm: Decimal | None = None
    front_h_mm: Decimal | None = None


@transaction.atomic
def create(
    *,
    name: str,
    contents: Contents,
    price_minor: int,
    packaging: Packaging = (),
    finishing: Sequence[Step] = (),
    barcode: str = "",
    least_bags: int = 0,
    second: bool = False,
    words: Words = Words(),
) -> Product:
    """Makes a product and the item its bags are stocked as. Raises Refusal naming field or row.

    least_bags: what should stand ready; below it the product is offered when an evening is planned.
    second: its bags are filled from seconds."""
    item = Item(kind=Item.Kind.BAGGED, stock_unit="each", minimum=least_bags * units.MICRO)
    product = _said(Product(second=second), words)
    return _save(product, item, name, contents, packaging, finishing, price_minor, barcode)


@transaction.atomic
def update(
    product: Product,
    *,
    name: str,
    contents: Contents,
    price_minor: int,
    packaging: Packaging = (),
    finishing: Sequence[Step] = (),
    barcode: str = "",
    least_bags: int | None = None,
    archived: bool = False,
    second: bool | None = None,
    words: Words | None = None,
) -> Product:
    """Changes a product from the next bag on; bags already made keep their own record.

    least_bags, second, words None: as they were."""
    product.item.archived = archived
    if least_bags is not None:
        product.item.minimum = least_bags * units.MICRO
    if second is not None:
        product.second = second
    if words is not None:
        _said(product, words)
    return _save(product, product.item, name, contents, packaging, finishing, price_minor, barcode)


def _said(product: Product, words: Words) -> Product:
    if words.warning and not words.warning_on:
        raise Refusal("Say of which day this wording is: rules change.", field="warning_on")
    if (words.front_w_mm is None) != (words.front_h_mm is None):
        missing = "front_w_mm" if words.front_w_mm is None else "front_h_mm"
        raise Refusal("Measure the front both ways, or leave both empty.", field=missing)
    for name, value in asdict(words).items():
        setattr(product, name, value)
    return product


def _save(
    product: Product,
    item: Item,
    name: str,
    contents: Contents,
    packaging: Packaging,
    finishing: Sequence[Step],
    price_minor: int,
    barcode: str,
) -> Product:
    item.name = name.strip()
    others = Item.objects.filter(kind=Item.Kind.BAGGED).exclude(pk=item.pk)
    refuse_taken_name(others, item.name, "product")
    product.price_minor, product.barcode = price_minor, _checked_barcode(product, barcode)
    _refuse_impossible(contents, packaging)
    keep(item)
    product.item = item
    keep(product)
    product.contents.all().delete()
    product.packaging.all().delete()
    product.finishing.all().delete()
    for row, (bait, pattern, count) in enumerate(contents):
        line = ProductContent(product=product, bait=bait, pattern=pattern, count=count)
        keep(line, row=row)
    for row, (packed, quantity) in enumerate(packaging):
        keep(ProductPackaging(product=product, item=packed, quantity=quantity), row=row)
    for row, step in enumerate(finishing):
        keep(FinishingStep(product=product, position=row + 1, **_facts(step)), row=row)
    return product


def _facts(step: Step) -> dict[str, object]:
    return {
        "name": step.name,
        "minutes": step.minutes,
        "item": step.item,
        "quantity": step.quantity,
    }


def _checked_barcode(product: Product, barcode: str) -> str:
    if not barcode.strip():
        return ""
    try:
        digits = gtin.validate(barcode)
    except gtin.GtinError as error:
        raise Refusal(str(error), field="barcode") from error
    others = Product.objects.exclude(pk=product.pk)
    if taken := others.filter(barcode__in=gtin.ways_to_write(digits)).first():
        raise Refusal(f"{taken} already has the barcode number {taken.barcode}.", field="barcode")
    return digits


def _refuse_impossible(contents: Contents, packaging: Packaging) -> None:
    if not contents:
        raise Refusal("Say which bait goes into the bag, and how many.")
    pairs = [(bait.pk, pattern.pk) for bait, pattern, _ in contents]
    for row, pair in enumerate(pairs):
        if pair in pairs[:row]:
            bait, pattern, _ = contents[row]
            raise Refusal(f"{bait} in {pattern} is already in this bag.", field="bait", row=row)
    for row, (item, _) in enumerate(packaging):
        if item.kind not in PACKED:
            raise Refusal(f"{item} is no packaging, part or additive.", field="item", row=row)
        if item in [other for other, _ in packaging[:row]]:
            raise Refusal(f"{item} is already in this list.", field="item", row=row)
