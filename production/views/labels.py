"""Printing labels for lots: choosing them, seeing them, and the jobs that were printed."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from production import label_sheets, printing
from production.forms import labels as forms
from production.label_stock import LabelError
from production.models import LabelTemplate, PrintJob
from production.services import printing as service

#: The newest lots at home; any other is reached from its own page by ?lot=.
LISTED = 50
PAGE = 50
Kind = LabelTemplate.Kind


@require_http_methods(["GET", "HEAD", "POST"])
def labels(request: HttpRequest) -> HttpResponse:
    form = _form(request, request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        job = form.job()
        try:
            printing.pdf(job, request.shop, printing.logo_of(request.shop))
        except LabelError as error:
            form.add_error("start" if "start at place" in str(error) else None, str(error))
        else:
            written = service.note(job, printing.named(job.lots), by=request.user)
            return redirect("production:label_job", written.pk)
    context = {"form": form, "kind": form.kind, "kinds": _kinds()}
    return render(request, "production/labels.html", context, status=422 if form.errors else 200)


@require_safe
def preview(request: HttpRequest) -> HttpResponse:
    """The first label asked for, drawn as it will print; or why it can't be."""
    form = _form(request, request.GET)
    context = {"form": form}
    if form.is_valid():
        try:
            drawn = printing.preview(form.job(), request.shop, printing.logo_of(request.shop))
            context["picture"] = drawn
        except LabelError as error:
            context["refused"] = str(error)
    return render(request, "production/_label_preview.html", context)


@require_safe
def jobs(request: HttpRequest) -> HttpResponse:
    found = PrintJob.objects.select_related("by", "template", "again").prefetch_related("lines")
    page = Paginator(found, PAGE).get_page(request.GET.get("page"))
    for each in page:
        each.named = printing.PLURAL[each.kind]
    return render(request, "production/label_jobs.html", {"page_obj": page})


@require_safe
def job(request: HttpRequest, pk: int) -> HttpResponse:
    found = _job(pk)
    context = {
        "job": found,
        "lines": found.lines.select_related("lot"),
        "named": printing.PLURAL[found.kind].capitalize(),
    }
    try:
        drawn = printing.preview(_as_job(found), request.shop, printing.logo_of(request.shop))
        context["picture"] = drawn
        context["sheet"] = label_sheets.find(found.stock).name
    except LabelError as error:
        context["refused"] = str(error)
    return render(request, "production/label_job.html", context)


@require_safe
def job_pdf(request: HttpRequest, pk: int) -> HttpResponse:
    try:
        data = printing.pdf(_as_job(_job(pk)), request.shop, printing.logo_of(request.shop))
    except LabelError as error:
        messages.error(request, str(error))
        return redirect("production:label_job", pk)
    answer = HttpResponse(data, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="labels-{pk}.pdf"'
    return answer


@require_POST
def job_again(request: HttpRequest, pk: int) -> HttpResponse:
    """Prints a job once more, from the first place of a fresh sheet: noted as a job of its own."""
    first = _job(pk)
    lines = [(line.lot, line.what, line.count) for line in first.lines.select_related("lot")]
    try:
        again = service.note(_as_job(first, start=1), lines, by=request.user, again=first)
    except LabelError as error:
        messages.error(request, str(error))
        return redirect("production:label_job", pk)
    messages.success(request, "Printed again: open the PDF.")
    return redirect("production:label_job", again.pk)


def _job(pk: int) -> PrintJob:
    found = PrintJob.objects.select_related("by", "template", "printer", "again")
    return get_object_or_404(found.filter(kind__in=printing.FOR_LOTS), pk=pk)


def _as_job(found: PrintJob, start: int | None = None) -> printing.Job:
    lines = list(
        found.lines.exclude(lot=None)
        .select_related("lot__item__product", "lot__supplier")
        .prefetch_related(
            "lot__item__product__contents__bait", "lot__item__product__contents__pattern"
        )
    )
    if not lines:
        raise LabelError("Nothing of this job can be printed any more.")
    return printing.Job(
        kind=found.kind,
        lots=[(line.lot, line.count) for line in lines],
        stock=label_sheets.find(found.stock),
        start=found.start if start is None else start,
        template=found.template,
        printer=found.printer,
    )


def _form(request: HttpRequest, data) -> forms.LabelsForm:
    asked = request.GET if data is None else data
    kind = asked.get("kind", Kind.BAG)
    if kind not in printing.FOR_LOTS:
        raise Http404("No such labels.")
    wanted = [pk for pk in asked.getlist("lot") if pk.isdecimal()][:LISTED]
    # What was typed stays in sight; the empty fields of the others don't count as asked for.
    typed = [name.removeprefix("lot_") for name in asked if name.startswith("lot_") and asked[name]]
    wanted += [pk for pk in typed if pk.isdecimal()]
    lots = list(printing.lots(kind).at_home()[:LISTED])
    listed = {lot.pk for lot in lots}
    older = [int(pk[:15]) for pk in wanted if int(pk[:15]) not in listed]
    lots += list(printing.lots(kind).filter(pk__in=older[: 2 * LISTED]))
    metric = bool(request.shop and request.shop.units == "metric")
    return forms.LabelsForm(data, kind=kind, lots=lots, asked=wanted, metric=metric)


def _kinds() -> list[tuple[str, str]]:
    return [(kind.value, printing.PLURAL[kind]) for kind in printing.FOR_LOTS]
