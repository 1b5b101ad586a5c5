"""The page of one posted event, and undoing it."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from inventory import forms_base, forms_stock, queries, references
from inventory.models import Entry
from inventory.services import counts, reversal
from inventory.views import paging


@require_http_methods(["GET", "HEAD"])
def entry(request: HttpRequest, pk: int) -> HttpResponse:
    entry = _entry(pk)
    lines = entry.movements.select_related("lot__item", "revalues").order_by("id")
    context = {
        "entry": entry,
        "undone_by": _undone_by(entry),
        "amended_by": getattr(entry, "amended_by", None),
        "lines": paging.page(request, lines),
    }
    return render(request, "inventory/entry.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def entry_undo(request: HttpRequest, pk: int) -> HttpResponse:
    entry = _entry(pk)
    form = forms_stock.UndoForm(paging.posted(request))
    if request.method == "POST" and form.is_valid():
        note = form.cleaned_data["note"]
        undone = forms_base.post_or_errors(
            form, counts.undo, entry=entry, note=note, by=request.user
        )
        if undone:
            messages.success(request, undone.title)
            # At the bench, straight back to the evening: the next batch won't wait.
            at_the_bench = entry.kind in (Entry.Kind.BATCH, Entry.Kind.SHOTS)
            behind = references.url(entry.reference) if at_the_bench else ""
            return redirect(behind or reverse("inventory:entry", args=[undone.pk]))
    return paging.render_form(
        request,
        "inventory/entry_undo.html",
        form,
        entry=entry,
        undone_by=_undone_by(entry),
        users=queries.users_of(entry),
        holds_lost=reversal.holds_lost(entry),
    )


def _entry(pk: int) -> Entry:
    linked = Entry.objects.select_related("by", "reverses", "reversed_by", "amends", "amended_by")
    return get_object_or_404(linked, pk=pk)


def _undone_by(entry: Entry) -> Entry | None:
    """The entry that undid this one; a missing one is no error."""
    return getattr(entry, "reversed_by", None)
