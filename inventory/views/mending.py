"""Mending what was written down when a lot came in."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_http_methods

from inventory import forms_base
from inventory.forms_mending import MendReceiptForm
from inventory.models import Lot
from inventory.services import mending
from inventory.views import paging


@require_http_methods(["GET", "HEAD", "POST"])
def mend(request: HttpRequest, pk: int) -> HttpResponse:
    lot = get_object_or_404(Lot.objects.select_related("item", "supplier", "place"), pk=pk)
    receipt = mending.receipt_of(lot)
    if receipt is None:
        raise Http404("This lot did not come from outside.")
    form = MendReceiptForm(paging.posted(request), lot=lot, receipt=receipt)
    if request.method == "POST" and form.is_valid():
        done = True
        if form.moves():
            done = forms_base.post_or_errors(
                form, mending.amend_receipt, lot=lot, by=request.user, **form.figures()
            )
        if done:
            mending.describe(lot=lot, **form.facts())
            messages.success(request, f"Lot {lot.number} is mended.")
            return redirect("inventory:lot", lot.pk)
    return paging.render_form(request, "inventory/mend.html", form, lot=lot, receipt=receipt.entry)
