"""One batch in its cup: what is in it, what is added, how it looks, and what is put right afterwards."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from inventory import forms_base
from inventory.models import Entry
from inventory.services.posting import LedgerError
from production import batch_record, plan_actual, same_again
from production.forms import addition, amend, keep_recipe
from production.forms.heats import HeatForm
from production.models import Batch
from production.services import batches as service
from production.services import next_color
from production.services.refusals import Refusal
from production.views import evenings, telling

UNREADY = 422


def found(pk: int, batch: int) -> Batch:
    return get_object_or_404(batch_record.find(pk), pk=batch)


def sent(request: HttpRequest):
    """What was posted; nothing on a GET."""
    return request.POST if request.method == "POST" else None


def system(request: HttpRequest) -> str:
    """The shop's units: "us" or "metric"."""
    return getattr(request.shop, "units", "us")


@require_safe
def batch(request: HttpRequest, pk: int, batch: int) -> HttpResponse:
    one = found(pk, batch)
    record = batch_record.record(one)
    context = {
        "pour": one.pour,
        "batch": one,
        "record": record,
        "start": forms_base.new_key(),
        "timer": HeatForm(system=system(request), timed=True) if record.running else None,
        "owner": request.user.is_owner,
        "ahead": None if record.closed else plan_actual.to_shoot(one),
        "again": "" if record.closed else same_again.like(one, cup=not one.lot.on_hand),
    }
    # A second device asks for the state alone, so that what is being typed there stays.
    page = "_batch_live.html" if request.htmx else "batch.html"
    return render(request, f"production/{page}", context)


@require_http_methods(["GET", "HEAD", "POST"])
def batch_add(request: HttpRequest, pk: int, batch: int) -> HttpResponse:
    one = found(pk, batch)
    if answer := evenings.turned_back(request, one.pour, "production:batch", pk, batch):
        return answer
    used = service.is_used(one)
    form = addition.AdditionForm(sent(request), batch=one, used=used)
    if request.method == "POST" and form.is_valid():
        entry = _added(request, form, one)
        if entry:
            telling.posted(request, entry)
            return redirect("production:batch", pk, _batch_of(entry, one).pk)
    context = {"pour": one.pour, "batch": one, "form": form, "record": batch_record.record(one)}
    return _shown(request, "production/batch_add.html", context, form)


def _added(request: HttpRequest, form: addition.AdditionForm, batch: Batch) -> Entry | None:
    """Into the batch; or, once it was poured from, into its mix or into the next color."""
    part, when = form.cleaned_data["part"], form.cleaned_data.get("when")
    if when == addition.FORGOTTEN:
        return forms_base.post_or_errors(
            form,
            service.amend,
            batch=batch,
            parts=[*service.parts_of(batch.entry), part],
            reason=f"Forgotten: {part.said} {part.item}",
            by=request.user,
        )
    if when == addition.NEXT:
        rest = service.Part(batch.lot.item, batch.lot.on_hand, batch.lot, said="what was left")
        return forms_base.post_or_errors(
            form,
            next_color.go_on,
            source=batch,
            measured=None,
            pour=batch.pour,
            version=None,
            parts=[rest, part],
            cup=batch.cup,
            by=request.user,
        )
    return forms_base.post_or_errors(
        form,
        service.add,
        batch=batch,
        parts=[part],
        look_at=form.cleaned_data["look_at"],
        by=request.user,
    )


def _batch_of(entry: Entry, otherwise: Batch) -> Batch:
    return Batch.objects.filter(entry=entry).first() or otherwise


@require_POST
def batch_done(request: HttpRequest, pk: int, batch: int) -> HttpResponse:
    return _said(request, found(pk, batch), service.finish)


@require_POST
def batch_verdict(request: HttpRequest, pk: int, batch: int) -> HttpResponse:
    verdict = request.POST.get("verdict", "")
    if verdict not in Batch.Verdict.values:
        messages.error(request, "Tap pale, right or dark.")
        return redirect("production:batch", pk, batch)
    return _said(request, found(pk, batch), service.judge, verdict=verdict)


@require_POST
def batch_degas(request: HttpRequest, pk: int, batch: int) -> HttpResponse:
    answer = request.POST.get("degassed")
    if answer not in ("yes", "no"):
        messages.error(request, "Tap yes or no.")
        return redirect("production:batch", pk, batch)
    return _said(request, found(pk, batch), service.degas, degassed=answer == "yes")


def _said(request: HttpRequest, batch: Batch, tell, **fact) -> HttpResponse:
    """One word about a batch; said twice it is still one."""
    try:
        tell(batch=batch, **fact)
    except LedgerError as error:
        messages.error(request, str(error))
    return redirect("production:batch", batch.pour_id, batch.pk)


@require_http_methods(["GET", "HEAD", "POST"])
def batch_amend(request: HttpRequest, pk: int, batch: int) -> HttpResponse:
    # A second press comes when the first has put a new entry in the old one's place.
    one = found(pk, batch)
    if one.pour.closed_at and not request.user.is_owner:
        raise PermissionDenied
    key = request.POST.get("key", "")
    if key and one.entry.key == key:
        return redirect("production:batch", pk, batch)
    form = amend.AmendForm(sent(request), batch=one)
    if request.method == "POST" and form.is_valid():
        entry = forms_base.post_or_errors(
            form,
            service.amend,
            batch=one,
            parts=form.cleaned_data["parts"],
            reason=form.cleaned_data["reason"],
            by=request.user,
        )
        if entry:
            telling.posted(request, entry)
            return redirect("production:batch", pk, batch)
    return _shown(
        request,
        "production/batch_amend.html",
        {"pour": one.pour, "batch": one, "form": form, "used": service.is_used(one)},
        form,
    )


@require_http_methods(["GET", "HEAD", "POST"])
def batch_recipe(request: HttpRequest, pk: int, batch: int) -> HttpResponse:
    one = found(pk, batch)
    if one.version:
        messages.info(request, f"{one} already has a recipe.")
        return redirect("production:recipe", one.version.recipe_id)
    form = keep_recipe.KeepRecipeForm(sent(request))
    if request.method == "POST" and form.is_valid():
        try:
            version = service.keep_as_recipe(batch=one, **form.facts())
        except Refusal as error:
            form.add_error(error.field if error.field in form.fields else None, str(error))
        else:
            messages.success(request, f"{version.recipe} is kept, with what really went in.")
            return redirect("production:recipe", version.recipe_id)
    context = {"pour": one.pour, "batch": one, "form": form, "record": batch_record.record(one)}
    return _shown(request, "production/batch_recipe.html", context, form)


def _shown(request: HttpRequest, page: str, context: dict, form) -> HttpResponse:
    return render(request, page, context, status=UNREADY if form.errors else 200)
