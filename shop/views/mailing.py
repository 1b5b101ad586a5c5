"""The mailing label of a parcel, or of an order before it is packed."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods

from inventory.views import paging
from production import plain_label, printing
from production.models import LabelTemplate
from production.services import printing as service
from shop import addresses
from shop.forms_mailing import MailingForm
from shop.models import Order
from shop.views import order_page


@require_http_methods(["GET", "HEAD", "POST"])
def order_mailing(request: HttpRequest, pk: int) -> HttpResponse:
    """Asks where to and on which sheet; POST notes the job and gives its PDF."""
    order = order_page.order_or_404(pk)
    to = addresses.with_name(order.customer.name, addresses.of(order))
    form = MailingForm(paging.posted(request), initial={"address": "\n".join(to)})
    if request.method == "POST" and form.is_valid():
        typed = form.cleaned_data
        try:
            data = _drawn(request, typed)
        except plain_label.LabelError as error:
            form.add_error("start" if "start at place" in str(error) else "address", str(error))
        else:
            _note(request, order, typed)
            answer = HttpResponse(data, content_type="application/pdf")
            answer["Content-Disposition"] = f'inline; filename="mailing-{pk}.pdf"'
            return answer
    context = {"form": form, "order": order, "without_address": len(to) < 2}
    return render(request, "shop/order_mailing.html", context, status=422 if form.errors else 200)


def _drawn(request: HttpRequest, typed: dict) -> bytes:
    """From whom in small, then where to in large."""
    shop = request.shop
    sender = [shop.name, *addresses.tidy(shop.address).splitlines()] if shop else []
    label = plain_label.PlainLabel(
        addresses.tidy(typed["address"]).splitlines(),
        strong=1,
        above=", ".join(part for part in sender if part),
    )
    look = printing.look_of(None, typed.get("printer"), None)
    return plain_label.sheet(
        [label], typed["sheet"], typed["start"], right_mm=look.right_mm, down_mm=look.down_mm
    )


def _note(request: HttpRequest, order: Order, typed: dict) -> None:
    job = printing.Job(
        LabelTemplate.Kind.MAILING, (), typed["sheet"], typed["start"], None, typed.get("printer")
    )
    service.note(job, [(None, f"Order {order.pk} to {order.customer}"[:160], 1)], by=request.user)
