"""The shop's papers as PDFs: pick list, packing slip, invoice and receipt."""

from django.contrib import messages
from django.db.models import prefetch_related_objects
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST, require_safe

from inventory.views.buying import as_file, paper
from shop import paper_pdf, papers, parcels, picking, queries
from shop.models import Invoice, Order
from shop.services import invoices
from shop.views import order_page
from shop.views.shipping import shipment_or_404


@require_safe
def pick_list(request: HttpRequest) -> HttpResponse:
    """One list for the open orders that were ticked, the first due served first."""
    asked = [int(pk) for pk in request.GET.getlist("order") if pk.isdecimal()][:200]
    orders = list(queries.open_orders().filter(pk__in=asked))
    if not orders:
        messages.info(request, "Tick the orders to pick for first.")
        return redirect("packing")
    return _pick_list(request, orders, "pick-list.pdf")


@require_safe
def order_pick_list(request: HttpRequest, pk: int) -> HttpResponse:
    order = order_page.order_or_404(pk)
    if order.status != Order.Status.OPEN:
        raise Http404
    return _pick_list(request, [order], f"pick-list-order-{pk}.pdf")


@require_safe
def packing_slip(request: HttpRequest, pk: int) -> HttpResponse:
    [parcel] = parcels.of([shipment_or_404(pk)])
    order = _whole(parcel.shipment.order_id)
    drawn = papers.packing_slip(parcel, order, shop=request.shop, size=paper(request))
    return _answer(drawn, f"packing-slip-order-{order.pk}.pdf")


@require_POST
def invoice_issue(request: HttpRequest, pk: int) -> HttpResponse:
    """Gives the order its invoice number, once."""
    try:
        found = invoices.issue(order_page.order_or_404(pk))
    except invoices.NoInvoice as error:
        messages.error(request, str(error))
    else:
        messages.success(request, f"This order's invoice is {found.number}.")
    return redirect("order", pk=pk)


@require_safe
def invoice(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Invoice, order=pk)
    drawn = papers.invoice(found, _whole(pk), shop=request.shop, size=paper(request))
    return _answer(drawn, f"invoice-{found.number}.pdf")


@require_safe
def receipt(request: HttpRequest, pk: int) -> HttpResponse:
    order = _whole(pk)
    if not order.payments.all():
        raise Http404
    drawn = papers.receipt(order, shop=request.shop, size=paper(request))
    return _answer(drawn, f"receipt-order-{pk}.pdf")


def _pick_list(request: HttpRequest, orders: list[Order], name: str) -> HttpResponse:
    found = picking.picks(orders)
    return _answer(papers.pick_list(found, orders, shop=request.shop, size=paper(request)), name)


def _whole(pk: int) -> Order:
    """The order with all that its papers read."""
    order = order_page.order_or_404(pk)
    prefetch_related_objects([order], "lines__product__item", "payments")
    return order


def _answer(drawn: paper_pdf.Paper, name: str) -> HttpResponse:
    return as_file(paper_pdf.draw(drawn), "application/pdf", name, "inline")
