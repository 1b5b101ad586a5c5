"""What the shop's papers say: pick list, packing slip, invoice and receipt."""

from collections.abc import Iterable
from pathlib import Path

from inventory.services import files
from inventory.templatetags.shelf import price
from shop import addresses, queries
from shop.models import Invoice, Order, Shop
from shop.paper_pdf import Column, Grid, Paper, Sender
from shop.parcels import Parcel, weight_text
from shop.picking import Picks

TICK = "\N{BALLOT BOX}"


def sender(shop: Shop | None) -> Sender:
    """The shop's name, address and logo; what isn't set is left out."""
    if shop is None:
        return Sender("")
    lines = addresses.tidy(shop.address or shop.town).splitlines()
    lines += [one for one in (shop.email, shop.phone) if one]
    return Sender(shop.name, tuple(lines), _logo(shop))


def pick_list(found: Picks, orders: list[Order], *, shop: Shop | None, size: str) -> Paper:
    """Where to take which bags, a tick for each; and what is not there yet."""
    columns = (
        Column("", 0.05),
        Column("Bags", 0.09, right=True, bold=True),
        Column("Product", 0.4),
        Column("Lot", 0.18),
        Column("For", 0.28),
    )
    grids = [
        Grid(
            columns,
            tuple(
                (
                    TICK,
                    f"{pick.bags:,}",
                    str(pick.line.product),
                    pick.lot.printed,
                    f"order {pick.order.pk}, {pick.order.customer}",
                )
                for pick in picks
            ),
            heading=place or "No place written down",
        )
        for place, picks in found.by_place()
    ]
    if found.short:
        grids.append(
            Grid(
                (Column("Bags", 0.1, right=True), Column("Product", 0.52), Column("For", 0.38)),
                tuple(
                    (f"{bags:,}", str(line.product), f"order {order.pk}, {order.customer}")
                    for line, order, bags in found.short
                ),
                heading="Not there yet",
            )
        )
    title = f"Pick list, order {orders[0].pk}" if len(orders) == 1 else "Pick list"
    named = ", ".join(str(order.pk) for order in orders) if len(orders) > 1 else ""
    bags = sum(pick.bags for pick in found.picks)
    facts = (("Orders", named), ("Bags to take", f"{bags:,}"))
    return Paper(title, sender(shop), facts, grids=tuple(grids), size=size)


def packing_slip(parcel: Parcel, order: Order, *, shop: Shop | None, size: str) -> Paper:
    """What is in the parcel, from which lots, and what is still to come. No prices: it may be a gift."""
    shipment = parcel.shipment
    inside = Grid(
        (
            Column("Bags", 0.1, right=True, bold=True),
            Column("Product", 0.55),
            Column("Lots", 0.35),
        ),
        tuple(
            (f"{bags:,}", str(product), ", ".join(_lot(one, len(rows)) for one in rows))
            for product, bags, rows in parcel.by_product
        ),
        heading="In this parcel",
    )
    waiting = [(line.remaining, str(line.product)) for line in lines_of(order) if line.remaining]
    grids = [inside]
    if waiting and order.status == Order.Status.OPEN:
        columns = (Column("Bags", 0.1, right=True), Column("Product", 0.9))
        rows = tuple((f"{bags:,}", product) for bags, product in waiting)
        grids.append(Grid(columns, rows, heading="Still to come"))
    facts = (
        ("Shipped", _day(shipment.entry.business_date)),
        ("Ordered", _day(order.ordered_on)),
        ("Bags", f"{parcel.bags:,}"),
        ("Carrier", shipment.carrier),
        ("Tracking number", shipment.tracking),
        ("Weight", weight_text(shipment.weight_g)),
    )
    return Paper(
        f"Packing slip, order {order.pk}",
        sender(shop),
        facts,
        to=tuple(addresses.with_name(order.customer.name, shipment.ship_to)),
        grids=tuple(grids),
        size=size,
    )


def invoice(found: Invoice, order: Order, *, shop: Shop | None, size: str) -> Paper:
    """What the order comes to, what was paid and what is due."""
    currency = shop.currency if shop else ""
    money = queries.money_of(order)
    lines = list(lines_of(order))
    discounted = any(line.discount_percent for line in lines)
    columns = [
        Column("Product", 0.44 if discounted else 0.54),
        Column("Bags", 0.12, right=True),
        Column("A bag", 0.15, right=True),
        Column("Amount", 0.19, right=True),
    ]
    if discounted:
        columns.insert(3, Column("Off", 0.1, right=True))
    rows = []
    for line, amount in zip(lines, money.lines, strict=True):
        row = [_billed(line), f"{line.billed:,}", price(line.price_minor), price(amount)]
        if discounted:
            row.insert(3, _percent(line.discount_percent))
        rows.append(tuple(row))
    sums: list[tuple[str, str]] = []
    if money.discount_minor or money.shipping_minor:
        sums.append(("Goods", price(money.goods_minor)))
    if money.discount_minor:
        sums.append((f"Less {_percent(order.discount_percent)}", signed(-money.discount_minor)))
    if money.shipping_minor:
        sums.append(("Shipping", price(money.shipping_minor)))
    sums.append(("Total", price(money.total_minor, currency)))
    for payment in order.payments.all():
        said = f"{payment.get_kind_display().capitalize()} {_day(payment.paid_on)}"
        how = f", {payment.how}" if payment.how else ""
        sums.append((said + how, signed(-payment.amount_minor)))
    due = "Due" if money.due_minor >= 0 else "Paid too much"
    sums.append((due, price(abs(money.due_minor), currency)))
    facts = (
        ("Day", _day(found.issued_on)),
        ("Order", str(order.pk)),
        ("Ordered", _day(order.ordered_on)),
        ("Your number", order.source_reference),
    )
    notes = (shop.invoice_note,) if shop and shop.invoice_note else ()
    return Paper(
        f"Invoice {found.number}",
        sender(shop),
        facts,
        to=_to(order),
        grids=(Grid(tuple(columns), tuple(rows), tuple(sums)),),
        notes=notes,
        size=size,
    )


def receipt(order: Order, *, shop: Shop | None, size: str) -> Paper:
    """The money that came for an order and went back, and what is still due."""
    currency = shop.currency if shop else ""
    money = queries.money_of(order)
    columns = (
        Column("Day", 0.2),
        Column("What", 0.2),
        Column("How", 0.38),
        Column("Amount", 0.22, right=True),
    )
    rows = tuple(
        (
            _day(one.paid_on),
            one.get_kind_display().capitalize(),
            one.how,
            signed(one.amount_minor),
        )
        for one in order.payments.all()
    )
    due = "Still due" if money.due_minor >= 0 else "Paid too much"
    sums = (
        ("The order comes to", price(money.total_minor, currency)),
        (due, price(abs(money.due_minor), currency)),
        ("Received", signed(money.paid_minor, currency)),
    )
    return Paper(
        f"Receipt, order {order.pk}",
        sender(shop),
        (("Ordered", _day(order.ordered_on)),),
        to=_to(order),
        grids=(Grid(columns, rows, sums),),
        notes=("Thank you.",),
        size=size,
    )


def lines_of(order: Order) -> Iterable:
    return order.lines.all()


def signed(minor: int, currency: str = "") -> str:
    """A sum in cents, a minus before what is taken off."""
    text = price(abs(minor), currency)
    return f"\N{MINUS SIGN}{text}" if minor < 0 else text


def _to(order: Order) -> tuple[str, ...]:
    return tuple(addresses.with_name(order.customer.name, order.customer.address))


def _billed(line) -> str:
    why = []
    if line.dropped:
        why.append(f"{line.dropped:,} not coming")
    if line.credited:
        why.append(f"{line.credited:,} came back")
    return f"{line.product} ({', '.join(why)})" if why else str(line.product)


def _lot(sent, count: int) -> str:
    return sent.lot.printed if count == 1 else f"{sent.lot.printed}: {sent.bags:,}"


def _percent(value) -> str:
    text = f"{value:f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return f"{text} %" if text != "0" else ""


def _day(day) -> str:
    return day.isoformat()


def _logo(shop: Shop) -> Path | None:
    """The logo's file, if it is there."""
    if shop.logo is None:
        return None
    path = files.path_of(shop.logo.stored_as)
    return path if path.exists() else None
