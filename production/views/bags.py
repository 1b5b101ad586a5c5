"""From loose baits to bags: what is ready, bagging, and one bagging's lot."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from inventory import forms_base
from inventory.models import Movement
from production import bag_record
from production.forms import bagging as forms
from production.services import bagging as service

PAGE = 50
RECENT = 10


@require_GET
def bags(request: HttpRequest) -> HttpResponse:
    page = Paginator(bag_record.products(), PAGE).get_page(request.GET.get("page"))
    bag_record.with_counts(page.object_list)
    context = {"page_obj": page, "baggings": bag_record.baggings()[:RECENT]}
    return render(request, "production/bags.html", context)


@require_http_methods(["GET", "POST"])
def bag(request: HttpRequest) -> HttpResponse:
    products = bag_record.with_counts(list(bag_record.products()))
    form = forms.BagForm(
        _sent(request), products=products, initial={"product": request.GET.get("product")}
    )
    if request.method == "POST" and form.is_valid():
        entry = forms_base.post_or_errors(
            form,
            service.bag,
            product=form.cleaned_data["product"],
            bags=form.cleaned_data["bags"],
            look_at=form.cleaned_data["look_at"],
            by=request.user,
        )
        if entry:
            messages.success(request, f"{entry.title}.")
            return redirect("production:bagging", entry.bagging.lot_id)
    return render(
        request,
        "production/bag_new.html",
        {"form": form, "products": products},
        status=422 if form.errors else 200,
    )


@require_GET
def bagging(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(bag_record.all_baggings(), lot=pk)
    drawn = found.entry.movements.filter(role=Movement.Role.DRAWN).select_related("lot__item")
    return render(request, "production/bagging.html", {"bagging": found, "drawn": drawn})


def _sent(request: HttpRequest):
    """What was posted; nothing on a GET."""
    return request.POST if request.method == "POST" else None
