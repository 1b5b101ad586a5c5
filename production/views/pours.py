"""Evenings at the bench: the list, one evening as it goes, and its end."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from inventory.services.posting import LedgerError
from production import bench_now, evening_story, pour_record, queries, same_again
from production.forms.closing import CloseForm
from production.models import Pour
from production.services import pours as service

PAGE = 50
UNREADY = 422
#: What tells htmx to stop asking (its own convention).
STOP_POLLING = 286


@require_safe
def pours(request: HttpRequest) -> HttpResponse:
    page = Paginator(pour_record.evenings(), PAGE).get_page(request.GET.get("page"))
    return render(request, "production/pours.html", {"page_obj": page, "open": queries.open_pour()})


@require_POST
def pour_start(request: HttpRequest) -> HttpResponse:
    return redirect("production:pour", service.start(by=request.user).pk)


@require_safe
def pour(request: HttpRequest, pk: int) -> HttpResponse:
    evening = get_object_or_404(Pour, pk=pk)
    context = _now(evening)
    if evening.closed_at:
        context |= {
            "yields": evening_story.yields(evening),
            "chain": evening_story.chain(context["in_order"]),
            "doubts": evening_story.doubts(evening, context["in_order"]),
        }
    return render(request, "production/pour.html", context)


@require_safe
def pour_live(request: HttpRequest, pk: int) -> HttpResponse:
    """The evening as it stands, for a page that shows version `v`: nothing where nothing changed."""
    evening = get_object_or_404(Pour, pk=pk)
    if evening.closed_at:
        # The page of a closed evening is another one.
        return HttpResponse(status=STOP_POLLING, headers={"HX-Refresh": "true"})
    if bench_now.version(evening) == request.GET.get("v"):
        return HttpResponse(status=204)
    return render(request, "production/_pour_live.html", _now(evening))


def _now(evening: Pour) -> dict:
    # The version is read first: what comes in while the page is made is seen at the next look.
    version = bench_now.version(evening)
    in_order = pour_record.batches(evening)
    return {
        "pour": evening,
        "version": version,
        "in_order": in_order,
        "batches": bench_now.arrange(evening, in_order),
        "events": pour_record.events(evening),
        "sums": pour_record.sums(evening),
        "again": "" if evening.closed_at else same_again.address(evening, in_order),
    }


@require_http_methods(["GET", "HEAD", "POST"])
def pour_close(request: HttpRequest, pk: int) -> HttpResponse:
    evening = get_object_or_404(Pour, pk=pk)
    if evening.closed_at:
        messages.info(request, f"{evening} is closed already.")
        return redirect("production:pour", pk)
    batches = bench_now.arrange(evening, pour_record.batches(evening))
    form = CloseForm(
        request.POST if request.method == "POST" else None,
        initial={"note": evening.note},
        batches=[batch for batch in batches if batch.in_cup],
    )
    if request.method == "POST" and form.is_valid() and _closed(request, evening, form):
        messages.success(request, f"{evening} is closed.")
        return redirect("production:pour", pk)
    doubts = evening_story.doubts(evening, batches)
    doubts.unsettled = []  # they are what the form asks about
    context = {
        "pour": evening,
        "form": form,
        "sums": pour_record.sums(evening),
        "doubts": doubts,
    }
    status = UNREADY if form.errors else 200
    return render(request, "production/pour_close.html", context, status=status)


def _closed(request: HttpRequest, evening: Pour, form: CloseForm) -> bool:
    facts = {name: form.cleaned_data[name] for name in ("purged", "seals_checked", "molds_dry")}
    try:
        service.close(
            pour=evening,
            key=form.cleaned_data["key"],
            cups=form.settlings(),
            note=form.cleaned_data["note"],
            by=request.user,
            **facts,
        )
    except LedgerError as error:
        form.add_error(None, str(error))
        return False
    return True
