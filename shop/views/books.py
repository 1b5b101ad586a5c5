"""The books, for the owner."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from shop import books as accounts


@require_safe
def books(request: HttpRequest) -> HttpResponse:
    values = accounts.value_by_kind()
    months = accounts.months(timezone.localdate())
    return render(
        request,
        "shop/books.html",
        {
            "values": values,
            "worth": sum((row.value for row in values), accounts.Total()),
            "months": months,
            "year": accounts.year(months),
        },
    )
