"""Measuring a drop."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_http_methods

from inventory import forms_base, forms_drops
from inventory.models import Item
from inventory.services import drop_sizes
from inventory.views import paging

#: Kinds that come in dropper bottles.
KINDS = [Item.Kind.COLORANT, Item.Kind.ADDITIVE]


@require_http_methods(["GET", "HEAD", "POST"])
def drop_size(request: HttpRequest, pk: int) -> HttpResponse:
    """`?lot=` chooses the bottle to keep it on."""
    item = get_object_or_404(Item.objects.filter(kind__in=KINDS), pk=pk)
    form = forms_drops.DropSizeForm(
        paging.posted(request),
        item=item,
        lots=list(item.lots.in_stock().first_expiring_first()),
        initial={"keep_on": request.GET.get("lot", "")},
    )
    if request.method == "POST" and form.is_valid():
        size, lot = form.ml_per_drop, form.lot
        forms_base.save_or_errors(form, drop_sizes.keep, item=item, lot=lot, ml_per_drop=size)
        if not form.errors:
            name = f"{item.name}, lot {lot.number}" if lot else item.name
            text = forms_base.number_text(size)
            messages.success(request, f"One drop of {name} is {text} mL.")
            return redirect("inventory:lot", lot.pk) if lot else redirect("inventory:item", pk)
    return paging.render_form(request, "inventory/drop_size.html", form, item=item)
