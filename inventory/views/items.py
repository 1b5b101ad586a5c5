"""The page of an item, and the form of its facts."""

from datetime import timedelta

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from inventory import forms, forms_base, listing, stock_chart, stock_state, usages
from inventory.models import Item
from inventory.services import catalog
from inventory.views import paging

#: Lots and movements on one page of an item.
ROWS = 25
#: So many things that an item is used in are named; more is said, not listed.
MOST_USES = 30


@require_http_methods(["GET", "HEAD"])
def item(request: HttpRequest, pk: int) -> HttpResponse:
    found = stock_state.items(Item.objects.select_related("place"))
    item = get_object_or_404(listing.kind_rows(found), pk=pk)
    used_up = request.GET.get("lots") == "all"
    lots = listing.lots_of(item, used_up=used_up)
    series = listing.chart_of(item)
    used_in = usages.of(item, most=MOST_USES + 1)
    context = {
        "item": item,
        "available": item.on_hand - item.reserved,
        "bought": item.kind in Item.BOUGHT,
        "lots": paging.page(request, lots, size=ROWS, name="lots_page"),
        "lots_query": paging.query(request, "lots"),
        "used_up": used_up,
        "today": series.last,
        "soon": series.last + timedelta(days=stock_state.EXPIRING_DAYS),
        "series": series,
        "chart": stock_chart.draw(series, minimum=item.minimum),
        "months": stock_chart.months(series),
        "used_in": used_in[:MOST_USES],
        "more_uses": len(used_in) > MOST_USES,
        "packs": item.packs.select_related("supplier"),
        "item_files": item.files.select_related("file"),
        "page_obj": paging.page(request, listing.movements(lot__item=item), size=ROWS),
        "query": paging.query(request, "lots", "lots_page"),
    }
    if request.user.is_owner:
        context["money"], context["unknown_cost"] = listing.money_in(Item.objects.filter(pk=pk))
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
