"""The opening shelf from a file."""

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_http_methods, require_safe

from inventory import exports
from inventory.services.exchange import SHELF
from inventory.views import exchange

PAGE = exchange.Page(
    importing=SHELF,
    title="Opening shelf",
    lede="What stands on the shelf today, from one CSV or XLSX file. You see what it does before "
    "anything is booked.",
    question="Is this your shelf?",
    here="inventory:opening",
    back="inventory:shelf",
    done="inventory:shelf",
)


@require_http_methods(["GET", "HEAD", "POST"])
def opening(request: HttpRequest) -> HttpResponse:
    return exchange.exchange_page(request, PAGE)


@require_safe
def template(request: HttpRequest, form: str) -> HttpResponse:
    return exchange.template_file(PAGE, form)


@require_safe
def now(request: HttpRequest, form: str) -> HttpResponse:
    return exchange.sheet_file([exports.shelf_sheet()], "shelf", form)
