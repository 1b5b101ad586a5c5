"""Price lists: all of them, one with its prices, and as a paper to hand out."""

from decimal import Decimal

from django.contrib import messages
from django.db.models import Count
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.formats import date_format
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from inventory.forms_base import save_or_errors
from inventory.templatetags.shelf import price
from inventory.views.buying import as_file, paper
from shop import price_list_pdf, price_table, prices
from shop.addresses import tidy
from shop.forms_prices import PriceListForm
from shop.models import PriceList, Shop
from shop.services import price_lists as service
from shop.views import posted


@require_safe
def price_lists(request: HttpRequest) -> HttpResponse:
    found = PriceList.objects.annotate(
        who=Count("customers", distinct=True), own=Count("prices", distinct=True)
    )
    return render(request, "shop/price_lists.html", {"lists": found})


@require_http_methods(["GET", "HEAD", "POST"])
def price_list_new(request: HttpRequest) -> HttpResponse:
    return _page(request, None)


@require_http_methods(["GET", "HEAD", "POST"])
def price_list(request: HttpRequest, pk: int) -> HttpResponse:
    return _page(request, get_object_or_404(PriceList, pk=pk))


@require_POST
def price_list_remove(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(PriceList, pk=pk)
    service.remove(found)
    messages.success(request, f"{found} is removed. Who paid by it pays the products' own prices.")
    return redirect("price_lists")


@require_safe
def price_list_pdf_file(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(PriceList, pk=pk)
    return _pdf(request, found.name, prices.of_list(found))


@require_safe
def retail_pdf(request: HttpRequest) -> HttpResponse:
    return _pdf(request, service.RETAIL, prices.Prices())


def _page(request: HttpRequest, found: PriceList | None) -> HttpResponse:
    groups = price_table.groups(prices.of_list(found))
    initial = {"percent_off": Decimal(0)}
    if found:
        initial = {"name": found.name, "percent_off": found.percent_off}
    form = PriceListForm(posted(request), groups=groups, initial=initial)
    if request.method == "POST" and form.is_valid():
        facts = {name: form.cleaned_data[name] for name in ("name", "percent_off")}
        if kept := save_or_errors(form, service.save, found, own=form.own(), **facts):
            messages.success(request, f"The list {kept} is saved.")
            return redirect("price_list", pk=kept.pk)
    page = {"form": form, "list": found, "title": found.name if found else ""}
    status = 422 if form.is_bound else 200
    return render(request, "shop/price_list.html", page, status=status)


def _pdf(request: HttpRequest, name: str, costs: prices.Prices) -> HttpResponse:
    shop: Shop | None = request.shop
    day = date_format(timezone.localdate(), "j M Y")
    said = f"As of {day}. Prices of a bag{f' in {shop.currency}' if shop else ''}."
    if costs.percent_off or costs.own:
        said += " This list is for whom it was given to."
    sheet = price_list_pdf.PriceSheet(
        title=f"Price list, {name}",
        sender=_sender(shop),
        note=said,
        sections=tuple(_section(group) for group in price_table.groups(costs)),
        paper=paper(request),
    )
    return as_file(price_list_pdf.draw(sheet), "application/pdf", "price-list.pdf", "inline")


def _sender(shop: Shop | None) -> tuple[str, ...]:
    if shop is None:
        return ()
    lines = [shop.name, *tidy(shop.address).splitlines(), shop.email, shop.phone]
    return tuple(line for line in lines if line)


def _section(group: price_table.Group) -> price_list_pdf.Section:
    return price_list_pdf.Section(
        group.name,
        tuple(
            price_list_pdf.Line(
                chips=tuple(price_table.drawing(pattern) for pattern in row.patterns),
                color=row.color,
                pack=f"{row.baits} to a bag",
                price=price(row.price_minor),
                barcode=row.product.barcode,
            )
            for row in group.rows
        ),
    )
