"""Thinning a bottle of colorant."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_http_methods

from inventory import forms_base, forms_thinning
from inventory.models import Item, Lot, Movement
from inventory.services import thinning
from inventory.views import paging


@require_http_methods(["GET", "HEAD", "POST"])
def thin(request: HttpRequest, pk: int) -> HttpResponse:
    colorants = Lot.objects.filter(item__kind=Item.Kind.COLORANT, item__stock_unit="mL")
    lot = get_object_or_404(colorants.select_related("item", "place"), pk=pk)
    form = forms_thinning.ThinForm(paging.posted(request), lot=lot)
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        entry = forms_base.post_or_errors(
            form,
            thinning.thin,
            lot=lot,
            quantity=data["amount"].millionths,
            oil_lot=data["oil_lot"],
            oil_quantity=data["oil"].millionths,
            ml_per_drop=data["ml_per_drop"],
            by=request.user,
        )
        if entry:
            made = entry.movements.select_related("lot").get(role=Movement.Role.MADE).lot
            strength = forms_base.number_text(made.strength)
            messages.success(
                request, f"{entry.title}. Label the bottle: {made.number}, strength {strength}."
            )
            return redirect("inventory:lot", made.pk)
    return paging.render_form(request, "inventory/thin.html", form, lot=lot)
