"""The guides of an item: a level spoon, one piece, its density; and its own measures."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_http_methods, require_POST

from inventory import forms_base, forms_measuring
from inventory import measures as own_measures
from inventory.models import Item, NamedMeasure
from inventory.services import catalog, named_measures
from inventory.views import paging

#: Kinds that are scooped, and kinds that are poured.
SCOOPED = [Item.Kind.FLAKE, Item.Kind.ADDITIVE]
POURED = [Item.Kind.PLASTISOL, Item.Kind.COLORANT, Item.Kind.ADDITIVE]


@require_http_methods(["GET", "HEAD", "POST"])
def spoon(request: HttpRequest, pk: int) -> HttpResponse:
    item = get_object_or_404(Item.objects.filter(kind__in=SCOOPED), pk=pk)
    form = forms_measuring.SpoonForm(paging.posted(request))
    if request.method == "POST" and form.is_valid():
        weighed = form.weighed
        if forms_base.save_or_errors(form, catalog.change_item, item, g_per_tsp=weighed.g_per_tsp):
            text = f"A level teaspoon of {item.name} weighs {weighed.g_per_tsp:.2f} g"
            if weighed.readings > 1:
                apart = forms_measuring.percent(weighed.spread)
                text += f": the mean of {weighed.readings}, {apart} apart"
            messages.success(request, f"{text}.")
            return redirect("inventory:item", pk)
    return paging.render_form(request, "inventory/spoon.html", form, item=item)


@require_http_methods(["GET", "HEAD", "POST"])
def piece(request: HttpRequest, pk: int) -> HttpResponse:
    item = get_object_or_404(Item.objects.filter(stock_unit="each"), pk=pk)
    form = forms_measuring.PieceForm(paging.posted(request))
    if (
        request.method == "POST"
        and form.is_valid()
        and forms_base.save_or_errors(form, catalog.change_item, item, weight_g=form.weight_g)
    ):
        weight = forms_base.number_text(form.weight_g)
        messages.success(request, f"One {item.name} weighs {weight} g.")
        return redirect("inventory:item", pk)
    return paging.render_form(request, "inventory/piece.html", form, item=item)


@require_http_methods(["GET", "HEAD", "POST"])
def density(request: HttpRequest, pk: int) -> HttpResponse:
    item = get_object_or_404(Item.objects.filter(kind__in=POURED), pk=pk)
    form = forms_measuring.DensityForm(paging.posted(request))
    if (
        request.method == "POST"
        and form.is_valid()
        and forms_base.save_or_errors(
            form, catalog.change_item, item, density_g_per_ml=form.density
        )
    ):
        messages.success(request, f"The density of {item.name} is {form.density:.3f} g/mL.")
        return redirect("inventory:item", pk)
    return paging.render_form(request, "inventory/density.html", form, item=item)


@require_http_methods(["GET", "HEAD", "POST"])
def measures(request: HttpRequest, pk: int) -> HttpResponse:
    item = get_object_or_404(Item.objects.filter(kind__in=Item.BOUGHT), pk=pk)
    form = forms_measuring.MeasureForm(paging.posted(request), item=item)
    if request.method == "POST" and form.is_valid():
        kept = forms_base.save_or_errors(form, named_measures.add, item=item, **form.facts())
        if kept:
            said = f"2 {own_measures.many(kept.name)} of {item.name}"
            messages.success(request, f"You can say it now: {said}, kept as an estimate.")
            return redirect("inventory:measures", pk)
    context = {"item": item, "measures": item.measures.all()}
    return paging.render_form(request, "inventory/measures.html", form, **context)


@require_POST
def measure_remove(request: HttpRequest, pk: int) -> HttpResponse:
    measure = get_object_or_404(NamedMeasure.objects.select_related("item"), pk=pk)
    named_measures.remove(measure)
    messages.success(request, f"{measure.name.capitalize()} is no longer a measure of it.")
    return redirect("inventory:measures", measure.item_id)
