"""Colors that customers want: the list, a new one, and what came of it."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.http import urlencode
from django.views.decorators.http import require_http_methods, require_safe

from inventory.forms_base import save_or_errors
from shop.forms_colors import NewWishForm, WishForm
from shop.models import ColorRequest, Customer, Order
from shop.services import color_requests as service
from shop.views import PER_PAGE, posted

State = ColorRequest.State
TABS = [(State.OPEN, "Open"), (State.DONE, "Done"), (State.DROPPED, "Dropped"), ("all", "All")]
#: Letters of the wish that the recipe's page shows.
_SHOWN = 300


@require_safe
def color_requests(request: HttpRequest) -> HttpResponse:
    wanted = request.GET.get("state", State.OPEN)
    if wanted not in dict(TABS):
        raise Http404
    found = ColorRequest.objects.select_related("customer", "order", "picture", "trial")
    if wanted != "all":
        found = found.filter(state=wanted)
    page = {
        "page_obj": Paginator(found, PER_PAGE).get_page(request.GET.get("page")),
        "tabs": TABS,
        "state": wanted,
        "query": f"state={wanted}&",
    }
    return render(request, "shop/color_requests.html", page)


@require_http_methods(["GET", "HEAD", "POST"])
def color_request_new(request: HttpRequest) -> HttpResponse:
    form = NewWishForm(posted(request), request.FILES or None, initial=_start(request))
    if (
        request.method == "POST"
        and form.is_valid()
        and (kept := save_or_errors(form, service.ask, **form.facts(), by=request.user))
    ):
        messages.success(request, f"What {kept.customer} wants is written down.")
        return redirect("color_request", pk=kept.pk)
    status = 422 if form.is_bound else 200
    return render(request, "shop/color_request_new.html", {"form": form}, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
def color_request(request: HttpRequest, pk: int) -> HttpResponse:
    wishes = ColorRequest.objects.select_related("customer", "order", "picture", "trial")
    wish = get_object_or_404(wishes, pk=pk)
    initial = {name: getattr(wish, name) for name in ("note", "target", "state")}
    initial |= {"order": wish.order_id, "trial": wish.trial_id}
    form = WishForm(posted(request), request.FILES or None, wish=wish, initial=initial)
    if (
        request.method == "POST"
        and form.is_valid()
        and save_or_errors(form, service.change, wish, **form.facts(), by=request.user)
    ):
        messages.success(request, "Saved.")
        return redirect("color_request", pk=pk)
    page = {"wish": wishes.get(pk=pk), "form": form, "trial_address": _trial(wish)}
    return render(request, "shop/color_request.html", page, status=422 if form.is_bound else 200)


def _start(request: HttpRequest) -> dict:
    def chosen(name: str) -> str:
        text = request.GET.get(name, "")
        return text if text.isascii() and text.isdecimal() and len(text) < 19 else ""

    if (number := chosen("order")) and (order := Order.objects.filter(pk=number).first()):
        return {"customer": order.customer_id, "order": order.pk}
    if (number := chosen("customer")) and Customer.objects.filter(pk=number).exists():
        return {"customer": number}
    return {}


def _trial(wish: ColorRequest) -> str:
    """The page of a new recipe, with what is wanted in sight."""
    said = {"wish": wish.note[:_SHOWN], "target": wish.target, "picture": wish.picture_id}
    return f"{reverse('production:recipe_new')}?{urlencode({k: v for k, v in said.items() if v})}"
