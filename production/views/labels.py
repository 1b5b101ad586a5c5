"""Bag labels as a PDF."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from production import bag_record, label_facts, label_stock
from production import labels as paper
from production.forms import labels as forms

#: The newest lots of bags; an older one is reached from its own page by ?lot=.
LISTED = 50


@require_GET
def labels(request: HttpRequest) -> HttpResponse:
    form = forms.LabelsForm(
        lots=_lots(request),
        metric=_metric(request),
        initial={"lot": request.GET.getlist("lot")},
    )
    return render(request, "production/labels.html", {"form": form})


@require_GET
def labels_pdf(request: HttpRequest) -> HttpResponse:
    form = forms.LabelsForm(request.GET, lots=_lots(request), metric=_metric(request))
    if form.is_valid():
        try:
            data = _sheet(request, form)
        except paper.LabelError as error:
            field = "start" if "start at place" in str(error) else "lot"
            form.add_error(field, str(error))
        else:
            answer = HttpResponse(data, content_type="application/pdf")
            answer["Content-Disposition"] = 'inline; filename="labels.pdf"'
            return answer
    return render(request, "production/labels.html", {"form": form}, status=422)


def _sheet(request: HttpRequest, form: forms.LabelsForm) -> bytes:
    wanted = [
        label
        for lot, count in form.wanted()
        for label in [label_facts.label(lot, request.shop)] * count
    ]
    stock = label_stock.STOCKS[form.cleaned_data["stock"]]
    return paper.sheet(wanted, stock, form.cleaned_data["start"])


def _lots(request: HttpRequest) -> list:
    lots = list(bag_record.bag_lots()[:LISTED])
    listed = {str(lot.pk) for lot in lots}
    asked = [pk for pk in request.GET.getlist("lot") if pk.isdecimal() and pk not in listed]
    return lots + list(bag_record.bag_lots().filter(pk__in=[pk[:15] for pk in asked[:LISTED]]))


def _metric(request: HttpRequest) -> bool:
    return bool(request.shop and request.shop.units == "metric")
