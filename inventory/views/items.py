"""The page of an item, and the form of its facts."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from inventory import forms, forms_base, listing, reorder
from inventory.models import Item
from inventory.services import catalog
from inventory.views import paging


@require_http_methods(["GET", "HEAD"])
def item(request: HttpRequest, pk: int) -> HttpResponse:
    item = get_object_or_404(Item.objects.with_on_hand().select_related("place"), pk=pk)
    used_up = request.GET.get("lots") == "all"
    context = {
        "item": item,
        "available": item.on_hand - item.reserved,
        "bought": item.kind in Item.BOUGHT,
        "low": reorder.is_low(item.on_hand, item.minimum),
        "lots": listing.lots_of(item, used_up=used_up)[: paging.ROWS],
        "used_up": used_up,
        "packs": item.packs.select_related("supplier"),
        "item_files": item.files.select_related("file"),
        "page_obj": paging.page(request, listing.movements(lot__item=item)),
        "query": paging.query(request, "lots"),
    }
    return render(request, "inventory/item.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def item_new(request: HttpRequest) -> HttpResponse:
    kind = request.GET.get("kind", "")
    if kind not in Item.BOUGHT:
        return render(request, "inventory/item_kind.html", {"kinds": Item.BOUGHT})
    form = forms.ItemForm(paging.posted(request), kind=kind)
    if request.method == "POST" and form.is_valid():
        item = forms_base.save_or_errors(form, catalog.add_item, **form.facts())
        if item:
            messages.success(request, f"{item.name} is on the list.")
            return redirect("inventory:item", item.pk)
    return paging.render_form(request, "inventory/item_form.html", form, kind=kind)


@require_http_methods(["GET", "HEAD", "POST"])
def item_edit(request: HttpRequest, pk: int) -> HttpResponse:
    item = get_object_or_404(Item.objects.filter(kind__in=Item.BOUGHT), pk=pk)
    form = forms.ItemForm(paging.posted(request), kind=item.kind, item=item)
    if (
        request.method == "POST"
        and form.is_valid()
        and forms_base.save_or_errors(form, catalog.change_item, item, **form.facts())
    ):
        messages.success(request, "Saved.")
        return redirect("inventory:item", pk)
    return paging.render_form(request, "inventory/item_form.html", form, kind=item.kind, item=item)
