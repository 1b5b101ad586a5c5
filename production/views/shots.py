"""Shots at the bench: so many fills of a mold, kept as one row or counted as they come."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from inventory import forms_base
from inventory.forms_stock import UndoForm
from inventory.models import Entry
from production import pour_record, same_again, shot_entries
from production.forms import shots as forms
from production.models import Batch, Mold, Pattern, Pour, Shots
from production.services import shots
from production.views import evenings, telling

UNREADY = 422


@require_http_methods(["GET", "POST"])
def shots_new(request: HttpRequest, pk: int) -> HttpResponse:
    pour = get_object_or_404(Pour, pk=pk)
    if answer := evenings.turned_back(request, pour):
        return answer
    posted = request.POST if request.method == "POST" else None
    evening = pour_record.batches(pour)
    asked, start = _asked(request.GET, evening)
    chosen = forms.ShotPlanForm(asked or None, initial=start, batches=evening)
    form = None
    if evening and chosen.is_valid():
        mold, pattern = chosen.cleaned_data["mold"], chosen.cleaned_data["pattern"]
        form = forms.ShotsForm(
            posted,
            mold=mold,
            pattern=pattern,
            batches=evening,
            injector=chosen.injector,
            initial=start,
        )
        entry = _shoot(request, pour, mold, pattern, form)
        if entry:
            telling.posted(request, entry)
            return redirect("production:pour", pk)
    context = {"pour": pour, "chosen": chosen, "form": form, "batches": evening, "asked": asked}
    refused = chosen.errors or (form and form.errors)
    return render(request, "production/shots_new.html", context, status=UNREADY if refused else 200)


def _asked(query: QueryDict, evening: list[Batch]) -> tuple[QueryDict, dict]:
    """What the address asks for, and what the forms begin with.

    A batch stands for its own solid and the mold that was shot last: one decision less at the bench."""
    query, start = query.copy(), {}
    own = next((batch for batch in evening if str(batch.pk) == query.get("batch")), None)
    if own and (solid := same_again.solid_of(own)):
        query.setdefault("pattern", str(solid.pk))
        start["batch_1"] = str(own.pk)
    if own and not query.get("mold") and (last := same_again.last_shots(own)):
        query["mold"] = str(last.mold_id)
    if query.get("count"):
        start["count"] = query["count"]
    if not (query.get("mold") and query.get("pattern")) and "batch" in query:
        # Not enough to go on: the page asks, with what is known filled in.
        start |= {name: query[name] for name in ("mold", "pattern") if query.get(name)}
        return QueryDict(mutable=True), start
    return query, start


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


def _found(pour: int, shots: int) -> Shots:
    rows = Shots.objects.select_related("pour", "entry", "mold", "pattern", "injector")
    return get_object_or_404(rows, pk=shots, pour=pour)


@require_http_methods(["GET", "HEAD", "POST"])
def shots_undo(request: HttpRequest, pk: int, shots_pk: int) -> HttpResponse:
    """The whole set in one press: the shots, and the parts that lay in their cavities."""
    one = _found(pk, shots_pk)
    if getattr(one.entry, "reversed_by", None):
        # Also where a second press ends up.
        messages.info(request, "These shots are undone.")
        return redirect("production:pour", pk)
    form = UndoForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        note = form.cleaned_data["note"]
        if forms_base.post_or_errors(form, shots.take_back, shots=one, note=note, by=request.user):
            messages.success(request, f"Undone: {one.entry.title}.")
            return redirect("production:pour", pk)
    context = {
        "pour": one.pour,
        "shots": one,
        "form": form,
        "parts": shot_entries.parts(one).exists(),
        "users": shot_entries.users(one),
    }
    status = UNREADY if form.errors else 200
    return render(request, "production/shots_undo.html", context, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
def shots_amend(request: HttpRequest, pk: int, shots_pk: int) -> HttpResponse:
    one = _found(pk, shots_pk)
    if one.pour.closed_at and not request.user.is_owner:
        raise PermissionDenied
    if amended := getattr(one.entry, "amended_by", None):
        # A second press comes when the first has put new shots in their place.
        return redirect("inventory:entry", amended.pk)
    if getattr(one.entry, "reversed_by", None):
        raise Http404("These shots were undone.")
    posted = request.POST if request.method == "POST" else None
    form = forms.AmendShotsForm(posted, shots=one, batches=pour_record.batches(one.pour))
    if request.method == "POST" and form.is_valid():
        entry = forms_base.post_or_errors(
            form,
            shots.amend,
            shots=one,
            batches=form.chosen_batches(),
            count=form.cleaned_data["count"],
            results=form.results(),
            shares=form.shares(),
            keep_trim=form.cleaned_data["trim"] == "keep",
            look_at=form.cleaned_data.get("look_at", ""),
            note=form.cleaned_data["reason"],
            by=request.user,
        )
        if entry:
            telling.posted(request, entry)
            return redirect("production:pour", pk)
    status = UNREADY if form.errors else 200
    context = {"pour": one.pour, "shots": one, "form": form}
    return render(request, "production/shots_amend.html", context, status=status)
