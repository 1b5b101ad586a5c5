"""Purchase orders: sent, on their way, received in parts."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from inventory import deliveries, forms_base, purchase_papers
from inventory.forms_purchasing import ExpectedForm, ReceivePurchaseForm
from inventory.models import PurchaseLine, PurchaseOrder, PurchaseReceipt
from inventory.services import purchasing
from inventory.services.posting import LedgerError
from inventory.views import paging
from inventory.views.buying import as_file, paper

CHANGES = {"close": purchasing.close, "reopen": purchasing.reopen}


@require_http_methods(["GET", "HEAD"])
def purchases(request: HttpRequest) -> HttpResponse:
    found = deliveries.with_sums(PurchaseOrder.objects.select_related("supplier"))
    found = found.order_by("-ordered_on", "-pk")
    context = {"page_obj": paging.page(request, found), "today": timezone.localdate()}
    return render(request, "inventory/purchases.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def purchase(request: HttpRequest, pk: int) -> HttpResponse:
    order = _order(pk)
    initial = {"expected_on": order.expected_on, "notes": order.notes}
    form = ExpectedForm(paging.posted(request), order=order, initial=initial)
    if request.method == "POST" and form.is_valid():
        purchasing.expect(order, **form.cleaned_data)
        messages.success(request, "Saved.")
        return redirect("inventory:purchase", pk)
    lines = _lines(order)
    shop = request.shop
    receipts = PurchaseReceipt.objects.filter(line__order=order)
    return paging.render_form(
        request,
        "inventory/purchase.html",
        form,
        order=order,
        lines=lines,
        missing=[line for line in lines if line.received < line.quantity],
        goods=purchase_papers.goods_minor(lines),
        total=purchase_papers.goods_minor(lines) + order.shipping_minor,
        text=purchase_papers.as_text(order, lines, shop=_name(shop), currency=_currency(shop)),
        receipts=receipts.select_related("line__item", "entry", "lot").order_by("-pk")[
            : paging.ROWS
        ],
        today=timezone.localdate(),
    )


@require_http_methods(["GET", "HEAD", "POST"])
def purchase_receive(request: HttpRequest, pk: int) -> HttpResponse:
    order = _order(pk)
    form = ReceivePurchaseForm(paging.posted(request), order=order, lines=_lines(order))
    if request.method == "POST" and form.is_valid():
        entry = forms_base.post_or_errors(
            form,
            purchasing.receive,
            order=order,
            delivered=form.delivered(),
            received_on=form.cleaned_data["received_on"],
            note=form.cleaned_data["note"],
            by=request.user,
        )
        if entry:
            waiting = purchasing.missing(order)
            rest = "All of it is there." if not waiting else "The rest is still on its way."
            messages.success(request, f"{entry.title}. {rest}")
            return redirect("inventory:purchase", pk)
    return paging.render_form(request, "inventory/purchase_receive.html", form, order=order)


@require_POST
def purchase_state(request: HttpRequest, pk: int) -> HttpResponse:
    order = _order(pk)
    change = CHANGES.get(request.POST.get("to", ""))
    try:
        if change:
            change(order)
    except LedgerError as error:
        messages.error(request, str(error))
    return redirect("inventory:purchase", pk)


@require_http_methods(["GET", "HEAD"])
def purchase_pdf(request: HttpRequest, pk: int) -> HttpResponse:
    order, shop = _order(pk), request.shop
    data = purchase_papers.as_pdf(
        order, _lines(order), shop=_name(shop), currency=_currency(shop), paper=paper(request)
    )
    return as_file(data, "application/pdf", f"{order.number}.pdf", "inline")


@require_http_methods(["GET", "HEAD"])
def purchase_csv(request: HttpRequest, pk: int) -> HttpResponse:
    order = _order(pk)
    text = purchase_papers.as_csv(order, _lines(order))
    return as_file(text.encode("utf-8-sig"), "text/csv; charset=utf-8", f"{order.number}.csv")


def _order(pk: int) -> PurchaseOrder:
    return get_object_or_404(PurchaseOrder.objects.select_related("supplier"), pk=pk)


def _lines(order: PurchaseOrder) -> list[PurchaseLine]:
    return list(deliveries.with_received(order.lines.select_related("item")))


def _name(shop) -> str:
    return shop.name if shop else ""


def _currency(shop) -> str:
    return shop.currency if shop else ""
