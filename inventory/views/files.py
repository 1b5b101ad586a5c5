"""Files kept with an item: adding and removing them, and serving any one file."""

import re

from csp.decorators import csp_update
from django.contrib import messages
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.cache import get_conditional_response
from django.views.decorators.cache import cache_control
from django.views.decorators.http import require_http_methods, require_safe

from inventory import forms_base, forms_files, uploaded
from inventory.models import Item, ItemFile, StoredFile
from inventory.services import files
from inventory.views import paging


@require_safe
@cache_control(private=True, no_cache=True)
@csp_update({"sandbox": True})
def file(request: HttpRequest, pk: int) -> HttpResponseBase:
    """One file as a download; an <img> of our own pages shows it all the same.

    The browser keeps it and asks each time whether it still may: a phone that is handed on, or a
    helper who is no longer one, sees nothing from the cache."""
    stored = get_object_or_404(StoredFile, pk=pk)
    etag = f'"{stored.sha256}"'
    if unchanged := get_conditional_response(request, etag=etag):
        return unchanged
    try:
        content = files.path_of(stored.stored_as).open("rb")
    except FileNotFoundError as error:
        raise Http404("The file is no longer on the disk.") from error
    answer = FileResponse(
        content,
        as_attachment=True,
        filename=_file_name(stored),
        content_type=stored.content_type,
    )
    answer["ETag"] = etag
    answer["Cross-Origin-Resource-Policy"] = "same-origin"
    return answer


def _file_name(stored: StoredFile) -> str:
    """The name a download gets: letters, figures and blanks of its name, and the true ending."""
    words = " ".join(re.sub(r"[^\w-]+", " ", stored.name).split())
    return (words or "file") + uploaded.ENDINGS.get(stored.content_type, "")


@require_http_methods(["GET", "HEAD", "POST"])
def item_file_new(request: HttpRequest, pk: int) -> HttpResponse:
    item = get_object_or_404(Item.objects.filter(kind__in=Item.BOUGHT), pk=pk)
    form = forms_files.ItemFileForm(paging.posted(request), request.FILES or None)
    if request.method == "POST" and form.is_valid():
        kept = forms_base.save_or_errors(
            form, files.add_item_file, item=item, by=request.user, **form.cleaned_data
        )
        if kept:
            messages.success(request, f"{kept.file.name} is kept with {item.name}.")
            return redirect("inventory:item", pk)
    return paging.render_form(request, "inventory/file_form.html", form, item=item)


@require_http_methods(["GET", "HEAD", "POST"])
def item_file_remove(request: HttpRequest, pk: int) -> HttpResponse:
    kept = get_object_or_404(ItemFile.objects.select_related("item", "file"), pk=pk)
    if request.method == "POST":
        files.remove_item_file(kept)
        messages.success(request, f"{kept.file.name} is removed.")
        return redirect("inventory:item", kept.item_id)
    return render(request, "inventory/file_remove.html", {"kept": kept})
