"""Keeping label sheets, printers and templates."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from inventory.views.paging import posted
from production import label_sheets, label_stock, labels, printing
from production.forms import label_setup as forms
from production.models import LabelSheet, LabelTemplate, Printer
from production.services import printing as service

EDIT = require_http_methods(["GET", "HEAD", "POST"])


@require_safe
def setup(request: HttpRequest) -> HttpResponse:
    context = {
        "sheets": LabelSheet.objects.all(),
        "printers": Printer.objects.all(),
        "templates": LabelTemplate.objects.all(),
    }
    return render(request, "production/label_setup.html", context)


@EDIT
def sheet(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    kept = get_object_or_404(LabelSheet, pk=pk) if pk else None
    form = forms.SheetForm(posted(request), sheet=kept)
    if request.method == "POST" and form.is_valid():
        form.sheet.save()
        messages.success(request, f"{form.sheet} is kept. Print its test page before labels.")
        return redirect("production:label_setup")
    context = {"form": form, "sheet": kept}
    return render(request, "production/label_sheet.html", context, status=_status(form))


@EDIT
def printer(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    kept = get_object_or_404(Printer, pk=pk) if pk else None
    form = forms.PrinterForm(posted(request), printer=kept)
    if request.method == "POST" and form.is_valid():
        form.printer.save()
        messages.success(request, f"{form.printer} is kept.")
        return redirect("production:label_printer", form.printer.pk)
    context = {"form": form, "printer": kept, "sheets": label_sheets.grouped()}
    return render(request, "production/label_printer.html", context, status=_status(form))


@require_safe
def test_page(request: HttpRequest) -> HttpResponse:
    """The outlines of a sheet's labels, moved as a printer asks."""
    try:
        stock = label_sheets.find(request.GET.get("stock", ""))
    except label_stock.LabelError as error:
        messages.error(request, str(error))
        return redirect("production:label_setup")
    number = request.GET.get("printer", "")
    found = Printer.objects.filter(pk=number).first() if number.isdecimal() else None
    look = printing.look_of(None, found, None)
    data = labels.alignment_page(stock, look.right_mm, look.down_mm)
    answer = HttpResponse(data, content_type="application/pdf")
    answer["Content-Disposition"] = 'inline; filename="test-page.pdf"'
    return answer


@EDIT
def template(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    kept = get_object_or_404(LabelTemplate, pk=pk) if pk else None
    form = forms.TemplateForm(posted(request), template=kept)
    if request.method == "POST" and form.is_valid() and request.POST.get("do") != "look":
        service.keep_template(form.template)
        messages.success(request, f"{form.template} is kept.")
        return redirect("production:label_setup")
    context = {"form": form, "template": kept, **_drawn(request, form, kept)}
    return render(request, "production/label_template.html", context, status=_status(form))


@require_http_methods(["POST"])
def template_preview(request: HttpRequest) -> HttpResponse:
    """The template as typed so far, on the newest bag."""
    form = forms.TemplateForm(request.POST)
    return render(request, "production/_label_preview.html", _drawn(request, form, None))


def _drawn(request: HttpRequest, form: forms.TemplateForm, kept: LabelTemplate | None) -> dict:
    """The picture of a template, or why there is none."""
    if form.is_bound:
        form.is_valid()
        shown = form.template
    else:
        shown = kept or LabelTemplate(
            kind=LabelTemplate.Kind.BAG, stock=label_stock.usual(request.shop)
        )
    lot = printing.lots(LabelTemplate.Kind.BAG).first()
    if lot is None:
        return {"refused": "Bag something first: then the label is drawn here as it will print."}
    try:
        job = printing.Job(shown.kind, [(lot, 1)], label_sheets.find(shown.stock), template=shown)
        drawn = printing.preview(job, request.shop, printing.logo_of(request.shop))
    except label_stock.LabelError as error:
        return {"refused": str(error)}
    return {"picture": drawn}


def _status(form) -> int:
    return 422 if form.errors else 200
