"""The page of one order, put together from its parts: a function for what each fragment shows."""

from typing import Any

from django.db.models import prefetch_related_objects
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from inventory import pdf
from shop import addresses, parcels, promise_page, promises, queries
from shop.models import Invoice, Order, Shop


def order_or_404(pk: int) -> Order:
    return get_object_or_404(queries.orders(), pk=pk)


@require_safe
def order(request: HttpRequest, pk: int) -> HttpResponse:
    return show(request, order_or_404(pk))


def show(request: HttpRequest, order: Order, *, status: int = 200, **instead: Any) -> HttpResponse:
    """The whole page; `instead`: what stands in place of a part's own (a form sent back with 422)."""
    page = {"order": order}
    for part in (_head, _lines, _shipping, _money):
        page |= part(order)
    return render(request, "shop/order.html", page | instead, status=status)


def _head(order: Order) -> dict[str, Any]:
    """What shop/_order_head.html shows."""
    wishes = order.color_requests.select_related("customer", "trial")
    return {"wishes": wishes, "address": addresses.of(order)}


def _lines(order: Order) -> dict[str, Any]:
    """What shop/_order_lines.html shows."""
    lines = queries.line_states([order])[order.pk]
    return _where(order, lines) | {
        "lines": lines,
        "waiting": [line for line in lines if line.line.remaining],
        "ready_bags": sum(min(line.bagged, line.line.remaining) for line in lines),
        "remaining_bags": sum(line.line.remaining for line in lines),
        "not_coming": sum(line.line.dropped for line in lines),
        "ready": bool(lines) and all(line.ready for line in lines),
        "total_bags": sum(line.line.bags for line in lines),
    }


def _where(order: Order, lines: list[queries.LineState]) -> dict[str, Any]:
    """Where each bag of an open order stands."""
    if order.status != Order.Status.OPEN or not lines:
        return {}
    system = (Shop.objects.values_list("units", flat=True).first()) or Shop.Units.METRIC
    return {
        "shown": promise_page.show(promises.ask(promises.of_order(order)), system),
        "can_hold": any(min(s.bagged, s.line.remaining) > s.held for s in lines),
        "has_holds": any(s.held for s in lines),
    }


def _shipping(order: Order) -> dict[str, Any]:
    """What shop/_order_shipping.html shows, besides the lines."""
    found = parcels.of(parcels.shipments().filter(order=order))
    return {
        "parcels": found,
        "sent": any(parcel.stands for parcel in found),
        "invoice": Invoice.objects.filter(order=order).first(),
        "unprintable": pdf.missing_letters(
            "".join(
                [
                    str(order.customer),
                    addresses.of(order),
                    *(parcel.shipment.ship_to for parcel in found),
                ]
            ).replace("\n", "")
        ),
    }


def _money(order: Order) -> dict[str, Any]:
    """What shop/_order_money.html shows."""
    prefetch_related_objects([order], "lines", "payments")
    return {"money": queries.money_of(order), "payments": order.payments.all()}
