"""Keeping the shelf true: a round of counting, counting or emptying one lot, throwing some away."""

import re
from collections.abc import Callable

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from inventory import counting, emptied, forms_base, forms_counts
from inventory.models import Lot, Place
from inventory.services import catalog, counts
from inventory.views import paging

#: Lots on one page of a round: few enough to count before the phone goes dark.
ROWS = 20
#: A page of a round that is sent never holds more than this.
MOST_ROWS = 60
_FIELD = re.compile(r"lot-([0-9]{1,15})-counted")


@require_http_methods(["GET", "HEAD"])
def count_places(request: HttpRequest) -> HttpResponse:
    places = counting.places()
    context = {"places": places, "asking": sum(asking for _, _, asking in places)}
    return render(request, "inventory/count_places.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def count_round(request: HttpRequest, where: str) -> HttpResponse:
    """`where`: the number of a place, "none" for what lies nowhere, "asking" for what asks for it."""
    lots, title = _lots_at(where)
    page = Paginator(counting.to_count(lots), ROWS).get_page(request.GET.get("page"))
    context = {"title": title, "page_obj": page, "query": ""}
    return _round(request, page, reverse("inventory:count_round", args=[where]), **context)


@require_http_methods(["GET", "HEAD", "POST"])
def count(request: HttpRequest, pk: int) -> HttpResponse:
    """A round of one lot."""
    lot = _lot(pk)
    back = reverse("inventory:lot", args=[pk])
    return _round(request, [lot], back, title=f"Count {lot.item.name}", one=lot)


@require_http_methods(["GET", "HEAD", "POST"])
def waste(request: HttpRequest, pk: int) -> HttpResponse:
    form = forms_counts.WasteForm(paging.posted(request), lot=_lot(pk))
    return _post(request, form, counts.waste, "inventory/waste.html")


@require_http_methods(["GET", "HEAD", "POST"])
def empty(request: HttpRequest, pk: int) -> HttpResponse:
    """Closes a lot: nothing is left in it."""
    lot = _lot(pk)
    form = forms_base.PostingForm(paging.posted(request))
    if request.method == "POST" and form.is_valid():
        facts = {"lot": lot, "counted": 0, "reason": "it is empty", "by": request.user}
        if entry := forms_base.post_or_errors(form, counts.count, **facts):
            messages.success(request, entry.title)
            after = "emptied" if emptied.told(_lot(pk)) else "lot"
            return redirect(f"inventory:{after}", pk)
    return paging.render_form(request, "inventory/empty.html", form, lot=lot)


@require_http_methods(["GET", "HEAD", "POST"])
def emptied_lot(request: HttpRequest, pk: int) -> HttpResponse:
    """What the log of an emptied lot tells about its drops or spoons; POST keeps it with the item."""
    lot = _lot(pk)
    told = emptied.told(lot)
    if told is None:
        raise Http404("Nobody saw this lot empty, or it is not dosed.")
    if request.method == "POST" and told.found and told.keepable:
        catalog.change_item(lot.item, **{told.fact: told.found.size})
        unit = "mL" if told.by_drop else "g"
        what = "drop" if told.by_drop else "teaspoon"
        size = forms_base.number_text(told.found.size)
        messages.success(request, f"One {what} of {lot.item.name} is {size} {unit} now.")
        return redirect("inventory:item", lot.item_id)
    return render(request, "inventory/emptied.html", {"lot": lot, "told": told})


def _round(request: HttpRequest, lots, back: str, **context) -> HttpResponse:
    """The list, then a look at what was understood, then the posting; `back`: where it ends."""
    template = "inventory/count.html"
    if request.method != "POST":
        form = forms_counts.RoundForm(None, lots=lots)
        return render(request, template, {"form": form, "back": back, **context})
    lots = _sent(request) or lots
    context["back"] = back
    step = request.POST.get("step")
    if step == "back":
        form = forms_counts.RoundForm(None, lots=lots, typed=request.POST)
        return render(request, template, {"form": form, **context})
    form = forms_counts.RoundForm(request.POST, lots=lots)
    context |= {"form": form, "compare": step == "post"}
    if not form.is_valid():
        return render(request, template, context, status=422)
    if step == "post" and form.looked_over:
        if forms_base.post_or_errors(form, _posting(form), by=request.user, **form.facts()):
            messages.success(request, _told(form))
            return redirect(back)
        return render(request, template, context, status=422)
    form.remember()
    context |= {"looking": True, "compare": True, "changed": step == "post"}
    return render(request, template, context)


def _posting(form: forms_counts.RoundForm) -> Callable:
    def post(**facts):
        try:
            return counts.count_round(**facts)
        except counts.RoundRefused as refused:
            form.mark(refused.reasons)
            raise

    return post


def _told(form: forms_counts.RoundForm) -> str:
    rows = form.filled
    differing = sum(1 for row in rows if row.difference)
    lots = "1 lot" if len(rows) == 1 else f"{len(rows)} lots"
    if not differing:
        return f"Counted {lots}: as the books say."
    return f"Counted {lots}; {differing} differed from the books."


def _sent(request: HttpRequest) -> list[Lot]:
    """The lots of the lines that were sent, in their order."""
    wanted = [int(match[1]) for name in request.POST if (match := _FIELD.fullmatch(name))]
    found = counting.to_count(Lot.objects.filter(pk__in=wanted[:MOST_ROWS]), every=True).in_bulk()
    if len(found) < len(wanted):
        raise Http404("A lot of this round does not exist.")
    return [found[pk] for pk in wanted]


def _lots_at(where: str):
    if where == "asking":
        return Lot.objects.filter(count_me=True), "Count what asks for it"
    if where == "none":
        return Lot.objects.filter(place=None), "Count what has no place"
    if not (where.isascii() and where.isdigit() and len(where) < 16):
        raise Http404("No such place.")
    place = get_object_or_404(Place, pk=where)
    return Lot.objects.filter(place=place), f"Count {place}"


def _post(request: HttpRequest, form, service: Callable, template: str) -> HttpResponse:
    """The form of one lot; once valid its `facts()` are posted and the lot is shown."""
    if request.method == "POST" and form.is_valid():
        facts = {"lot": form.lot, "by": request.user, **form.facts()}
        if entry := forms_base.post_or_errors(form, service, **facts):
            messages.success(request, entry.title)
            return redirect("inventory:lot", form.lot.pk)
    return paging.render_form(request, template, form, lot=form.lot)


def _lot(pk: int) -> Lot:
    return get_object_or_404(counting.to_count(Lot.objects.all(), every=True), pk=pk)
