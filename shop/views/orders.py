"""Orders: the list, and cancelling one."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Q
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.http import urlencode
from django.views.decorators.http import require_POST, require_safe

from shop import queries
from shop.services import orders as service
from shop.views import PER_PAGE, order_page

TABS = [("open", "Open"), ("shipped", "Shipped"), ("cancelled", "Cancelled"), ("all", "All")]


@require_safe
def orders(request: HttpRequest) -> HttpResponse:
    wanted = request.GET.get("status", "open")
    if wanted not in dict(TABS):
        raise Http404
    if wanted == "open":
        found = queries.open_orders()
    else:
        found = queries.orders().order_by("-ordered_on", "-id")
        found = found if wanted == "all" else found.filter(status=wanted)
    text = request.GET.get("q", "").replace("\0", "").strip()[:60]
    if text:
        found = found.filter(_named(text))
    found = found.annotate(total_bags=queries.TOTAL_BAGS, total_minor=queries.TOTAL_MINOR)
    page = Paginator(found, PER_PAGE).get_page(request.GET.get("page"))
    return render(
        request,
        "shop/orders.html",
        {
            "page_obj": page,
            "tabs": TABS,
            "status": wanted,
            "text": text,
            "query": f"{urlencode({'status': wanted} | ({'q': text} if text else {}))}&",
        },
    )


def _named(text: str) -> Q:
    """Orders that a text means: a customer's name, an order's number here or where it was placed."""
    meant = Q(customer__name__icontains=text) | Q(source_reference__iexact=text)
    number = text.lstrip("#")
    if number.isascii() and number.isdecimal() and len(number) < 19:
        meant |= Q(pk=int(number))
    return meant


@require_POST
def order_cancel(request: HttpRequest, pk: int) -> HttpResponse:
    try:
        service.cancel(order_page.order_or_404(pk))
    except service.OrderError as error:
        messages.error(request, str(error))
    else:
        messages.success(request, f"Order {pk} is cancelled.")
    return redirect("order", pk=pk)
