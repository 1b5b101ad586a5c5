"""A lot's family and its recall: drawn, listed, downloaded; and lots put on hold."""

from django.contrib import messages
from django.db.models import F
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from inventory import lineage, lineage_papers, lineage_picture, recall
from inventory.forms_hold import HoldForm
from inventory.models import Lot
from inventory.services import on_hold
from inventory.services.posting import LedgerError
from inventory.views import paging
from inventory.views.buying import as_file, paper

#: Lots listed on the page on each side; the papers name all.
MOST = 100


@require_safe
def family(request: HttpRequest, pk: int) -> HttpResponse:
    found = lineage.family(_lot(pk))
    picture = lineage_papers.picture(found)
    drawn = lineage_picture.svg(
        picture.layout, picture.boxes, pk, f"The family of lot {found.lot.number}"
    )
    context = {
        "lot": found.lot,
        "picture": drawn,
        "left_out": sum(picture.layout.left_out),
        "back": lineage_papers.told(found, found.back[:MOST]),
        "forward": lineage_papers.told(found, found.forward[:MOST]),
        "back_more": max(0, len(found.back) - MOST),
        "forward_more": max(0, len(found.forward) - MOST),
        "facts": found.facts.get(pk, []),
        "reached": recall.of(found).receivers,
    }
    return render(request, "inventory/family.html", context)


@require_safe
def family_csv(request: HttpRequest, pk: int) -> HttpResponse:
    found = lineage.family(_lot(pk))
    return as_file(
        lineage_papers.as_csv(found), "text/csv; charset=utf-8", f"family-{found.lot.number}.csv"
    )


@require_safe
def family_pdf(request: HttpRequest, pk: int) -> HttpResponse:
    found = lineage.family(_lot(pk))
    data = lineage_papers.family_pdf(found, shop=_shop(request), paper=paper(request))
    return as_file(data, "application/pdf", f"family-{found.lot.number}.pdf", "inline")


@require_http_methods(["GET", "HEAD", "POST"])
def recall_lot(request: HttpRequest, pk: int) -> HttpResponse:
    """Everything that came of a lot; POST puts all of it that is here on hold."""
    found = recall.of(lineage.family(_lot(pk), back=False, tell=False))
    form = HoldForm(paging.posted(request))
    if request.method == "POST" and form.is_valid():
        held = _hold(request, form, list(found.here))
        if held is not None:
            names = "1 lot is" if len(held) == 1 else f"{len(held)} lots are"
            messages.success(request, f"{names} on hold now.")
            return redirect("inventory:recall", pk)
    context = {
        "lot": found.lot,
        "recall": found,
        "message": recall.message(found, _shop(request)),
    }
    return paging.render_form(request, "inventory/recall.html", form, **context)


@require_safe
def recall_pdf(request: HttpRequest, pk: int) -> HttpResponse:
    found = recall.of(lineage.family(_lot(pk), back=False, tell=False))
    data = lineage_papers.recall_pdf(
        found,
        shop=_shop(request),
        on=timezone.localdate().isoformat(),
        paper=paper(request),
    )
    return as_file(data, "application/pdf", f"recall-{found.lot.number}.pdf", "inline")


@require_http_methods(["GET", "HEAD", "POST"])
def hold(request: HttpRequest, pk: int) -> HttpResponse:
    """Puts this one lot on hold."""
    lot = _lot(pk)
    form = HoldForm(paging.posted(request))
    if request.method == "POST" and form.is_valid() and _hold(request, form, [lot]) is not None:
        messages.success(request, f"Lot {lot.number} is on hold.")
        return redirect("inventory:lot", pk)
    return paging.render_form(request, "inventory/hold.html", form, lot=lot)


@require_POST
def let_go(request: HttpRequest, pk: int) -> HttpResponse:
    lot = _lot(pk)
    if on_hold.let_go([lot], by=request.user):
        messages.success(request, f"Lot {lot.number} may be used again.")
    else:
        messages.info(request, f"Lot {lot.number} is not on hold.")
    return redirect("inventory:lot", pk)


@require_safe
def on_hold_now(request: HttpRequest) -> HttpResponse:
    held = Lot.objects.filter(held=True, holds__released_at=None)
    held = held.annotate(reason=F("holds__reason"), since=F("holds__at"))
    rows = held.select_related("item", "place").order_by("-since", "-pk")
    return render(request, "inventory/on_hold.html", {"page_obj": paging.page(request, rows)})


def _hold(request: HttpRequest, form: HoldForm, lots: list[Lot]) -> list[Lot] | None:
    try:
        return on_hold.hold(lots, reason=form.cleaned_data["reason"], by=request.user)
    except LedgerError as error:
        form.add_error("reason", str(error))
        return None


def _lot(pk: int) -> Lot:
    return get_object_or_404(Lot.objects.select_related("item"), pk=pk)


def _shop(request: HttpRequest) -> str:
    return request.shop.name if request.shop else ""
