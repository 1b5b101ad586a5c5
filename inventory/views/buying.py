"""What to buy, on the page, on paper and for a spreadsheet."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from inventory import buying_list


@require_http_methods(["GET", "HEAD"])
def buying(request: HttpRequest) -> HttpResponse:
    baskets = buying_list.baskets()
    total = sum(basket.total_minor for basket in baskets)
    return render(request, "inventory/buying.html", {"baskets": baskets, "total": total})


@require_http_methods(["GET", "HEAD"])
def pdf(request: HttpRequest) -> HttpResponse:
    shop = request.shop
    paper = "a4" if shop and shop.units == "metric" else "letter"
    data = buying_list.as_pdf(
        buying_list.baskets(),
        shop=shop.name if shop else "",
        date=timezone.localdate().isoformat(),
        currency=shop.currency if shop else "",
        paper=paper,
    )
    return _file(data, "application/pdf", "reorder-list.pdf", "inline")


@require_http_methods(["GET", "HEAD"])
def csv(request: HttpRequest) -> HttpResponse:
    text = buying_list.as_csv(buying_list.baskets())
    # With the byte-order mark, spreadsheets open it as UTF-8.
    return _file(text.encode("utf-8-sig"), "text/csv; charset=utf-8", "reorder-list.csv")


def _file(data: bytes, kind: str, name: str, how: str = "attachment") -> HttpResponse:
    response = HttpResponse(data, content_type=kind)
    response["Content-Disposition"] = f'{how}; filename="{name}"'
    return response
