"""Goods that change their place, and goods that leave without being sold."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from inventory import at_place, forms_base, forms_moving
from inventory.models import Item, Lot, Place
from inventory.services import giving, moving
from inventory.views import paging


@require_http_methods(["GET", "HEAD", "POST"])
def move_lot(request: HttpRequest, pk: int) -> HttpResponse:
    lot = _lot(pk)
    form = forms_moving.MoveLotForm(paging.posted(request), lot=lot)
    if request.method == "POST" and form.is_valid():
        facts = {"by": request.user, **form.facts()}
        if entry := forms_base.post_or_errors(form, moving.move, **facts):
            messages.success(request, f"{entry.title}.")
            return redirect("inventory:lot", entry.movements.get(role="made").lot_id)
    return paging.render_form(request, "inventory/move_lot.html", form, lot=lot)


@require_http_methods(["GET", "HEAD", "POST"])
def move(request: HttpRequest) -> HttpResponse:
    """Several items at once, from one place (or from home) to another."""
    sides = _Sides(request)
    if not sides.chosen:
        return render(request, "inventory/move.html", {"sides": sides})
    heaps = at_place.movable(sides.source, sides.kind)
    if sides.source is None:
        heaps = _lying_elsewhere(heaps, sides.target)
    form = forms_moving.HeapsForm(paging.posted(request), heaps=heaps)
    if (
        request.method == "POST"
        and form.is_valid()
        and forms_moving.move_or_errors(form, place=sides.target, by=request.user)
    ):
        messages.success(request, f"Moved to {sides.target}.")
        return redirect(request.get_full_path())
    return paging.render_form(request, "inventory/move.html", form, sides=sides)


def _lying_elsewhere(heaps: list[at_place.Heap], target: Place) -> list[at_place.Heap]:
    for heap in heaps:
        heap.lots = [lot for lot in heap.lots if lot.place_id != target.pk]
    return [heap for heap in heaps if heap.lots]


class _Sides:
    """From where to where, and which kind of goods; what makes no sense is left out."""

    def __init__(self, request: HttpRequest) -> None:
        self.places = list(Place.objects.all())
        by_pk = {str(place.pk): place for place in self.places}
        self.source = by_pk.get(request.GET.get("from", ""))
        self.target = by_pk.get(request.GET.get("to", ""))
        kind = request.GET.get("kind", Item.Kind.BAGGED)
        self.kind = kind if kind in self.kinds else ""
        self.asked = "to" in request.GET

    @property
    def kinds(self) -> dict[str, str]:
        return {kind.value: kind.label for kind in Item.Kind if kind != Item.Kind.LEFTOVER}

    @property
    def same(self) -> bool:
        return self.target is not None and self.source == self.target

    @property
    def chosen(self) -> bool:
        return self.target is not None and not self.same


@require_http_methods(["GET", "HEAD", "POST"])
def give_lot(request: HttpRequest, pk: int) -> HttpResponse:
    lot = _lot(pk)
    form = forms_moving.GiveForm(paging.posted(request), item=lot.item, lots=[lot])
    return _give(request, form, ("inventory:lot", pk), lot=lot)


@require_http_methods(["GET", "HEAD", "POST"])
def give_item(request: HttpRequest, pk: int) -> HttpResponse:
    """Out of the item's lots at home, the oldest first."""
    item = get_object_or_404(Item, pk=pk)
    lots = list(item.lots.free().select_related("item").first_expiring_first())
    form = forms_moving.GiveForm(paging.posted(request), item=item, lots=lots)
    return _give(request, form, ("inventory:item", pk), item=item)


def _give(request: HttpRequest, form, back: tuple[str, int], **context) -> HttpResponse:
    if request.method == "POST" and form.is_valid():
        facts = {"by": request.user, **form.facts()}
        if entry := forms_base.post_or_errors(form, giving.give, **facts):
            messages.success(request, f"{entry.title}. It counts as no sale.")
            return redirect(*back)
    return paging.render_form(request, "inventory/give.html", form, **context)


def _lot(pk: int) -> Lot:
    return get_object_or_404(Lot.objects.select_related("item", "place"), pk=pk)
