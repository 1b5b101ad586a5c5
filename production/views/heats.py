"""Warmings of a batch: a timer that runs on the server's clock, and figures written afterwards."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from inventory import forms_base
from inventory.services.posting import LedgerError
from production import batch_record
from production.forms.heats import HeatForm
from production.models import Batch, Heat
from production.services import heats as service
from production.views.batches import UNREADY, found, sent, system


@require_http_methods(["GET", "HEAD", "POST"])
def heat_new(request: HttpRequest, pk: int, batch: int) -> HttpResponse:
    one = found(pk, batch)
    form = HeatForm(sent(request), system=system(request))
    if request.method == "POST" and form.is_valid():
        facts = form.facts()
        heat = forms_base.post_or_errors(form, service.warm, batch=one, by=request.user, **facts)
        if heat:
            _warn(request, one, heat)
            return redirect("production:batch", pk, batch)
    return _shown(request, one, form)


@require_POST
def heat_start(request: HttpRequest, pk: int, batch: int) -> HttpResponse:
    one = found(pk, batch)
    try:
        key = request.POST.get("key", "")[:50] or forms_base.new_key()
        service.warm(key=key, batch=one, by=request.user)
    except LedgerError as error:
        messages.error(request, str(error))
    return redirect("production:batch", pk, batch)


@require_http_methods(["GET", "HEAD", "POST"])
def heat_stop(request: HttpRequest, pk: int, batch: int, heat: int) -> HttpResponse:
    one, running = found(pk, batch), _heat(batch, heat)
    if running.minutes is not None:
        return redirect("production:batch", pk, batch)
    form = HeatForm(sent(request), system=system(request), timed=True)
    if request.method == "POST" and form.is_valid():
        try:
            stopped = service.stop(heat=running, **form.facts())
        except LedgerError as error:
            form.add_error(None, str(error))
        else:
            _warn(request, one, stopped)
            return redirect("production:batch", pk, batch)
    return _shown(request, one, form, running=running)


@require_http_methods(["GET", "HEAD", "POST"])
def heat(request: HttpRequest, pk: int, batch: int, heat: int) -> HttpResponse:
    """Puts a logged warming right, or takes it away."""
    one, logged = found(pk, batch), _heat(batch, heat)
    form = HeatForm(sent(request), system=system(request), heat=logged)
    if request.method == "POST" and "drop" in request.POST:
        try:
            service.drop(heat=logged)
            messages.success(request, "That warming is taken off the list.")
        except LedgerError as error:
            messages.error(request, str(error))
        return redirect("production:batch", pk, batch)
    if request.method == "POST" and form.is_valid():
        try:
            mended = service.mend(heat=logged, **form.facts())
        except LedgerError as error:
            form.add_error(None, str(error))
        else:
            _warn(request, one, mended)
            return redirect("production:batch", pk, batch)
    return _shown(request, one, form, logged=logged)


def _heat(batch: int, heat: int) -> Heat:
    return get_object_or_404(Heat.objects.select_related("batch__pour"), pk=heat, batch=batch)


def _warn(request: HttpRequest, batch: Batch, heat: Heat) -> None:
    limit = batch_record.limits(batch.lot.item.grades).heat_c
    if limit and heat.peak_c and heat.peak_c >= limit:
        messages.error(
            request,
            f"That is at or over the {limit.normalize():f} °C that its grade takes. "
            "Sharp smell or browning: stop heat if safe, leave, ventilate. Do not re-melt.",
        )


def _shown(request: HttpRequest, batch: Batch, form: HeatForm, **more) -> HttpResponse:
    context = {"pour": batch.pour, "batch": batch, "form": form, **more}
    context["limit"] = batch_record.limits(batch.lot.item.grades).heat_c
    return render(
        request, "production/batch_heat.html", context, status=UNREADY if form.errors else 200
    )
