"""The page of one order, put together from its parts: a function for what each fragment shows."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from shop import forms, queries
from shop.models import Order


def order_or_404(pk: int) -> Order:
    return get_object_or_404(queries.orders(), pk=pk)


@require_safe
def order(request: HttpRequest, pk: int) -> HttpResponse:
    return show(request, order_or_404(pk))


def show(request: HttpRequest, order: Order, *, status: int = 200, **instead: Any) -> HttpResponse:
    """The whole page; `instead`: what stands in place of a part's own (a form sent back with 422)."""
    page = {"order": order}
    for part in (_lines, _shipping, _money):
        page |= part(order)
    return render(request, "shop/order.html", page | instead, status=status)


def _lines(order: Order) -> dict[str, Any]:
    """What shop/_order_lines.html shows."""
    lines = queries.line_states([order])[order.pk]
    return {
        "lines": lines,
        "ready": bool(lines) and all(line.ready for line in lines),
        "total_bags": sum(line.line.bags for line in lines),
    }


def _shipping(order: Order) -> dict[str, Any]:
    """What shop/_order_shipping.html shows."""
    shipments = order.shipments.select_related("entry__by", "entry__reversed_by").order_by("-id")
    return {"form": forms.ShipForm(), "shipments": shipments}


def _money(order: Order) -> dict[str, Any]:
    """What shop/_order_money.html shows."""
    return {"money": queries.money_of(order)}
