"""At the bench: the next batch, what really went in, and what is left in a cup."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.http import urlencode
from django.views.decorators.http import require_GET, require_http_methods

from inventory import forms_base, units
from production import planned_mix, pour_record
from production.forms import bench, mix
from production.forms.leftover import LeftoverForm
from production.models import Batch, Pour
from production.services import batches as mixing
from production.services import leftovers, next_color, plans
from production.views import evenings, telling

UNREADY = 422


@require_GET
def batch_new(request: HttpRequest, pk: int) -> HttpResponse:
    pour = get_object_or_404(Pour, pk=pk)
    if answer := evenings.turned_back(request, pour):
        return answer
    # A link can bring a color or a leftover along: they are filled in, not yet sent.
    form = bench.PlanForm(initial=request.GET.dict())
    return render(request, "production/batch_new.html", {"pour": pour, "form": form})


@require_http_methods(["GET", "POST"])
def batch_mix(request: HttpRequest, pk: int) -> HttpResponse:
    pour = get_object_or_404(Pour, pk=pk)
    if answer := evenings.turned_back(request, pour):
        return answer
    asked = bench.PlanForm(request.GET)
    if not asked.is_valid():
        context = {"pour": pour, "form": asked}
        return render(request, "production/batch_new.html", context, status=UNREADY)
    plan, target = asked.plan(), asked.target()
    leftover, cup = asked.leftover(), asked.cleaned_data["cup"]
    measured = asked.cleaned_data["measured"]
    planned = planned_mix.find(asked.cleaned_data["planned"], pour)
    others: dict[str, str] = {}
    if planned and (
        filled := planned_mix.prefill(
            planned, version=target.version, base=plan.base, leftover=leftover, measured=measured
        )
    ):
        plan, others = filled
    form = mix.MixForm(
        _sent(request),
        initial=others,
        version=target.version,
        plan=plan,
        leftover=leftover,
        cup=cup,
        measured=measured,
    )
    if request.method == "POST" and form.is_valid():
        facts = {
            "pour": pour,
            "version": target.version,
            "parts": form.parts(),
            "cup": cup,
            "look_at": form.cleaned_data["look_at"],
            "note": form.cleaned_data["note"],
            "by": request.user,
        }
        if measured is None:
            entry = forms_base.post_or_errors(form, mixing.mix, **facts)
        else:
            source = leftover.batch
            entry = forms_base.post_or_errors(
                form, next_color.go_on, source=source, measured=measured, **facts
            )
        if entry:
            if planned:
                plans.connect(planned=planned, batch=entry.batch)
            telling.posted(request, entry)
            return redirect(_to_batch(entry.batch, request.GET))
    total = mixing.total_volume(form.planned_contents())
    context = {
        "pour": pour,
        "form": form,
        "plan": plan,
        "target": target,
        "leftover": leftover,
        "measured": measured,
        "planned": planned,
        "others": others,
        "cup": cup,
        "total": total,
        "under_least": cup and total < units.to_micro(cup.least_ml),
        "other_grade": _other_grade(target.version, leftover),
    }
    return render(
        request, "production/batch_mix.html", context, status=UNREADY if form.errors else 200
    )


@require_http_methods(["GET", "POST"])
def leftover(request: HttpRequest, pk: int, batch: int) -> HttpResponse:
    found = get_object_or_404(
        Batch.objects.select_related("pour", "lot__item", "version__recipe", "cup"),
        pk=batch,
        pour=pk,
        entry__reversed_by=None,
    )
    if answer := evenings.turned_back(request, found.pour, "inventory:lot", found.lot_id):
        return answer
    found.total_left = pour_record.total_left(found)
    form = LeftoverForm(_sent(request), batch=found)
    if request.method == "POST" and form.is_valid():
        entry = forms_base.post_or_errors(
            form,
            leftovers.settle,
            batch=found,
            measured=form.cleaned_data["measured"],
            then=form.cleaned_data["then"],
            reason=form.cleaned_data["reason"],
            look_at=form.cleaned_data["look_at"],
            by=request.user,
        )
        if entry:
            messages.success(request, f"{entry.title}.")
            return redirect("production:pour", pk)
    return render(
        request,
        "production/leftover.html",
        {"pour": found.pour, "batch": found, "form": form},
        status=UNREADY if form.errors else 200,
    )


def _to_batch(batch: Batch, plan: QueryDict) -> str:
    """The batch's page, which brings the mold and the shots that were planned to the shots page."""
    asked = {n: plan[f"{n}_1"] for n in ("mold", "shots") if plan.get(f"{n}_1")}
    address = reverse("production:batch", args=[batch.pour_id, batch.pk])
    return f"{address}?{urlencode(asked)}" if asked else address


def _other_grade(version, lot) -> bool:
    return bool(version and lot and lot.item.grades != str(version.grade_id))


def _sent(request: HttpRequest):
    """What was posted; nothing on a GET."""
    return request.POST if request.method == "POST" else None
