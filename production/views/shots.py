"""Shots at the bench: so many fills of a mold, kept as one row or counted as they come."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from inventory import forms_base
from inventory.models import Entry
from production import pour_record
from production.forms import shots as forms
from production.models import Mold, Pattern, Pour
from production.services import shots
from production.views import telling

UNREADY = 422


@require_http_methods(["GET", "POST"])
def shots_new(request: HttpRequest, pk: int) -> HttpResponse:
    pour = get_object_or_404(Pour, pk=pk)
    posted = request.POST if request.method == "POST" else None
    evening = pour_record.batches(pour)
    chosen = forms.ShotPlanForm(request.GET or None, batches=evening)
    form = None
    if evening and chosen.is_valid():
        mold, pattern = chosen.cleaned_data["mold"], chosen.cleaned_data["pattern"]
        form = forms.ShotsForm(
            posted, mold=mold, pattern=pattern, batches=evening, injector=chosen.injector
        )
        entry = _shoot(request, pour, mold, pattern, form)
        if entry:
            telling.posted(request, entry)
            return redirect("production:pour", pk)
    context = {"pour": pour, "chosen": chosen, "form": form, "batches": evening}
    refused = chosen.errors or (form and form.errors)
    return render(request, "production/shots_new.html", context, status=UNREADY if refused else 200)


def _shoot(
    request: HttpRequest, pour: Pour, mold: Mold, pattern: Pattern, form: forms.ShotsForm
) -> Entry | None:
    if request.method != "POST" or not form.is_valid():
        return None
    return forms_base.post_or_errors(
        form,
        shots.shoot,
        pour=pour,
        mold=mold,
        pattern=pattern,
        batches=form.chosen_batches(),
        count=form.cleaned_data["count"],
        results=form.results(),
        shares=form.shares(),
        injector=form.injector,
        keep_trim=form.cleaned_data["trim"] == "keep",
        look_at=form.cleaned_data.get("look_at", ""),
        by=request.user,
    )
