"""Evenings at the bench: the list, one evening, its end and its sheet on paper."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from production import pour_record, pour_sheet_facts, queries
from production import pour_sheet as paper
from production.models import Pour
from production.services import pours as service

PAGE = 50


@require_GET
def pours(request: HttpRequest) -> HttpResponse:
    page = Paginator(pour_record.evenings(), PAGE).get_page(request.GET.get("page"))
    return render(request, "production/pours.html", {"page_obj": page, "open": queries.open_pour()})


@require_POST
def pour_start(request: HttpRequest) -> HttpResponse:
    return redirect("production:pour", service.start(by=request.user).pk)


@require_GET
def pour(request: HttpRequest, pk: int) -> HttpResponse:
    evening = get_object_or_404(Pour, pk=pk)
    return render(
        request,
        "production/pour.html",
        {
            "pour": evening,
            "batches": pour_record.batches(evening),
            "events": pour_record.events(evening),
            "sums": pour_record.sums(evening),
        },
    )


@require_http_methods(["GET", "POST"])
def pour_close(request: HttpRequest, pk: int) -> HttpResponse:
    evening = get_object_or_404(Pour, pk=pk)
    if request.method == "POST":
        service.close(pour=evening)
        messages.success(request, f"{evening} is closed.")
        return redirect("production:pour", pk)
    full = [batch for batch in pour_record.batches(evening) if batch.in_cup]
    return render(request, "production/pour_close.html", {"pour": evening, "full": full})


@require_GET
def pour_sheet(request: HttpRequest, pk: int) -> HttpResponse:
    evening = get_object_or_404(Pour, pk=pk)
    try:
        data = paper.draw(pour_sheet_facts.sheet(evening, request.shop))
    except paper.PourSheetError as error:
        messages.error(request, str(error))
        return redirect("production:pour", pk)
    answer = HttpResponse(data, content_type="application/pdf")
    name = f"pour-{evening.business_date:%Y-%m-%d}.pdf"
    answer["Content-Disposition"] = f'inline; filename="{name}"'
    return answer
