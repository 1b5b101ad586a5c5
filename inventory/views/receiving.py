"""Goods coming in: first the item, then what came."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from inventory import amounts, forms_base, forms_stock, listing, units
from inventory.models import Item
from inventory.services import receiving
from inventory.views import paging


@require_http_methods(["GET", "HEAD", "POST"])
def receive(request: HttpRequest) -> HttpResponse:
    item = _item(request.GET.get("item", ""))
    if item is None:
        return _choose(request)
    form = forms_stock.ReceiveForm(
        paging.posted(request), item=item, initial={"pack": request.GET.get("pack")}
    )
    if request.method == "POST" and form.is_valid():
        entry = forms_base.post_or_errors(
            form,
            receiving.receive,
            arrivals=[form.arrival()],
            received_on=form.cleaned_data["received_on"],
            note=form.cleaned_data["note"],
            by=request.user,
        )
        if entry:
            line = entry.movements.select_related("lot").first()
            beside = amounts.other_system(units.from_micro(line.quantity), item.stock_unit)
            about = f" (≈ {beside})" if beside else ""
            messages.success(request, f"{entry.title}{about}: lot {line.lot.number}.")
            if "another" in request.POST:
                return redirect("inventory:receive")
            return redirect("inventory:item", item.pk)
    return paging.render_form(request, "inventory/receive.html", form, item=item)


def _item(number: str) -> Item | None:
    if not number.isdecimal() or len(number) > 18:
        return None
    return Item.objects.current().filter(kind__in=Item.BOUGHT, pk=number).first()


def _choose(request: HttpRequest) -> HttpResponse:
    text = request.GET.get("q", "").replace("\0", "").strip()[:80]
    items = listing.shelf_items(text=text).filter(kind__in=Item.BOUGHT)
    context = {
        "q": text,
        "page_obj": paging.page(request, items),
        "query": paging.query(request, "q"),
    }
    return render(request, "inventory/receive_item.html", context)
