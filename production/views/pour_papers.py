"""An evening on paper: the sheet for the bench, a blank one, and the record of what happened."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_safe

from production import (
    blank_sheet,
    evening_record,
    evening_record_facts,
    pour_sheet_facts,
)
from production import pour_sheet as paper
from production.models import Pour


@require_safe
def pour_sheet(request: HttpRequest, pk: int) -> HttpResponse:
    evening = get_object_or_404(Pour, pk=pk)
    try:
        data = paper.draw(pour_sheet_facts.sheet(evening, request.shop))
    except paper.PourSheetError as error:
        messages.error(request, str(error))
        return redirect("production:pour", pk)
    return _pdf(data, f"pour-{evening.business_date:%Y-%m-%d}.pdf")


@require_safe
def blank(request: HttpRequest) -> HttpResponse:
    shop = request.shop
    name = shop.name if shop else ""
    data = blank_sheet.draw(blank_sheet.BlankSheet(name, pour_sheet_facts.paper_of(shop)))
    return _pdf(data, "pour-sheet.pdf")


@require_safe
def batch_record(request: HttpRequest, pk: int) -> HttpResponse:
    evening = get_object_or_404(Pour, pk=pk)
    data = evening_record.draw(evening_record_facts.record(evening, request.shop))
    return _pdf(data, f"batches-{evening.business_date:%Y-%m-%d}.pdf")


def _pdf(data: bytes, name: str) -> HttpResponse:
    answer = HttpResponse(data, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="{name}"'
    return answer
