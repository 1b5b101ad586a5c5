"""Setup of the bench: cups, baits and molds."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from inventory import units
from production import mold_evidence, queries_colors
from production.forms import molds as forms
from production.forms import rows as lines
from production.models import Bait, Cup, Mold
from production.services import molds as keeping
from production.services.refusals import Refusal

PAGE = 50
US_CUP_ML = units.convert(1, "US cup", "mL")


@require_safe
def cups(request: HttpRequest) -> HttpResponse:
    page = Paginator(Cup.objects.order_by("archived", "number"), PAGE)
    return render(
        request, "production/cups.html", {"page_obj": page.get_page(request.GET.get("page"))}
    )


@require_http_methods(["GET", "HEAD", "POST"])
def cup_new(request: HttpRequest) -> HttpResponse:
    return _cup_form(request, None)


@require_http_methods(["GET", "HEAD", "POST"])
def cup_edit(request: HttpRequest, pk: int) -> HttpResponse:
    return _cup_form(request, get_object_or_404(Cup, pk=pk))


def _cup_form(request: HttpRequest, cup: Cup | None) -> HttpResponse:
    names = ("number", "tare_g", "least_ml", "most_ml", "archived")
    if cup:
        initial = {name: getattr(cup, name) for name in names}
    else:
        last = Cup.objects.order_by("number").last()
        initial = {"number": last.number + 1 if last else 1}
    form = forms.CupForm(request.POST or None, exists=cup is not None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            kept = keeping.save_cup(cup=cup, **form.cleaned_data)
        except Refusal as error:
            lines.show_refusal(error, form)
        else:
            messages.success(request, f"{kept} is kept.")
            return redirect("production:cups")
    return _shown(request, "production/cup_form.html", {"form": form, "cup": cup})


@require_http_methods(["GET", "HEAD", "POST"])
def bait_new(request: HttpRequest) -> HttpResponse:
    return _bait_form(request, None)


@require_http_methods(["GET", "HEAD", "POST"])
def bait_edit(request: HttpRequest, pk: int) -> HttpResponse:
    return _bait_form(request, get_object_or_404(Bait, pk=pk))


def _bait_form(request: HttpRequest, bait: Bait | None) -> HttpResponse:
    names = ("name", "length_mm", "flat", "archived")
    initial = {name: getattr(bait, name) for name in names} if bait else {}
    form = forms.BaitForm(request.POST or None, exists=bait is not None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            kept = keeping.save_bait(bait=bait, **form.cleaned_data)
        except Refusal as error:
            lines.show_refusal(error, form)
        else:
            messages.success(request, f"{kept} is kept.")
            return redirect("production:molds")
    return _shown(request, "production/bait_form.html", {"form": form, "bait": bait})


@require_safe
def molds(request: HttpRequest) -> HttpResponse:
    away = request.GET.get("away") == "1"
    page = Paginator(queries_colors.molds().filter(archived=away), PAGE)
    context = {
        "page_obj": page.get_page(request.GET.get("page")),
        "away": away,
        "query": "away=1&" if away else "",
        "baits": Bait.objects.filter(archived=away),
    }
    return render(request, "production/molds.html", context)


@require_safe
def mold(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(queries_colors.molds(), pk=pk)
    context = {
        "mold": found,
        "correction": mold_evidence.proposal(found),
        "shots_per_cup": US_CUP_ML // found.shot_ml,
        "baits_per_shot": sum(cavity.count for cavity in found.cavities.all()),
        "pictures": found.pictures.select_related("file"),
        "sprue_percent": found.sprue_ml * 100 / found.shot_ml,
    }
    return render(request, "production/mold.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def mold_new(request: HttpRequest) -> HttpResponse:
    return _mold_form(request, None)


@require_http_methods(["GET", "HEAD", "POST"])
def mold_edit(request: HttpRequest, pk: int) -> HttpResponse:
    return _mold_form(request, get_object_or_404(Mold, pk=pk))


def _mold_form(request: HttpRequest, mold: Mold | None) -> HttpResponse:
    names = ("name", "copies", "minutes_per_cycle", "shot_ml", "notes", "archived")
    initial = {name: getattr(mold, name) for name in names} if mold else {}
    data = request.POST if request.method == "POST" else None
    form = forms.MoldForm(
        data, exists=mold is not None, grades=forms.grades_offered(), initial=initial
    )
    rows = forms.cavity_rows(data, mold)
    if data is not None and all([form.is_valid(), rows.is_valid()]):
        kept = _keep_mold(form, rows, mold)
        if kept:
            messages.success(request, f"{kept} is kept.")
            return redirect("production:mold", pk=kept.pk)
    context = {"form": form, "rows": rows, "mold": mold, "has_baits": Bait.objects.exists()}
    return _shown(request, "production/mold_form.html", context)


def _keep_mold(form: forms.MoldForm, rows: lines.Rows, mold: Mold | None) -> Mold | None:
    specs = [row.spec(weighed=form.weighed) for row in rows.filled]
    if None in specs:
        return None
    facts = {"mold": mold, "cavities": specs, **form.facts()}
    try:
        if form.weighed:
            shot_g, density = form.cleaned_data["shot_g"], form.cleaned_data["density"]
            return keeping.save_weighed_mold(shot_g=shot_g, density=density, **facts)
        return keeping.save_mold(shot_ml=form.cleaned_data["shot_ml"], **facts)
    except Refusal as error:
        lines.show_refusal(error, form, rows)
        return None


def _shown(request: HttpRequest, template: str, context: dict) -> HttpResponse:
    return render(request, template, context, status=422 if request.method == "POST" else 200)
