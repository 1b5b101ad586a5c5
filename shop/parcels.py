"""What was in each parcel: the lots that left with it, and what of them came back since."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace

from django.db.models import QuerySet, Sum

from inventory import queries as shelf
from inventory import units
from inventory.models import Lot, Movement
from inventory.wording import quantity_text
from production.models import Product
from shop.models import Return, Shipment


@dataclass(frozen=True)
class Sent:
    """Bags of one lot in a parcel; `line`: the id of the ledger's line by which they left."""

    line: int
    product: Product
    lot: Lot
    bags: int
    back: int = 0

    @property
    def out(self) -> int:
        """Bags that did not come back."""
        return self.bags - self.back


@dataclass(frozen=True)
class Parcel:
    """A shipment with its contents, product by product."""

    shipment: Shipment
    sent: list[Sent]
    returns: list[Return]

    @property
    def stands(self) -> bool:
        return not hasattr(self.shipment.entry, "reversed_by")

    @property
    def bags(self) -> int:
        return sum(one.bags for one in self.sent)

    @property
    def out(self) -> int:
        return sum(one.out for one in self.sent)

    @property
    def by_product(self) -> list[tuple[Product, int, list[Sent]]]:
        """(Product, its bags, from which lots), in order of name. Parts of one lot from two places
        carry one printed code, and are one here."""
        found: dict[int, dict[str, Sent]] = {}
        for one in self.sent:
            lots = found.setdefault(one.product.pk, {})
            if there := lots.get(one.lot.printed):
                one = replace(there, bags=there.bags + one.bags, back=there.back + one.back)
            lots[one.lot.printed] = one
        rows = [
            (lots[0].product, sum(one.bags for one in lots), lots)
            for lots in (list(by_code.values()) for by_code in found.values())
        ]
        return sorted(rows, key=lambda row: str(row[0]))


def shipments() -> QuerySet[Shipment]:
    """Shipments with what a parcel of them needs."""
    return Shipment.objects.select_related(
        "entry__by", "entry__reversed_by", "order__customer"
    ).order_by("-id")


def of(found: Iterable[Shipment]) -> list[Parcel]:
    """The parcels of these shipments, in their order. Four queries, however many."""
    found = list(found)
    sent = contents([one.entry_id for one in found])
    back: dict[int, list[Return]] = {}
    came = Return.objects.filter(shipment__in=[one.pk for one in found])
    for one in came.select_related("entry__reversed_by").order_by("id"):
        back.setdefault(one.shipment_id, []).append(one)
    return [Parcel(one, sent.get(one.entry_id, []), back.get(one.pk, [])) for one in found]


def contents(entries: Collection[int]) -> dict[int, list[Sent]]:
    """Entry id → what left by it. Three queries."""
    lines = list(
        Movement.objects.filter(entry__in=entries, role=Movement.Role.DRAWN, revalues=None)
        .select_related("lot__item__product", "lot__place")
        .order_by("pk")
    )
    came = Movement.objects.filter(
        shelf.STANDING_LINE, role=Movement.Role.RETURNED, returns__in=[line.pk for line in lines]
    ).order_by()
    back = dict(came.values_list("returns").annotate(total=Sum("quantity")))
    found: dict[int, list[Sent]] = {}
    for line in lines:
        product = line.lot.item.product
        product.item = line.lot.item
        found.setdefault(line.entry_id, []).append(
            Sent(
                line.pk,
                product,
                line.lot,
                -line.quantity // units.MICRO,
                int(back.get(line.pk, 0)) // units.MICRO,
            )
        )
    return found


def weight_text(grams: int | None) -> str:
    """ "431 g (15.2 oz)", "1,250 g (2 lb 12.1 oz)"; nothing where it is unknown."""
    if grams is None:
        return ""
    ounces = units.convert(grams, "g", "oz")
    pounds, rest = divmod(ounces, 16)
    rest_text = f"{rest:.1f}"
    if rest_text == "16.0":
        pounds, rest_text = pounds + 1, "0.0"
    rest_text = rest_text.removesuffix(".0")
    us = f"{pounds:,.0f} lb {rest_text} oz" if pounds else f"{rest_text} oz"
    return f"{quantity_text(units.to_micro(grams), 'g')} ({us})"
