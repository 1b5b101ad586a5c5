"""The shelf of a `House`: what `purchasing` and `counts` do, on books in memory."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta

from django.utils import timezone

from inventory.models import (
    Entry,
    Item,
    Lot,
    PurchaseLine,
    PurchaseOrder,
    PurchaseReceipt,
    Supplier,
)
from inventory.services import counts, ledger, purchasing, receiving
from inventory.services.bulk import Books


class HouseShelf:
    """Orders from suppliers, what comes of them, counts and losses."""

    def __init__(self, books: Books) -> None:
        self._books = books
        #: Of each open order: its lines and how much of each is still to come.
        self._to_come: dict[int, dict[int, int]] = {}

    def order(
        self,
        key: str,
        *,
        supplier: Supplier,
        wanted: list[purchasing.Wanted],
        ordered_on: date,
        shipping_minor: int,
    ) -> tuple[PurchaseOrder, list[PurchaseLine]]:
        """`purchasing.order`."""
        order = PurchaseOrder(
            supplier=supplier,
            number=self._books.number("PO", ordered_on),
            key=key,
            ordered_on=ordered_on,
            expected_on=ordered_on + timedelta(days=supplier.lead_time_days),
            shipping_minor=shipping_minor,
        )
        self._books.add(order)
        lines = [
            PurchaseLine(
                order=order,
                item=one.pack.item,
                pack=one.pack,
                pack_name=one.pack.name,
                pack_quantity=one.pack.quantity,
                packs=one.packs,
                price_minor=one.price_minor,
            )
            for one in wanted
        ]
        for line in lines:
            self._books.add(line)
        self._to_come[order.pk] = {line.pk: line.quantity for line in lines}
        return order, lines

    def receive(
        self,
        key: str,
        *,
        order: PurchaseOrder,
        delivered: Sequence[purchasing.Delivery],
        received_on: date,
        note: str,
        happened_at: datetime,
    ) -> None:
        """`purchasing.receive` of no more than was ordered."""
        facts = {"order": order, "delivered": delivered, "received_on": received_on, "note": note}
        posting = self._books.key(key, "receive", **facts, happened_at=happened_at)
        arrivals = [replace(one.arrival, supplier=order.supplier) for one in delivered]
        lots = [
            self._books.open_lot(
                arrival.item, Lot.Form.PACK, received_on, **receiving.lot_facts(arrival)
            )
            for arrival in arrivals
        ]
        event = ledger.Event(
            kind=Entry.Kind.RECEIPT,
            title=receiving.title(Entry.Kind.RECEIPT, arrivals),
            happened_at=timezone.localtime(happened_at),
            business_date=received_on,
            note=note,
            reference=f"purchase:{order.pk}",
            makes=[
                receiving.make_of(arrival, lot) for arrival, lot in zip(arrivals, lots, strict=True)
            ],
        )
        entry = self._books.post(posting, event)
        to_come = self._to_come[order.pk]
        for one, lot in zip(delivered, lots, strict=True):
            receipt = PurchaseReceipt(
                line=one.line, entry=entry, lot=lot, quantity=one.arrival.quantity
            )
            self._books.add(receipt)
            to_come[one.line.pk] -= one.arrival.quantity
        if not any(left > 0 for left in to_come.values()):
            order.state = PurchaseOrder.State.RECEIVED
            self._books.touch(order, "state")
            del self._to_come[order.pk]

    def count(self, key: str, *, lot: Lot, counted: int, reason: str, counted_at: datetime) -> None:
        """`counts.count`, of a moment after which nothing happened yet."""
        facts = {"lot": lot, "counted": counted, "reason": reason, "counted_at": counted_at}
        posting = self._books.key(key, "count", **facts)
        event = counts.counted_event(lot, counted, counted_at, reason)
        self._books.adjust(posting, event, lot, counted - lot.on_hand)

    def waste(
        self, key: str, *, lot: Lot, quantity: int, reason: str, happened_at: datetime
    ) -> None:
        """`counts.waste`."""
        facts = {"lot": lot, "quantity": quantity, "reason": reason, "happened_at": happened_at}
        posting = self._books.key(key, "waste", **facts)
        draw = ledger.Draw(lot, quantity, lost=True)
        self._books.post(posting, counts.waste_event(draw, reason, "", happened_at))

    def stock(self, item: Item) -> list[Lot]:
        """What there is of an item, in the order of use."""
        return self._books.in_stock(item)
