"""What to buy: the list with its numbers to change, on paper and for a spreadsheet."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from inventory import buying_list, buying_papers, deliveries, servicing, shelf_overview
from inventory.buying_list import BuyingList
from inventory.forms_purchasing import BasketForm, SettingsForm
from inventory.models import PurchaseOrder
from inventory.services import purchasing
from inventory.services.posting import LedgerError

#: So many orders on their way are named; the rest is a link away.
MOST_ORDERS = 10


@require_http_methods(["GET", "HEAD", "POST"])
def buying(request: HttpRequest) -> HttpResponse:
    sent = request.POST if request.method == "POST" else request.GET
    asked = SettingsForm(sent if {"weeks", "service"} & set(sent) else None)
    settings = (
        asked.settings() if not asked.is_bound or asked.is_valid() else SettingsForm().settings()
    )
    today = timezone.localdate()
    found = buying_list.build(today, settings)
    # All numbers of the page come together: those typed for one supplier stay while another's are counted.
    data = request.POST if request.method == "POST" else None
    forms = [BasketForm(data, basket=basket) for basket in found.baskets if basket.supplier]
    for form in forms:
        if form.is_bound and (order := _answer(request, form)):
            messages.success(request, f"{order} is written down. Send it to {order.supplier}.")
            return redirect("inventory:purchase", order.pk)
    wrong = asked.errors or any(form.errors for form in forms)
    context = {
        "list": found,
        "asked": asked,
        "forms": forms,
        "unsold": [one for basket in found.baskets for one in basket.unsold],
        "today": today,
        "due": servicing.due(),
        "orders": deliveries.open_orders()[: MOST_ORDERS + 1],
        "most_orders": MOST_ORDERS,
        "overview": shelf_overview.build(found.everything, today),
    }
    return render(request, "inventory/buying.html", context, status=422 if wrong else 200)


def _answer(request: HttpRequest, form: BasketForm) -> PurchaseOrder | None:
    """Counts again with the numbers sent; makes the order when that was asked for."""
    if not form.is_valid():
        return None
    form.take_counts()
    basket = form.basket
    pack, _, count = request.POST.get("set", "").partition(":")
    action, _, supplier = request.POST.get("do", "").partition(":")
    if count.isdecimal() and f"packs-{pack}" in form.fields:
        form.set({f"packs-{pack}": int(count)})
    if supplier != str(basket.supplier.pk):
        return None
    if action == "fill" and (tip := basket.free_shipping):
        form.set({basket.row_of(one.pack.key).name: one.count for one in tip.added})
    elif action == "order" and form.ask(request.shop.currency if request.shop else ""):
        try:
            return purchasing.order(
                # The page has one key, and one order to each supplier.
                key=f"{form.cleaned_data['key']}-{basket.supplier.pk}",
                supplier=basket.supplier,
                wanted=form.wanted(),
                ordered_on=timezone.localdate(),
                shipping_minor=basket.shipping_minor,
                notes=form.note,
            )
        except LedgerError as error:
            form.add_error(None, str(error))
    return None


@require_http_methods(["GET", "HEAD"])
def pdf(request: HttpRequest) -> HttpResponse:
    shop = request.shop
    data = buying_papers.as_pdf(
        _list(request),
        shop=shop.name if shop else "",
        date=timezone.localdate().isoformat(),
        currency=shop.currency if shop else "",
        paper=paper(request),
    )
    return as_file(data, "application/pdf", "reorder-list.pdf", "inline")


@require_http_methods(["GET", "HEAD"])
def csv(request: HttpRequest) -> HttpResponse:
    text = buying_papers.as_csv(_list(request).to_buy)
    # With the byte-order mark, spreadsheets open it as UTF-8.
    return as_file(text.encode("utf-8-sig"), "text/csv; charset=utf-8", "reorder-list.csv")


def _list(request: HttpRequest) -> BuyingList:
    asked = SettingsForm(request.GET)
    settings = asked.settings() if asked.is_valid() else SettingsForm().settings()
    return buying_list.build(timezone.localdate(), settings)


def paper(request: HttpRequest) -> str:
    return "a4" if request.shop and request.shop.units == "metric" else "letter"


def as_file(data: bytes, kind: str, name: str, how: str = "attachment") -> HttpResponse:
    response = HttpResponse(data, content_type=kind)
    response["Content-Disposition"] = f'{how}; filename="{name}"'
    return response
