"""Packing parcels, sending them, and taking back what returns."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from inventory.forms_base import post_or_errors
from inventory.views import paging
from production import bag_weight
from shop import forms_shipping as forms
from shop import parcels, queries
from shop.models import Customer, Order, Shipment
from shop.services import returns, shipping
from shop.views import order_page

#: So many open orders can be picked at once, the first due first.
MOST_ORDERS = 60


@require_safe
def packing(request: HttpRequest) -> HttpResponse:
    """The open orders with what stands ready for each: those ticked are picked together."""
    orders = list(queries.open_orders()[: MOST_ORDERS + 1])
    shown = orders[:MOST_ORDERS]
    states = queries.line_states(shown)
    rows = [
        {
            "order": order,
            "ready": sum(min(line.bagged, line.line.remaining) for line in states[order.pk]),
            "remaining": sum(line.line.remaining for line in states[order.pk]),
        }
        for order in shown
    ]
    context = {"rows": rows, "more": len(orders) > MOST_ORDERS}
    return render(request, "shop/packing.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def order_ship(request: HttpRequest, pk: int) -> HttpResponse:
    order = order_page.order_or_404(pk)
    if Shipment.objects.filter(order=pk, entry__key=request.POST.get("key", "")).exists():
        # What stands ready has changed by it, so the form can't be read again.
        messages.info(request, "This parcel was sent already: it stands below.")
        return redirect("order", pk=pk)
    form = forms.ship_form(order, paging.posted(request))
    if request.method == "POST" and form.is_valid():
        typed = form.cleaned_data
        entry = post_or_errors(
            form,
            shipping.ship,
            order=order,
            packed=[one for one in form.packed if one.bags],
            **{name: typed[name] for name in ("ship_to", "carrier", "tracking", "weight_g")},
            look_at=typed["look_at"],
            by=request.user,
        )
        if entry:
            _say_sent(request, order)
            return redirect("order", pk=pk)
    if order.status != Order.Status.OPEN and request.method != "POST":
        messages.info(request, f"Order {pk} is {order.status}: nothing more is to be sent.")
        return redirect("order", pk=pk)
    bags = _bag_weights(form)
    missing = bag_weight.together(weight for _, weight in bags).missing
    return paging.render_form(
        request, "shop/order_ship.html", form, order=order, bags=bags, missing=missing
    )


@require_POST
def order_close(request: HttpRequest, pk: int) -> HttpResponse:
    return _answered(
        request,
        pk,
        shipping.close,
        f"Order {pk} is closed: the rest is not coming. The customer pays for what left.",
    )


@require_POST
def order_reopen(request: HttpRequest, pk: int) -> HttpResponse:
    return _answered(request, pk, shipping.reopen, f"Order {pk} is open again.")


@require_http_methods(["GET", "HEAD", "POST"])
def shipment(request: HttpRequest, pk: int) -> HttpResponse:
    """What was written beside a parcel, to be mended."""
    found = shipment_or_404(pk)
    facts = {"ship_to": found.ship_to, "carrier": found.carrier, "tracking": found.tracking}
    form = forms.ParcelForm(paging.posted(request), initial={**facts, "weight_g": found.weight_g})
    if request.method == "POST" and form.is_valid():
        shipping.describe(found, **form.cleaned_data)
        messages.success(request, "Saved.")
        return redirect("order", pk=found.order_id)
    [parcel] = parcels.of([found])
    return paging.render_form(
        request,
        "shop/shipment.html",
        form,
        parcel=parcel,
        reckoned=shipping.bags_weigh(parcel.sent),
    )


@require_http_methods(["GET", "HEAD", "POST"])
def shipment_return(request: HttpRequest, pk: int) -> HttpResponse:
    found = shipment_or_404(pk)
    [parcel] = parcels.of([found])
    if not parcel.stands:
        messages.error(request, "This shipment was undone, so nothing of it can come back.")
        return redirect("order", pk=found.order_id)
    form = forms.ReturnForm(paging.posted(request), parcel=parcel)
    if request.method == "POST" and form.is_valid():
        entry = post_or_errors(
            form, returns.take_back, shipment=found, **form.facts(), by=request.user
        )
        if entry:
            messages.success(request, f"{entry.title}.")
            return redirect("order", pk=found.order_id)
    return paging.render_form(request, "shop/shipment_return.html", form, parcel=parcel)


@require_safe
def customer_sent(request: HttpRequest, pk: int) -> HttpResponse:
    """All that was sent to one customer, with its lots."""
    customer = get_object_or_404(Customer, pk=pk)
    page = paging.page(request, parcels.shipments().filter(order__customer=customer), size=20)
    context = {"customer": customer, "page_obj": page, "parcels": parcels.of(page.object_list)}
    return render(request, "shop/customer_sent.html", context)


def shipment_or_404(pk: int) -> Shipment:
    return get_object_or_404(parcels.shipments(), pk=pk)


def _answered(request: HttpRequest, pk: int, change, said: str) -> HttpResponse:
    try:
        change(order_page.order_or_404(pk))
    except shipping.ShippingError as error:
        messages.error(request, str(error))
    else:
        messages.success(request, said)
    return redirect("order", pk=pk)


def _say_sent(request: HttpRequest, order: Order) -> None:
    left = sum(line.remaining for line in order.lines.all())
    rest = f"{left} bag{'' if left == 1 else 's'} still to come." if left else "All of it has left."
    messages.success(request, f"The parcel of order {order.pk} has shipped. {rest}")


def _bag_weights(form: forms.ShipForm) -> list[tuple[str, bag_weight.Weight]]:
    """What one bag of each product weighs, by the lot that goes first."""
    first = {
        line.product: there.lots[0].lot
        for line in form.lines
        if (there := form.stock[line.product.item_id]).lots
    }
    weights = bag_weight.of_lots(list(first.values()))
    return [(str(product), weights[lot.pk]) for product, lot in first.items()]
