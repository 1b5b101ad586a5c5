"""Keeping a lot true: counting it, throwing some of it away."""

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_http_methods

from inventory import forms_base, forms_stock
from inventory.models import Entry, Lot
from inventory.services import counts
from inventory.views import paging


@require_http_methods(["GET", "HEAD", "POST"])
def count(request: HttpRequest, pk: int) -> HttpResponse:
    form = forms_stock.CountForm(paging.posted(request), lot=_lot(pk))
    return _post(request, form, counts.count, "inventory/count.html")


@require_http_methods(["GET", "HEAD", "POST"])
def waste(request: HttpRequest, pk: int) -> HttpResponse:
    form = forms_stock.WasteForm(paging.posted(request), lot=_lot(pk))
    return _post(request, form, counts.waste, "inventory/waste.html")


def _post(request: HttpRequest, form, service: Callable[..., Entry], template: str) -> HttpResponse:
    """The form of one lot; once valid its `facts()` are posted and the lot is shown."""
    lot = form.lot
    if request.method == "POST" and form.is_valid():
        facts = form.facts()
        entry = forms_base.post_or_errors(form, service, lot=lot, by=request.user, **facts)
        if entry:
            messages.success(request, entry.title)
            return redirect("inventory:lot", lot.pk)
    return paging.render_form(request, template, form, lot=lot)


def _lot(pk: int) -> Lot:
    return get_object_or_404(Lot.objects.select_related("item", "place", "supplier"), pk=pk)
