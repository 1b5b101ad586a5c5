"""Setup of the bench itself: how it measures, its cups' empty weights, its injectors."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from production import barrels
from production.forms import gear as forms
from production.forms import rows as lines
from production.models import Bench, Cup, Injector
from production.services import gear
from production.services.refusals import Refusal

PAGE = 50
INJECTOR_FACTS = list(forms.InjectorForm.field_order)


@require_http_methods(["GET", "HEAD", "POST"])
def bench(request: HttpRequest) -> HttpResponse:
    return _bench_form(request, forms.BenchForm, "production/bench_settings.html")


@require_http_methods(["GET", "HEAD", "POST"])
def bench_planning(request: HttpRequest) -> HttpResponse:
    return _bench_form(request, forms.PlanningForm, "production/bench_planning.html")


def _bench_form(request: HttpRequest, form_class: type, template: str) -> HttpResponse:
    ours = Bench.ours()
    initial = {name: getattr(ours, name) for name in form_class.base_fields}
    if "pour_weekdays" in initial:
        initial["pour_weekdays"] = list(initial["pour_weekdays"])
    form = form_class(_sent(request), initial=initial)
    if request.method == "POST" and form.is_valid():
        gear.save_bench(**form.cleaned_data)
        messages.success(request, "Kept.")
        return redirect("production:bench")
    return _shown(request, template, {"form": form, "bench": ours})


@require_http_methods(["GET", "HEAD", "POST"])
def hot_factor(request: HttpRequest) -> HttpResponse:
    """The guide: one cup, read hot and read again cold, or weighed."""
    form = forms.HotForm(_sent(request))
    if request.method == "POST" and form.is_valid():
        gear.save_bench(hot_factor=form.factor, measured_on=timezone.localdate())
        messages.success(
            request,
            f"Measured: 100 mL read hot are {form.factor * 100:.1f} mL at room temperature.",
        )
        return redirect("production:bench")
    return _shown(request, "production/hot_factor.html", {"form": form, "bench": Bench.ours()})


@require_http_methods(["GET", "HEAD", "POST"])
def cup_tare(request: HttpRequest, pk: int) -> HttpResponse:
    cup = get_object_or_404(Cup, pk=pk)
    form = forms.TareForm(_sent(request))
    if request.method == "POST" and form.is_valid():
        gear.keep_tare(cup, form.cleaned_data["tare_g"])
        messages.success(request, f"{cup} weighs {cup.tare_g.normalize():f} g empty.")
        return redirect("production:cups")
    return _shown(request, "production/cup_tare.html", {"form": form, "cup": cup})


@require_safe
def injectors(request: HttpRequest) -> HttpResponse:
    page = Paginator(Injector.objects.order_by("archived", "name"), PAGE)
    page_obj = page.get_page(request.GET.get("page"))
    for injector in page_obj:
        bores = barrels.bores(injector)
        injector.percents = barrels.shares([50, 50], bores_mm=bores, whole=100) if bores else []
    return render(request, "production/injectors.html", {"page_obj": page_obj})


@require_http_methods(["GET", "HEAD", "POST"])
def injector_new(request: HttpRequest) -> HttpResponse:
    return _injector_form(request, None)


@require_http_methods(["GET", "HEAD", "POST"])
def injector_edit(request: HttpRequest, pk: int) -> HttpResponse:
    return _injector_form(request, get_object_or_404(Injector, pk=pk))


def _injector_form(request: HttpRequest, injector: Injector | None) -> HttpResponse:
    initial = {name: getattr(injector, name) for name in INJECTOR_FACTS} if injector else {}
    form = forms.InjectorForm(_sent(request), exists=injector is not None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            kept = gear.save_injector(injector=injector, **form.cleaned_data)
        except Refusal as error:
            lines.show_refusal(error, form)
        else:
            messages.success(request, f"{kept} is kept.")
            return redirect("production:injectors")
    return _shown(request, "production/injector_form.html", {"form": form, "injector": injector})


def _sent(request: HttpRequest):
    return request.POST if request.method == "POST" else None


def _shown(request: HttpRequest, template: str, context: dict) -> HttpResponse:
    return render(request, template, context, status=422 if request.method == "POST" else 200)
