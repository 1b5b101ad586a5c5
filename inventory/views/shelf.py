"""The shelf, and the page of a lot."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_http_methods

from inventory import emptied, forms_stock, listing, queries
from inventory.models import Item, Lot
from inventory.views import paging

SHOW = ("low", "count", "archived")


@require_http_methods(["GET", "HEAD"])
def shelf(request: HttpRequest) -> HttpResponse:
    text = request.GET.get("q", "").replace("\0", "").strip()[:80]
    kind = request.GET.get("kind", "")
    kind = kind if kind in Item.Kind.values else ""
    show = request.GET.get("show", "")
    show = show if show in SHOW else ""
    places = list(listing.places_in_use())
    place = next((p for p in places if str(p.pk) == request.GET.get("place")), None)
    items = listing.shelf_items(text=text, kind=kind, place=place, show=show)
    context = {
        "page_obj": paging.page(request, items),
        "query": paging.query(request, "q", "kind", "place", "show"),
        "q": text,
        "kind": kind,
        "kinds": Item.Kind.choices,
        "places": places,
        "place": place,
        "show": show,
        "filtered": bool(text or kind or place or show),
        "low": queries.low_items().count(),
        "to_count": listing.lots_to_count(),
    }
    template = "inventory/_shelf_items.html" if request.htmx else "inventory/shelf.html"
    return render(request, template, context)


@require_http_methods(["GET", "HEAD"])
def lot(request: HttpRequest, pk: int) -> HttpResponse:
    lot = _lot(pk)
    # What is left holds a share of all that went in; a lot that is used up shows all of it.
    shown = lot.on_hand or lot.made
    mix = queries.contents_of(lot, shown) if queries.composition(lot) else {}
    items = Item.objects.in_bulk(mix)
    back, forward = queries.trace_back(lot), queries.trace_forward(lot)
    context = {
        "lot": lot,
        "measure": forms_stock.measure(lot),
        "late": queries.late_entry(lot) if lot.count_me else None,
        "told": emptied.told(lot),
        "composition": [(items[item], quantity) for item, quantity in mix.items()],
        "back": back,
        "forward": forward,
        "shipments": queries.shipments_of([lot.pk, *(later.pk for later in forward)]),
        "page_obj": paging.page(request, listing.movements(lot=lot)),
    }
    return render(request, "inventory/lot.html", context)


def _lot(pk: int) -> Lot:
    lots = queries.with_trust(Lot.objects.select_related("item", "place", "supplier"))
    return get_object_or_404(lots, pk=pk)
