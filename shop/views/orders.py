"""Orders: the list, taking one, and sending it off."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from inventory.forms_base import post_or_errors
from production.models import Product
from shop import forms, queries
from shop.models import Customer, Order
from shop.services import orders as service
from shop.services import shipping
from shop.views import PER_PAGE, order_page, posted

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
    found = found.annotate(total_bags=queries.TOTAL_BAGS, total_minor=queries.TOTAL_MINOR)
    page = Paginator(found, PER_PAGE).get_page(request.GET.get("page"))
    return render(
        request,
        "shop/orders.html",
        {"page_obj": page, "tabs": TABS, "status": wanted, "query": f"status={wanted}&"},
    )


@require_POST
def order_ship(request: HttpRequest, pk: int) -> HttpResponse:
    found = order_page.order_or_404(pk)
    form = forms.ShipForm(request.POST)
    if form.is_valid() and post_or_errors(form, shipping.ship, order=found, by=request.user):
        messages.success(request, f"Order {pk} has shipped.")
        return redirect("order", pk=pk)
    return order_page.show(request, found, form=form, status=422)


@require_POST
def order_cancel(request: HttpRequest, pk: int) -> HttpResponse:
    try:
        service.cancel(order_page.order_or_404(pk))
    except service.OrderError as error:
        messages.error(request, str(error))
    else:
        messages.success(request, f"Order {pk} is cancelled.")
    return redirect("order", pk=pk)


@require_http_methods(["GET", "HEAD", "POST"])
def order_new(request: HttpRequest) -> HttpResponse:
    chosen = request.GET.get("customer", "")
    form = forms.OrderForm(
        posted(request), initial={"customer": chosen} if chosen.isdecimal() else None
    )
    return _order_form(request, form, None)


@require_http_methods(["GET", "HEAD", "POST"])
def order_edit(request: HttpRequest, pk: int) -> HttpResponse:
    found = order_page.order_or_404(pk)
    if found.status != Order.Status.OPEN:
        messages.error(request, "Only an open order can be changed.")
        return redirect("order", pk=pk)
    facts = {"customer": found.customer_id, "due_on": found.due_on, "notes": found.notes}
    return _order_form(request, forms.OrderForm(posted(request), initial=facts), found)


def _order_form(request: HttpRequest, form: forms.OrderForm, found: Order | None) -> HttpResponse:
    lines = _lines_form(request, found)
    clear = request.method == "POST" and all([form.is_valid(), lines.is_valid()])
    if clear and (saved := _save(request, form, lines.wanted(), found)):
        return redirect("order", pk=saved.pk)
    page = {"form": form, "lines": lines, "order": found}
    status = 422 if form.is_bound else 200
    return render(request, "shop/order_form.html", page, status=status)


def _lines_form(request: HttpRequest, found: Order | None) -> forms.LinesFormSet:
    products = Product.objects.select_related("item").filter(item__archived=False)
    had = list(found.lines.select_related("product__item")) if found else []
    # A product that was archived since stays in the order that has it.
    choices = {str(p.pk): p for p in [*products, *(line.product for line in had)]}
    initial = [
        {"product": str(line.product_id), "bags": line.bags, "price": line.price_minor}
        for line in had
    ]
    lines = forms.LinesFormSet(
        posted(request),
        initial=initial,
        prefix="lines",
        form_kwargs={"products": choices},
    )
    lines.extra = forms.MOST_LINES - len(initial)
    return lines


def _save(
    request: HttpRequest, form: forms.OrderForm, wanted: list[service.Wanted], found: Order | None
) -> Order | None:
    """The order as saved; None when there is something to answer first: the form then says what."""
    typed = form.cleaned_data
    facts = {
        "customer": typed["customer"] or Customer(name=typed["new_customer"]),
        "lines": wanted,
        "due_on": typed["due_on"],
    }
    if found:
        try:
            return service.change(found, **facts, notes=typed["notes"])
        except service.OrderError as error:
            form.add_error(None, str(error))
            return None
    if typed["customer"] and not request.POST.get("really") and (twin := service.twin(**facts)):
        form.ask_again(twin)
        return None
    return service.take(**facts, notes=typed["notes"])
